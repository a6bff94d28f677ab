"""Forward and backward pressure waves from pressure and velocity at a place in a pipe.

In a pipe of even temperature and section a wave that runs forward changes pressure and velocity by
``du = 2 a0/(gamma-1) dX``, one that runs backward by the same with the other sign, with the pressure amplitude ratio
``X = (p/p0)^((gamma-1)/(2 gamma))``; amplitudes superpose as ``X - 1 = (X+ - 1) + (X- - 1)``. Hence

``X+ = (1 + X + (gamma-1)/2 (u-u0)/a0) / 2``, ``X- = (1 + X - (gamma-1)/2 (u-u0)/a0) / 2``

exact for waves of any size in gas of one entropy (Earnshaw 1860, Riemann 1860; in this form Bannister & Mucklow,
Proc. I. Mech. E. 159 (1948) 269; from memory). ``p0``, ``u0`` and ``a0`` are those of the mean flow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pullcast.errors import InputError

R_GAS = 288.0  # J/(kg K), within 1 % for fresh charge and burned gas


@dataclass(frozen=True)
class Waves:
    """``forward`` and ``backward`` pressures (Pa, absolute) of the two waves, any shape; ``p0`` Pa, ``u0`` and ``a0``
    m/s of the mean flow they ride on."""

    forward: np.ndarray
    backward: np.ndarray
    p0: float
    u0: float
    a0: float

    def together(self, gamma: float) -> np.ndarray:
        """The pressure (Pa) that both waves make where they meet."""
        g = (gamma - 1.0) / (2.0 * gamma)
        X = (self.forward / self.p0) ** g + (self.backward / self.p0) ** g - 1.0
        return self.p0 * X ** (1.0 / g)


def split_waves(p, u, a0: float, gamma: float = 1.4, p0: float | None = None, u0: float | None = None) -> Waves:
    """Waves at a place from pressure ``p`` (Pa, absolute) and velocity ``u`` (m/s), arrays of one shape.

    ``a0`` (m/s) is the mean sound speed; ``p0`` and ``u0`` default to the means of ``p`` and ``u``. Raises InputError
    for pressures or a sound speed not above zero, or arrays of different shape.

    >>> w = split_waves([101e3, 99e3], [2.5, -2.5], 340.0, p0=100e3, u0=0.0)
    >>> [round(float(x)) for x in w.forward - 100e3]
    [1017, -1012]
    """
    p, u = np.asarray(p, dtype=float), np.asarray(u, dtype=float)
    if p.shape != u.shape:
        msg = f"pressure of shape {p.shape} and velocity of shape {u.shape}: give both at the same angles"
        raise InputError(msg)
    if not (p > 0.0).all() or not a0 > 0.0:
        msg = f"pressures down to {p.min():g} Pa and sound speed {a0:g} m/s: absolute values above zero are needed"
        raise InputError(msg)
    p0 = float(p.mean()) if p0 is None else p0
    u0 = float(u.mean()) if u0 is None else u0
    g = (gamma - 1.0) / (2.0 * gamma)
    X, step = (p / p0) ** g, 0.5 * (gamma - 1.0) * (u - u0) / a0
    forward, backward = (np.maximum(0.5 * (1.0 + X + sign * step), 1e-6) for sign in (1.0, -1.0))
    return Waves(p0 * forward ** (1.0 / g), p0 * backward ** (1.0 / g), p0, u0, float(a0))


def split_at_station(pressure, velocity, temperature, gamma: float) -> Waves:
    """Waves at a station of a predicted curve: arrays (n,) over the cycle in Pa, m/s, K; the sound speed is that of
    the mean temperature. ``gamma`` about 1.38 in an intake, 1.32 in an exhaust."""
    a0 = float(np.sqrt(gamma * R_GAS * np.mean(temperature)))
    return split_waves(pressure, velocity, a0, gamma)
