"""How far a forecast is from the model's own solution: an error bar from finer marches of the same engine."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers.curves import checked_speeds, predict
from pullcast.card.engine import Engine
from pullcast.errors import InputError
from pullcast.solve.numerics import Numerics

ORDER = 1.0  # wall terms and pipe ends are first order on fine grids; a second-order error comes out 1.5 times large
KINDS = ("grid", "time", "cycles")


@dataclass(frozen=True, repr=False)
class ErrorBar:
    """Estimated numerical error of brake torque (N m; error = forecast less the model's limit), arrays (n_speed,).

    ``grid``: cell length; ``time``: Courant number and crank step; ``cycles``: the tolerance of convergence from
    cycle to cycle. nan where a march did not converge; ``notes`` says why. What the *model* leaves out is not here.
    """

    engine: str
    speed: np.ndarray
    torque: np.ndarray
    grid: np.ndarray
    time: np.ndarray
    cycles: np.ndarray
    notes: tuple[str, ...] = ()

    @property
    def total(self) -> np.ndarray:
        """Half width of the bar, N m: the sum of the three sizes (they may add up)."""
        return np.abs(self.grid) + np.abs(self.time) + np.abs(self.cycles)

    @property
    def relative(self) -> np.ndarray:
        """``total`` over the torque; nan where the torque is not above zero."""
        return np.where(self.torque > 0.0, self.total / np.where(self.torque > 0.0, self.torque, 1.0), np.nan)

    @property
    def worst(self) -> tuple[float, float]:
        """Speed (rpm) of the widest relative bar, and the bar; nan if there is none."""
        if not np.isfinite(self.relative).any():
            return math.nan, math.nan
        k = int(np.nanargmax(self.relative))
        return float(self.speed[k]), float(self.relative[k])

    def __repr__(self) -> str:
        """A sentence and a row a speed, in percent of the torque."""
        rpm, most = self.worst
        head = (f"{self.engine}: numerical error of torque within {100 * most:.2f} % (at {rpm:.0f} rpm), from half "
                "cells, half steps and a tenth of the tolerance.")
        rows = ["{speed_rpm:7.0f} rpm  within {torque_error_pct:5.2f} %   cells {cells_pct:+.2f}   steps "
                "{steps_pct:+.2f}   cycles {cycles_pct:+.2f} %".format(**row) for row in self.records()]
        return "\n".join([head, *rows, *self.notes])

    def records(self) -> list[dict[str, float]]:
        """One dict a speed, in percent of the torque: the half width, and each error with its sign."""
        def share(values: np.ndarray) -> np.ndarray:
            return 100.0 * values / self.torque

        columns = {"speed_rpm": self.speed, "torque_error_pct": 100.0 * self.relative, "cells_pct": share(self.grid),
                   "steps_pct": share(self.time), "cycles_pct": share(self.cycles)}
        return [dict(zip(columns, map(float, row), strict=True)) for row in zip(*columns.values(), strict=True)]


def richardson(coarse, fine, order: float = ORDER):
    """Error of ``coarse`` from a second answer at half the spacing: (coarse - fine) 2^p / (2^p - 1), any shape.

    Richardson 1911; Roache, *Verification and Validation in Computational Science and Engineering* (1998), ch. 5
    (from memory).

    >>> richardson(1.04, 1.02), richardson(1.04, 1.01, 2.0)
    (0.040000000000000036, 0.04000000000000004)
    """
    ratio = 2.0**order
    return (coarse - fine) * (ratio / (ratio - 1.0))


def finer(numerics: Numerics) -> dict[str, Numerics]:
    """The march with each of its limits taken closer, by the name of the error it shows.

    InputError where the cells cannot be halved.
    """
    if numerics.cell < 2 * 0.002:
        msg = f"cells of {1e3 * numerics.cell:g} mm cannot be halved; the error bar needs 4 mm or more"
        raise InputError(msg)
    return {"grid": replace(numerics, cell=numerics.cell / 2),
            "time": replace(numerics, cfl=numerics.cfl / 2, max_step_deg=numerics.max_step_deg / 2),
            "cycles": replace(numerics, tolerance=numerics.tolerance / 10, max_cycles=4 * numerics.max_cycles)}


def error_bar(engine: Engine, speeds: Sequence[float] | None = None, *, numerics: Numerics | None = None,
              workers: int | None = None,
              on_point: Callable[[float, int, int, str], None] | None = None) -> ErrorBar:
    """Error bar of the torque of an engine at ``speeds`` (rpm; default: the card's) as marched by ``numerics``.

    Four marches a speed, together about nine times the work of the forecast. Grid and time errors are Richardson
    estimates of first order, the cycle error is the plain difference. ``workers`` and ``on_point`` as in ``predict``
    (``total`` counts the points of all four marches). Raises InputError for speeds or cells out of range, SolveError
    when no speed could be computed.
    """
    numerics = numerics or Numerics()
    wanted = checked_speeds(engine, speeds)
    settings = {"base": numerics, **finer(numerics)}
    torque, notes = {}, []
    for i, (kind, setting) in enumerate(settings.items()):
        told = None if on_point is None else _counted(on_point, i, len(settings))
        torque[kind], said = _torque(engine, wanted, setting, workers, told)
        notes += [f"{rpm:.0f} rpm, march for {kind}: {text}" for rpm, text in said]
    base = torque["base"]
    return ErrorBar(engine.name, np.array(wanted), base, richardson(base, torque["grid"]),
                    richardson(base, torque["time"]), base - torque["cycles"], tuple(notes))


def _torque(engine: Engine, speeds: list[float], numerics: Numerics, workers: int | None,
            on_point) -> tuple[np.ndarray, tuple[tuple[float, str], ...]]:
    """Torque at each speed (nan where not converged), and why."""
    curve = predict(engine, speeds=speeds, numerics=numerics, workers=workers, on_point=on_point)
    d = curve.dataset
    return np.where(d["converged"].values, d["torque"].values, np.nan), curve.failures


def _counted(on_point, done: int, marches: int):
    """Progress of one march as a share of all."""
    def told(rpm: float, i: int, total: int, note: str) -> None:
        on_point(rpm, done * total + i, marches * total, note)
    return told
