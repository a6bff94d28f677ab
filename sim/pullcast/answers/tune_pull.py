"""The sweep as a brake shows it, and the motored engine.

An accelerating pull is taken cycle by cycle as a row of steady points (quasi-steady): gas exchange settles within a
few cycles, while walls and exhaust keep the temperatures of the steady points, which a real fast pull does not. What
turns with the crank takes inertia x acceleration from the torque that reaches the brake.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers.performance import performance
from pullcast.card.engine import Engine, Tract
from pullcast.errors import InputError
from pullcast.solve.numerics import Numerics
from pullcast.solve.sweep import Failed, sweep

IDLE_OPENING = 0.012  # of the throttle's open area that a closed plate leaves (common practice, no source)
LONG = 80  # cycles a closed throttle may take to pump its plenum down


@dataclass(frozen=True)
class Pull:
    """An accelerating pull, one row a cycle: ``time`` s, ``speed`` rpm, ``torque`` N m of the engine as if steady,
    ``shown`` what reaches the brake."""

    rate: float
    inertia: float
    time: np.ndarray
    speed: np.ndarray
    torque: np.ndarray
    shown: np.ndarray

    @property
    def hidden(self) -> float:
        """Torque that the acceleration takes, N m."""
        return hidden_torque(self.inertia, self.rate)


def hidden_torque(inertia: float, rate: float) -> float:
    """Torque (N m) that ``inertia`` (kg m2) takes at ``rate`` (rpm/s).

    >>> round(hidden_torque(0.35, 600.0), 2)
    21.99
    """
    return inertia * rate * math.pi / 30


def accelerating(speeds: Sequence[float], torque: Sequence[float], rate: float, inertia: float) -> Pull:
    """A pull at ``rate`` (rpm/s) through steady points (rpm, N m), interpolated without overshoot.

    Raises InputError for fewer than two rising speeds, a rate that is not above zero or an inertia below zero.
    """
    from scipy.interpolate import PchipInterpolator

    rpm, values = np.asarray(speeds, dtype=float), np.asarray(torque, dtype=float)
    if rpm.size < 2 or (np.diff(rpm) <= 0).any() or rpm.shape != values.shape or not np.isfinite(values).all():
        msg = "an accelerating pull needs two or more rising speeds, each with a torque"
        raise InputError(msg)
    if not rate > 0.0 or not inertia >= 0.0:
        msg = f"a pull at {rate:g} rpm/s with {inertia:g} kg m2: the rate must be above zero, the inertia not below"
        raise InputError(msg)
    now, at, t, times = float(rpm[0]), [], 0.0, []
    while now <= rpm[-1]:
        at.append(now)
        times.append(t)
        cycle = 120.0 / now  # s; speed rises during it
        t += cycle
        now += rate * cycle
    steady = PchipInterpolator(rpm, values)(at)
    return Pull(float(rate), float(inertia), np.array(times), np.array(at), steady,
                steady - hidden_torque(inertia, rate))


def throttled(engine: Engine, opening: float = IDLE_OPENING) -> Engine:
    """The engine with every throttle plate at ``opening`` of its open area. Raises InputError when it has none."""
    if not 0.0 < opening <= 1.0:
        msg = f"throttle opening {opening:g} is outside 0 to 1"
        raise InputError(msg)
    found = False

    def close(end):
        nonlocal found
        if end.area is None:
            return end
        found = True
        return replace(end, area=end.area * opening)

    pipes = tuple(replace(p, start=close(p.start), end=close(p.end)) for p in engine.intake.pipes)
    if not found:
        msg = f"the intake '{engine.intake.name}' has no throttle plate to close"
        raise InputError(msg)
    return replace(engine, intake=Tract(engine.intake.name, pipes, engine.intake.volumes, engine.intake.junctions,
                                        engine.intake.facts))


def motoring(engine: Engine, speeds: Sequence[float], *, opening: float = IDLE_OPENING, fidelity: str = "wave",
             numerics: Numerics | None = None, workers: int | None = None,
             on_point=None) -> list[dict[str, float]]:
    """Torque (N m, below zero) to turn the engine without burning, throttle closed: rows with speed, torque, PMEP,
    FMEP and plenum pressure (Pa).

    The mixture is pumped unburned: its vapour changes the pumping by a per cent or so. Speeds that break down are
    left out. ``on_point`` is called as ``on_point(rpm, done, total, note)``.
    """
    still = throttled(engine, opening) if opening < 1.0 else engine
    still = replace(still, burn=replace(still.burn, law="wiebe", efficiency=0.0))
    numerics = numerics or replace(Numerics(), max_cycles=LONG)
    rows = []
    for point in sweep(still, list(speeds), numerics, workers=workers, on_point=on_point, fidelity=fidelity):
        if isinstance(point, Failed):
            continue
        f = performance(still, point)
        rows.append({name: float(f[name]) for name in ("torque", "imep", "pmep", "fmep", "plenum_pressure")}
                    | {"rpm": point.rpm, "converged": bool(point.converged)})
    return rows
