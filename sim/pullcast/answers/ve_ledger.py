"""The volumetric efficiency of an engine as a ledger: what gives and takes air, one effect switched on after another.

The order, from the ideal to the engine as it is (the manner of Heywood 1988, fig. 6-9, from memory; the order of
switching is ours). A different order shifts small amounts between neighbours:

1. *swept volume* filled with outside air: 100 %
2. *residual gas, fuel vapour*: turned very slowly, walls adiabatic, pressures equal, nothing goes back through the
   intake valve (``quasi_static`` gives this number from first principles as well)
3. *valves*: real lift at real speed, gas keeping its density through the valve (Bernoulli)
4. *fuel evaporation* cools the charge
5. *flow losses* of throttle, plenum, entry, runner and port, without inertia
6. *charge heating* by the walls of the tract and the cylinder
7. *choking*: gas thins out on its way through valves, plates and restrictors and passes no faster than sound: with
   Bernoulli's law there in its place the flow goes on rising. It grows with the inlet Mach index
8. *backflow*: what is pushed back through the intake valve, late after bottom dead centre and in the overlap
9. *ram*: the inertia of the air columns of the intake, by the lumped model, which has no waves
10. *tuning*: what the waves of the intake do beyond that
11. *exhaust*: back pressure, its waves, the residual gas they leave or draw out

All levels but the ram are of the wave model; ram and tuning together are too, so that the ledger sums to the
engine's volumetric efficiency by construction. Of an intake made without inertia both models say the same within a
point or so (the six shipped engines, 15 speeds: 1.2 at most), so that their difference is none of the ram's. Long
runners at low speed ring in the lumped model more than they do by waves: ram and tuning are then large and opposite.
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
    ("residual gas, fuel vapour", "turned very slowly: hot gas left behind and fuel vapour take up room"),
    ("valves", "the resistance of the open valves themselves"),
    ("fuel evaporation", "the charge cooled by fuel that evaporates"),
    ("flow losses", "throttle, plenum, entry, runner and port"),
    ("charge heating", "warm walls of the tract and the cylinder"),
    ("choking", "gas thins out in a valve or restrictor and passes no faster than sound"),
    ("backflow", "charge pushed back before the intake valve shuts"),
    ("ram", "air in motion that presses on; by the lumped model"),
    ("tuning", "waves of the intake, beyond the ram"),
    ("exhaust", "back pressure and waves of the exhaust, residual gas they leave"),
)
LEVELS = ("everything off", "valves", "evaporation", "losses", "wall heat", "choking", "backflow",
          "waves of the intake", "an intake without inertia (lumped)", "an intake with inertia (lumped)")
RAM, TUNING = 7, 8  # entries whose sum is of the wave model
STILL_CFL = 0.4  # without pipes the small cylinder at top dead centre reacts fast


@dataclass(frozen=True)
class Ledger:
    """Ledger of one engine: ``entries`` (10, m) in shares of the swept volume's air (VE 1 = 1) at ``speed`` (m,) rpm;
    ``ve`` (m,) of the engine; ``first_principles`` the quasi-static value reckoned without the wave model;
    ``backflow`` (m,) gas pushed back through the intake valve over gas trapped; ``notes`` what did not converge."""

    engine: str
    speed: np.ndarray
    entries: np.ndarray
    ve: np.ndarray
    first_principles: np.ndarray
    backflow: np.ndarray
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
    whole = _points([Job(engine, r, "wave", numerics) for r in rpm], **how)
    levels = [_levels(engine, r, p, numerics) for r, p in zip(rpm, whole, strict=True)]
    done = _points([job for column in levels for job in column], **how)
    per = len(levels[0])
    columns = [done[i * per:(i + 1) * per] for i in range(len(rpm))]
    ve = np.array([_ve(engine, p) for p in whole])
    chain = np.array([_chain([_ve(j.engine, p) for j, p in zip(jobs, points, strict=True)])
                      for jobs, points in zip(levels, columns, strict=True)]).T
    entries = np.diff(np.vstack([np.ones(len(rpm)), chain, ve]), axis=0)
    slow = [_first_principles(column[0].engine, points[0]).ve for column, points in zip(levels, columns, strict=True)]
    out = [p.out for p in whole]
    notes = tuple(f"{engine.name} at {r:g} rpm, with {what}: {p.status}" for r, points, last in
                  zip(rpm, columns, whole, strict=True)
                  for what, p in zip((*LEVELS, "everything"), (*points, last), strict=True) if p.status)
    return Ledger(engine.name, np.array(rpm), entries, ve, np.array(slow),
                  np.array([float(np.mean(o[:, L.C_BACKFLOW] / o[:, L.C_TRAPPED])) for o in out]), notes)


def _ve(engine: Engine, point: Point) -> float:
    return performance(engine, point)["volumetric_efficiency"]


def _points(jobs: list[Job], **how) -> list[Point]:
    outcome = run(jobs, **how)
    for point in outcome.results:
        if isinstance(point, Failed):
            msg = f"a level of the ledger could not be computed: {point.message}"
            raise SolveError(msg, rpm=point.rpm, component="the reduced engine")
    return list(outcome.results)


def _levels(engine: Engine, rpm: float, whole: Point, numerics: Numerics) -> list[Job]:
    """What is marched for one speed, as ``LEVELS``: from the slow engine to the whole one but for its exhaust, and
    two by the lumped model that differ by the inertia of the intake."""
    gas = gas_table(engine.fuel.key, engine.mixture.lambda_)
    share = whole.books[L.B_Q_CYL] / max(whole.books[L.B_FUEL] * gas.mix[4] * min(1.0, gas.mix[1]), 1e-12)
    calm = replace(numerics, cfl=min(numerics.cfl, STILL_CFL))
    free = replace(calm, choking=False)
    intake = still.ideal_exhaust(engine)
    heat = still.still_intake(intake)
    valves = still.one_way(still.open_intake(still.adiabatic(intake, share)))
    bare = still.dry(valves)
    slow = still.creeping(bare, rpm, float(whole.out[:, L.C_CA50].mean()))
    back = still.still_intake(intake, throats=True)
    cell = min(still.CREEP_CELL, min(p.length for t in (slow.intake, slow.exhaust) for p in t.pipes) / still.CELLS)
    return [Job(slow, still.CREEP, "wave", replace(calm, cell=cell), traces=True),
            Job(bare, rpm, "wave", free), Job(valves, rpm, "wave", free),
            Job(still.one_way(still.adiabatic(heat, share)), rpm, "wave", free),
            Job(still.one_way(heat), rpm, "wave", free), Job(still.one_way(back), rpm, "wave", calm),
            Job(back, rpm, "wave", calm), Job(intake, rpm, "wave", calm),
            Job(back, rpm, "lumped", numerics), Job(intake, rpm, "lumped", numerics)]


def _chain(ve: list[float]) -> list[float]:
    """Volumetric efficiency after each entry but the last, from that of each level."""
    *waves, still_, moving = ve
    return [*waves[:-1], waves[-2] + moving - still_, waves[-1]]


def _first_principles(slow: Engine, point: Point) -> QuasiStatic:
    from pullcast.answers.quasi_static import exhaust_opening

    opening = exhaust_opening(slow, still.CREEP)
    return quasi_static(slow, still.CREEP, float(point.out[:, L.C_EVO_T].mean()),
                        float(point.trace[0, L.T_P, math.floor(opening)]))
