"""Torque of an engine over a few speeds as a function of its unknowns, with slopes by finite differences.

All points asked for at once are marched in one parallel run, and none is marched twice; what friction changes needs
no march at all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from pullcast.answers.performance import performance
from pullcast.answers.unknowns import FREE, Prior, put_all
from pullcast.card.engine import Engine
from pullcast.errors import NotConverged, SolveError
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point
from pullcast.solve.store import Store

STEP = 0.5  # of a finite difference, in standard deviations of the prior: far above the noise of the march
TOLERANCE = 4e-4  # wanted of the march from cycle to cycle, so that slopes are smooth
ACCEPTED = Numerics().tolerance  # what a point that cannot do better must keep, as every curve does


def fine(cell: float = 0.025, fidelity: str = "wave") -> Numerics:
    """Numerics of a calibration: ordinary cells, and for waves cycles that repeat more closely than for a curve."""
    return Numerics(cell=cell, tolerance=TOLERANCE if fidelity == "wave" else ACCEPTED, max_cycles=40)


class Unsettled(NotConverged):
    """A speed of the model did not repeat; ``rpm`` says which, so that it can be left out."""

    def __init__(self, message: str, rpm: float) -> None:
        super().__init__(message)
        self.rpm = rpm


class TorqueModel:
    """Torque (N m, observed in the engine's own weather) at ``speeds`` (rpm) over the unknowns of ``priors``."""

    def __init__(self, engine: Engine, priors: Sequence[Prior], speeds: Sequence[float], *, fidelity: str = "wave",
                 numerics: Numerics | None = None, store: Store | None = None, workers: int | None = None,
                 executor=None, on_tick: Callable | None = None) -> None:
        """The engine at its card's values; see ``pullcast.solve.jobs.run`` for the rest."""
        self.engine, self.priors, self.speeds = engine, tuple(priors), tuple(float(s) for s in speeds)
        self.fidelity, self.numerics = fidelity, numerics or fine(fidelity=fidelity)
        self._run = {"store": store, "workers": workers, "executor": executor, "on_tick": on_tick}
        self._points: dict[tuple, tuple[Engine, list[Point]]] = {}

    @property
    def marched(self) -> int:
        """Points marched (or taken from the store) so far."""
        return len(self._points) * len(self.speeds)

    def torque(self, rows: Sequence[Sequence[float]]) -> np.ndarray:
        """Torque (n, m) of ``n`` sets of values (n, p), internal units, at the ``m`` speeds.

        Raises SolveError when a point broke down, `Unsettled` when one did not repeat.
        """
        named = [dict(zip((p.key for p in self.priors), map(float, row), strict=True)) for row in rows]
        marching = [tuple(v for k, v in values.items() if k not in FREE) for values in named]
        self._march(named, marching)
        out = np.empty((len(named), len(self.speeds)))
        for i, (values, known) in enumerate(zip(named, marching, strict=True)):
            engine, points = self._points[known]
            for point in points:
                _check(point)
            free = put_all(engine, {k: v for k, v in values.items() if k in FREE})
            out[i] = [performance(free, p)["torque"] for p in points]
        return out

    def _march(self, named: list[dict[str, float]], marching: list[tuple]) -> None:
        todo: dict[tuple, Engine] = {}
        for values, known in zip(named, marching, strict=True):
            if known not in self._points and known not in todo:
                todo[known] = put_all(self.engine, {k: v for k, v in values.items() if k not in FREE})
        if not todo:
            return
        jobs = [Job(_neutral(engine), rpm, self.fidelity, self.numerics) for engine in todo.values()
                for rpm in self.speeds]
        results = run(jobs, **self._run).results
        for k, (known, engine) in enumerate(todo.items()):
            self._points[known] = engine, list(results[k * len(self.speeds):(k + 1) * len(self.speeds)])

    def without(self, rpm: float) -> TorqueModel:
        """The same model less one speed; what was marched is kept."""
        k = self.speeds.index(rpm)
        rest = TorqueModel(self.engine, self.priors, self.speeds[:k] + self.speeds[k + 1:], fidelity=self.fidelity,
                           numerics=self.numerics, **self._run)
        rest._points = {known: (e, p[:k] + p[k + 1:]) for known, (e, p) in self._points.items()}
        return rest

    def slopes(self, values: Sequence[float]) -> tuple[np.ndarray, np.ndarray]:
        """Torque (m,) at ``values`` (p,) and its slopes (m, p) per standard deviation of each prior.

        One-sided differences of half a standard deviation, taken towards the middle of the bounds.
        """
        x = np.asarray(values, float)
        steps = np.array([STEP * p.sd * (1.0 if v <= 0.5 * (p.low + p.high) else -1.0)
                          for p, v in zip(self.priors, x, strict=True)])
        rows = [x, *(x + step * np.eye(x.size)[k] for k, step in enumerate(steps))]
        torque = self.torque(rows)
        sd = np.array([p.sd for p in self.priors])
        return torque[0], (torque[1:] - torque[0]).T / steps * sd


def _neutral(engine: Engine) -> Engine:
    """The engine as the march sees it: the friction, which it does not see, at one value for all."""
    return replace(engine, friction=replace(engine.friction, factor=1.0))


def _check(point) -> None:
    if not isinstance(point, Point):
        msg = f"a point of the calibration broke down: {point.message}"
        raise SolveError(msg, rpm=point.rpm, angle_deg=0.0, component="the network")
    if not point.converged and not point.history[-1][3] < ACCEPTED:
        msg = f"{point.rpm:g} rpm: {point.status}. Choose other speeds."
        raise Unsettled(msg, point.rpm)
