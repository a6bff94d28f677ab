"""Volumes that hold the air of many cycles settle slowly: their temperature is carried on by extrapolation."""

from __future__ import annotations

import numpy as np

from pullcast.kernels.gas import GasTable, mix_h, mix_R

MANY = 2.0  # cycles of throughput held by a volume from which on it counts as slow
EVERY = 4  # cycles between two extrapolations
FARTHEST = 0.997  # largest ratio of two successive changes that is trusted
LEAP = 0.08  # largest relative change of temperature in one extrapolation


class SlowVolumes:
    """Watches the temperature of volumes from cycle to cycle; ``hurry`` moves the slow ones towards their limit.

    Successive changes of a well-stirred volume fall by a constant ratio r, so what is left is change x r/(1 - r)
    (Aitken 1926). Temperature is moved at constant pressure; nothing within a cycle is touched, so its books stay
    exact. ``matter`` is True when any volume is slow.

    ``nodes`` has arrays m, mf, mb (kg), U (J sensible), T (K) of all volumes, the surroundings first; ``throughput``
    is what the engine takes in per cycle, kg.
    """

    def __init__(self, nodes, gas: GasTable, throughput: float) -> None:
        self.nodes, self.gas = nodes, gas
        self.slow = [k for k in range(1, len(nodes.m)) if nodes.m[k] > MANY * throughput]
        self.matter = bool(self.slow)
        self.seen: list[np.ndarray] = []

    def hurry(self) -> bool:
        """Note the temperatures after a cycle; every few cycles extrapolate. True if a state was changed."""
        if not self.slow:
            return False
        self.seen.append(self.nodes.T[self.slow].copy())
        if len(self.seen) < EVERY:
            return False
        (a, b), self.seen = np.diff(self.seen[-3:], axis=0), []
        for k, before, last in zip(self.slow, a, b, strict=True):
            ratio = last / before if abs(before) > 1e-9 else 0.0
            if 0.2 < ratio < FARTHEST:
                most = LEAP * self.nodes.T[k]
                self._move(k, min(max(last * ratio / (1.0 - ratio), -most), most))
        return True

    def _move(self, k: int, change: float) -> None:
        """Change the temperature of volume ``k`` at its pressure."""
        n, gas = self.nodes, self.gas
        yf, yb = n.mf[k] / n.m[k], n.mb[k] / n.m[k]
        T = n.T[k] + change
        R = mix_R(gas, yf, yb)
        n.m[k] *= n.T[k] / T
        n.T[k], n.mf[k], n.mb[k] = T, yf * n.m[k], yb * n.m[k]
        n.U[k] = n.m[k] * (mix_h(gas, T, yf, yb) - R * T)
