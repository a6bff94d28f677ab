"""Many engines over one band: jobs made, run, and turned into torque, goal and limits."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from pullcast.answers.performance import performance
from pullcast.card.constraints import Constraint, card_value
from pullcast.card.engine import Engine
from pullcast.card.shortlist import Shortlist
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.sweep import Failed

# of the lumped march: gains on the shipped V8's shelf change by .006 % at most against 1e-3, a sixth less time
LUMPED_TOLERANCE = 3.0e-3
NEARLY = 0.01  # a point whose last cycle changed by less still counts, with a note


@dataclass(frozen=True)
class Means:
    """What points are computed with: a store (or None), processes, an executor, numerics, and who is told."""

    store: object | None = None
    workers: int | None = None
    executor: object | None = None
    numerics: Numerics = field(default_factory=Numerics)
    on_stage: Callable[[str, object], None] | None = None


@dataclass(frozen=True)
class Row:
    """One engine over the speeds (rpm): ``torque`` (n,) N m and ``limits`` (name -> highest or lowest in the band);
    ``trouble`` says why there is no curve, ``notes`` what to mind."""

    torque: np.ndarray
    limits: dict[str, float | None]
    trouble: str = ""
    notes: tuple[str, ...] = ()


def compute(engines: Sequence[Engine], speeds: Sequence[float], fidelity: str, means: Means, stage: str,
            shortlist: Shortlist | None = None) -> tuple[list[Row], tuple[str, ...]]:
    """A row for each engine at ``speeds``, all computed in one run; and the warnings of that run.

    The limits of ``shortlist``, if given, are evaluated. ``means.on_stage`` is called with ``stage`` and a ``Tick``
    as points finish.
    """
    numerics = means.numerics
    if fidelity == "lumped":
        numerics = replace(numerics, tolerance=max(numerics.tolerance, LUMPED_TOLERANCE))
    jobs = [Job(e, rpm, fidelity, numerics) for e in engines for rpm in speeds]
    tell = (lambda tick: means.on_stage(stage, tick)) if means.on_stage else None
    done = run(jobs, store=means.store, workers=means.workers, executor=means.executor, on_tick=tell)
    n = len(speeds)
    rows = [_row(e, done.results[i * n:(i + 1) * n], shortlist) for i, e in enumerate(engines)]
    return rows, done.warnings


def _row(engine: Engine, points: Sequence, shortlist: Shortlist | None) -> Row:
    torque, seen, notes = [], [], []
    for p in points:
        if isinstance(p, Failed):
            return Row(np.full(len(points), math.nan), {}, p.message)
        if not p.converged:
            if not p.history or not p.history[-1][3] < NEARLY:
                return Row(np.full(len(points), math.nan), {}, f"{p.rpm:g} rpm: {p.status}")
            notes.append(f"{p.rpm:g} rpm: {p.status}")
        row = performance(engine, p)
        torque.append(row["torque"])
        seen.append(row)
    limits = {} if shortlist is None else {
        c.name: limit_value(c, engine, seen, shortlist.band.high) for c in shortlist.constraints}
    return Row(np.array(torque, dtype=float), limits, "", tuple(notes))


def limit_value(constraint: Constraint, engine: Engine, rows: Sequence[dict], rpm: float) -> float | None:
    """What a constraint comes to for an engine (SI; deg): from its card, its lift curves, or its computed ``rows``.

    ``rpm`` is the highest speed of the band. None when it is not known.
    """
    kind = constraint.kind
    if kind.known_from == "card":
        return card_value(constraint.name, engine, rpm)
    if kind.known_from == "lift":
        return valve_acceleration(engine, rpm)
    values = np.array([np.max(row[kind.variable]) for row in rows], dtype=float)
    if not np.isfinite(values).all():
        return None
    return float(1.0 - values.max()) if kind.at_least else float(values.max())


def valve_acceleration(engine: Engine, rpm: float) -> float:
    """Highest valve acceleration off the seat of both lobes at ``rpm`` (crank), m/s2."""
    from pullcast.network.lift import valve_lift

    sides = ((engine.cam.intake, "intake"), (engine.cam.exhaust, "exhaust"))
    per_degree = max(valve_lift(lobe, side).max_acceleration for lobe, side in sides)  # mm/deg2
    return 1e-3 * per_degree * (6.0 * rpm) ** 2


def scores(shortlist: Shortlist, speeds: Sequence[float], rows: Sequence[Row]) -> np.ndarray:
    """The goal of each row (N m or W), nan for one without a curve."""
    return np.array([math.nan if row.trouble else shortlist.score(speeds, row.torque) for row in rows])


def thinned(speeds: Sequence[float], most: int = 5) -> list[float]:
    """At most ``most`` of the speeds, evenly picked, both ends kept: what the spread is sampled at."""
    pick = np.unique(np.linspace(0, len(speeds) - 1, min(most, len(speeds))).round().astype(int))
    return [float(speeds[i]) for i in pick]
