"""The volumetric efficiency of an engine as a ledger: what gives and takes air, one effect switched on after another.

The order, from the ideal to the engine as it is (the manner of Heywood 1988, fig. 6-9, from memory; the order of
switching is ours). A different order shifts small amounts between neighbours:

1. *swept volume* filled with outside air: 100 %
2. *late closing, residual gas, fuel vapour*: turned very slowly, walls adiabatic, pressures equal
   (``quasi_static`` gives this number from first principles as well)
3. *valves*: real lift at real speed: restriction, choking, the overlap; late closing now costs less
4. *fuel evaporation* cools the charge
5. *flow losses* of throttle, plenum, entry, runner and port, without inertia
6. *charge heating* by the walls of the tract and the cylinder
7. *ram and waves of the intake*
8. *exhaust*: back pressure, its waves, the residual gas they leave or draw out

The ledger is computed by the wave model and sums to its volumetric efficiency by construction.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers import still
from pullcast.answers.curves import checked_speeds
from pullcast.answers.performance import performance
from pullcast.answers.quasi_static import QuasiStatic, quasi_static
from pullcast.card.engine import Engine
from pullcast.errors import SolveError
from pullcast.gasdata.tables import gas_table
from pullcast.kernels import layout as L
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point
from pullcast.solve.sweep import Failed

ENTRIES = (
    ("late closing, residual gas, fuel vapour", "turned very slowly: what valve events and displaced air leave"),
    ("valves", "restriction and choking at the valves, the overlap; less is pushed back late than at no speed"),
    ("fuel evaporation", "the charge cooled by fuel"),
    ("flow losses", "throttle, plenum, entry, runner and port"),
    ("charge heating", "walls of the tract and the cylinder"),
    ("ram and waves of the intake", "inertia and tuning"),
    ("exhaust", "back pressure and waves of the exhaust, residual gas"),
)
STILL_CFL = 0.4  # without pipes the small cylinder at top dead centre reacts fast
CHOKED = 0.53  # pressure ratio below which a valve is choked (gamma 1.38)


@dataclass(frozen=True)
class Ledger:
    """Ledger of one engine: ``entries`` (7, m) in shares of the swept volume's air (VE 1 = 1) at ``speed`` (m,) rpm;
    ``ve`` (m,) of the engine; ``first_principles`` the quasi-static value reckoned without the wave model;
    ``backflow`` (m,) gas pushed back through the intake valve over gas trapped; ``choked`` (m,) share of the intake's
    open time at which its valve chokes; ``notes`` what did not converge."""

    engine: str
    speed: np.ndarray
    entries: np.ndarray
    ve: np.ndarray
    first_principles: np.ndarray
    backflow: np.ndarray
    choked: np.ndarray
    notes: tuple[str, ...] = ()

    @property
    def quasi_static(self) -> np.ndarray:
        """Volumetric efficiency with every effect of speed off, (m,)."""
        return 1.0 + self.entries[0]

    @property
    def remainder(self) -> np.ndarray:
        """Volumetric efficiency less the sum of the ledger, (m,)."""
        return self.ve - 1.0 - self.entries.sum(axis=0)

    def __repr__(self) -> str:
        """A row an effect, a column a speed, points of volumetric efficiency."""
        head = f"{'points of VE':42s}" + "".join(f"{s:9.0f}" for s in self.speed)
        rows = [f"{'swept volume':42s}" + "".join(f"{100.0:9.1f}" for _ in self.speed)]
        rows += [f"{name:42s}" + "".join(f"{100 * x:+9.1f}" for x in row)
                 for (name, _), row in zip(ENTRIES, self.entries, strict=True)]
        rows.append(f"{'volumetric efficiency, %':42s}" + "".join(f"{100 * x:9.1f}" for x in self.ve))
        return "\n".join([self.engine, head, *rows, *self.notes])


def ve_ledger(engine: Engine, speeds: Sequence[float] | None = None, *, numerics: Numerics | None = None, store=None,
              workers: int | None = None, on_tick: Callable | None = None) -> Ledger:
    """The ledger of an engine at ``speeds`` (rpm; default: the card's), by the wave model.

    ``numerics`` holds for the engine itself; ``store`` and ``workers`` as in ``pullcast.solve.jobs.run``.
    Raises InputError for speeds out of range, SolveError when a level could not be computed.
    """
    rpm = checked_speeds(engine, speeds)
    numerics = numerics or Numerics()
    how = {"store": store, "workers": workers, "on_tick": on_tick}
    whole = _points([(engine, r, numerics) for r in rpm], **how)
    levels = [_levels(engine, r, p, numerics) for r, p in zip(rpm, whole, strict=True)]
    done = _points([job for column in levels for job in column], **how)
    per = len(levels[0])
    columns = [done[i * per:(i + 1) * per] for i in range(len(rpm))]
    ve = np.array([_ve(engine, p) for p in whole])
    chain = np.array([[_ve(e, p) for (e, _, _), p in zip(column, points, strict=True)]
                      for column, points in zip(levels, columns, strict=True)]).T
    entries = np.diff(np.vstack([np.ones(len(rpm)), chain, ve]), axis=0)
    slow = [_first_principles(column[0][0], points[0]).ve for column, points in zip(levels, columns, strict=True)]
    out = [p.out for p in whole]
    names = [f"'{name}'" for name, _ in ENTRIES]
    notes = tuple(f"{engine.name} at {r:g} rpm, up to {name}: {p.status}" for r, column, last in
                  zip(rpm, columns, whole, strict=True) for name, p in zip(names, (*column, last), strict=True)
                  if p.status)
    return Ledger(engine.name, np.array(rpm), entries, ve, np.array(slow),
                  np.array([float(np.mean(o[:, L.C_BACKFLOW] / o[:, L.C_TRAPPED])) for o in out]),
                  np.array([_choked(engine, p) for p in whole]), notes)


def _ve(engine: Engine, point: Point) -> float:
    return performance(engine, point)["volumetric_efficiency"]


def _points(jobs: list[tuple[Engine, float, Numerics]], **how) -> list[Point]:
    outcome = run([Job(e, r, "wave", n, traces=True) for e, r, n in jobs], **how)
    for point in outcome.results:
        if isinstance(point, Failed):
            msg = f"a level of the ledger could not be computed: {point.message}"
            raise SolveError(msg, rpm=point.rpm, component="the reduced engine")
    return list(outcome.results)


def _levels(engine: Engine, rpm: float, whole: Point, numerics: Numerics) -> list[tuple[Engine, float, Numerics]]:
    """The reduced engines of one speed, from the slow one to the whole one but for its exhaust."""
    gas = gas_table(engine.fuel.key, engine.mixture.lambda_)
    share = whole.books[L.B_Q_CYL] / max(whole.books[L.B_FUEL] * gas.mix[4] * min(1.0, gas.mix[1]), 1e-12)
    calm = replace(numerics, cfl=min(numerics.cfl, STILL_CFL))
    intake = still.ideal_exhaust(engine)
    losses_and_heat = still.still_intake(intake)
    losses = still.adiabatic(losses_and_heat, share)
    valves = still.open_intake(still.adiabatic(intake, share))
    bare = still.dry(valves)
    slow = still.creeping(bare, rpm, float(whole.out[:, L.C_CA50].mean()))
    at_speed = [(e, rpm, calm) for e in (bare, valves, losses, losses_and_heat, intake)]
    return [(slow, still.CREEP, replace(calm, cell=max(numerics.cell, still.CREEP_CELL))), *at_speed]


def _first_principles(slow: Engine, point: Point) -> QuasiStatic:
    from pullcast.answers.quasi_static import exhaust_opening

    opening = exhaust_opening(slow, still.CREEP)
    return quasi_static(slow, still.CREEP, float(point.out[:, L.C_EVO_T].mean()),
                        float(point.trace[0, L.T_P, math.floor(opening)]))


def _choked(engine: Engine, point: Point) -> float:
    """Share of the inflow's crank angle at which pressure behind the intake valve is below critical."""
    t = point.trace
    inward = t[:, L.T_INTAKE_FLOW] > 0.0
    if not inward.any():
        return 0.0
    return float(((t[:, L.T_P] < CHOKED * t[:, L.T_INTAKE_P]) & inward).sum() / inward.sum())
