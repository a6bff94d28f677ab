"""March the lumped model of one engine at one speed until it repeats.

The network, the cylinders, the tolerances and the ``Point`` that comes back are those of ``pullcast.solve.settle``;
only what is between the cylinders and the surroundings differs (``pullcast.kernels.lumped``). Every point starts
from the same state, so equal engines give equal numbers whatever was computed before.

Crank steps are twice those of ``Numerics`` (2 deg by default): cylinders and valve areas change no faster than that.
The work of the shipped engines differs by 0.1 % (at most by 0.3 %; four speeds each) from that with steps an eighth
as long. Differences below that are noise of this fidelity.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from threading import Lock
from types import SimpleNamespace

import numpy as np

from pullcast.air import humidity_ratio
from pullcast.card.engine import Engine
from pullcast.errors import InputError, SolveError
from pullcast.gasdata.tables import uneven_table
from pullcast.kernels import layout as L
from pullcast.kernels import lumps as M
from pullcast.kernels.gas import GasTable
from pullcast.kernels.lumped import lumped_cycle, stored
from pullcast.network.build import build
from pullcast.network.cylinders import burn_arrays, cylinder_arrays
from pullcast.network.lump import LumpNames, lump
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point, unbalanced
from pullcast.solve.slow_volumes import SlowVolumes
from pullcast.solve.warm import warm

KEPT = 8  # engines
NO_TRACE = np.zeros((0, 0, 0))
WHY = {
    L.BAD_NODE: "a volume of gas ran empty",
    L.BAD_CYLINDER: "the cylinder state left the range of a gas",
    L.STUCK: "the time step shrank to nothing",
}
LONGER = 2.0  # crank steps by those of the wave model: cylinders and valve areas change no faster than that
PIPES = 0.25  # weight of the rms change of pipe states against masses and works, as in the wave model


@dataclass(frozen=True)
class LumpedRun:
    """A lumped model at one speed. ``lump`` holds state that marching changes in place."""

    rpm: float
    octane: float
    lump: M.Lump
    names: LumpNames
    gas: GasTable


@dataclass
class _Recent:
    """The engines last built and their arrays at rest: a screening asks for the same engine at speed after speed."""

    kept: list[tuple[Engine, LumpedRun]] = field(default_factory=list)
    lock: Lock = field(default_factory=Lock)

    def of(self, engine: Engine, rpm: float) -> LumpedRun:
        """Arrays of an engine, built at ``rpm`` if it is none of the last few; threads may ask at once."""
        with self.lock:
            for known, run in self.kept:
                if known is engine:
                    return run
            run = _built(engine, rpm)
            self.kept = [*self.kept[1 - KEPT:], (engine, run)]
            return run


_recent = _Recent()


def _built(engine: Engine, rpm: float) -> LumpedRun:
    """Network, gas and cylinders of an engine as lumped arrays at a plausible start state."""
    day = engine.day
    gas = uneven_table(engine.fuel.key, engine.mixture.lambda_,
                       humidity_ratio(day.pressure, day.temperature, day.humidity), engine.mixture.unevenness)
    made, names = lump(build(engine), gas, cylinder_arrays(engine, gas, rpm))
    return LumpedRun(rpm, engine.fuel.octane or 95.0, made, names, gas)


def _fresh(made: M.Lump, **changes) -> M.Lump:
    """The same arrays, those that marching changes copied."""
    moving = ("store", "rate", "flow", "plug", "valve", "gate", "pace", "state", "acc", "out", "books")
    return made._replace(**{name: getattr(made, name).copy() for name in moving} | changes)


def prepare_lumped(engine: Engine, rpm: float) -> LumpedRun:
    """An engine's lumped arrays for one speed, at the start state that every speed starts from.

    With a cam that is phased by speed everything is built anew; else only the burn law depends on the speed.
    """
    warm()
    if engine.cam.phasing:
        return _built(engine, rpm)
    run = _recent.of(engine, rpm)
    return replace(run, rpm=rpm, lump=_fresh(run.lump, burn=burn_arrays(engine, rpm)[0]))


def _broken(run: LumpedRun, status: int, where: int, angle: float) -> SolveError:
    """The named error of a status code."""
    component = f"cylinder {where + 1}"
    if status == L.BAD_NODE:
        component = run.names.of_store(int(np.argmin(run.lump.store[M.X_M, 1:])) + 1)
    if status == L.STUCK:
        component = "the whole network"
    return SolveError(WHY[status], rpm=run.rpm, angle_deg=angle, component=component)


def _volumes(made: M.Lump) -> SimpleNamespace:
    """The surroundings and the volumes among the stores, as ``pullcast.solve.slow_volumes`` wants them: views."""
    rows = {"m": M.X_M, "mf": M.X_MF, "mb": M.X_MB, "U": M.X_U, "T": M.X_T}
    return SimpleNamespace(**{name: made.store[row, : made.first_pipe] for name, row in rows.items()})


def _signature(run: LumpedRun) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What must repeat: trapped masses, works, and pressures and densities of the stores."""
    out, x = run.lump.out, run.lump.store
    work = out[:, L.C_WORK_GROSS] + out[:, L.C_WORK_PUMP]
    return out[:, L.C_TRAPPED].copy(), work.copy(), x[[M.X_P, M.X_RHO], 1:].ravel()


def _change(new: tuple, old: tuple) -> tuple[float, str]:
    """Largest relative change from one cycle to the next, and of what."""
    changes = {
        "trapped mass": float(np.max(np.abs(new[0] - old[0])) / np.abs(new[0]).mean()),
        "cylinder work": float(np.max(np.abs(new[1] - old[1])) / np.abs(new[1]).mean()),
        "pipe states": PIPES * float(np.sqrt(np.mean(((new[2] - old[2]) / new[2]) ** 2))),
    }
    worst = max(changes, key=changes.get)
    return changes[worst], worst


def _residuals(run: LumpedRun, before: tuple[float, float], after: tuple[float, float]) -> tuple[float, float]:
    """Mass and energy that the books of the last cycle cannot account for, relative to the cycle's throughput."""
    b = run.lump.books
    mass = after[0] - before[0] - (b[L.B_MASS_IN] - b[L.B_MASS_OUT] + b[L.B_FUEL])
    heat = b[L.B_Q_DUCT] + b[L.B_Q_NODE] - b[L.B_Q_CYL]
    energy = after[1] - before[1] - (b[L.B_H_IN] - b[L.B_H_OUT] + b[L.B_H_FUEL] + heat - b[L.B_WORK])
    scale = abs(b[L.B_FUEL]) * float(run.gas.mix[4]) or 1.0
    return float(mass / max(b[L.B_MASS_IN], 1e-12)), float(energy / scale)


def _finish(run: LumpedRun, residuals, history, steps, status, trace, probes) -> Point:
    x, n = run.lump.store, run.names
    pressure, nn, nj = (x[M.X_P_SUM] / 720).tolist(), len(n.volumes), len(n.junctions)
    return Point(
        rpm=run.rpm, out=run.lump.out.copy(), books=run.lump.books.copy(),
        node_pressure=dict(zip(n.volumes, pressure[:nn], strict=True)),
        node_temperature=dict(zip(n.volumes, x[M.X_T, :nn].tolist(), strict=True)),
        junction_pressure=dict(zip(n.junctions, pressure[nn : nn + nj], strict=True))
        | {name: 0.5 * (pressure[a] + pressure[b]) for name, a, b in n.steps},
        mass_residual=residuals[0], energy_residual=residuals[1], cycles=len(history), steps=steps,
        converged=status == "", status=status, history=tuple(history), trace=trace, probes=probes,
    )


def _records(run: LumpedRun, traces: bool, stations: tuple) -> tuple[np.ndarray | None, np.ndarray | None]:
    """Empty trace and probes; a station anywhere in a pipe reads the pipe's one store (its mean flow speed as u)."""
    if not traces:
        return None, None
    probes = np.zeros((len(stations), 4, 720))
    for i, (pipe, _) in enumerate(stations):
        if pipe not in run.names.pipes:
            msg = f"no pipe '{pipe}' to record in; the pipes are: {', '.join(run.names.pipes)}"
            raise InputError(msg)
        probes[i, 0, 0] = run.lump.first_pipe + run.names.pipes.index(pipe)
    return np.zeros((len(run.lump.phase), L.T_COUNT, 720)), probes


def settle_lumped(engine: Engine, rpm: float, numerics: Numerics | None = None, *, traces: bool = False,
                  stations: tuple[tuple[str, float], ...] = ()) -> Point:
    """March an engine's lumped model at ``rpm`` until it repeats; as ``pullcast.solve.settle.settle``.

    Of ``numerics`` the crank step, the tolerance and the numbers of cycles count; there are no cells.
    Errors: SolveError naming speed, crank angle and component if the march breaks down; InputError for an unknown
    station.
    """
    numerics = numerics or Numerics()
    run = prepare_lumped(engine, rpm)
    trace, probes = _records(run, traces, stations)
    history, old, steps, worst, residuals = [], None, 0, "", (0.0, 0.0)
    slow = SlowVolumes(_volumes(run.lump), run.gas, run.lump.state[:, L.S_M].sum())
    args = (rpm, LONGER * numerics.max_step_deg, run.octane, NO_TRACE if trace is None else trace,
            NO_TRACE if probes is None else probes, traces)
    for cycle in range(1, numerics.max_cycles + 1):
        before = stored(run.lump)
        status, where, angle, taken = lumped_cycle(run.lump, *args)
        if cycle == 1:
            run.lump.pace[:] = 1  # what the start from rest asked for is not what the engine asks for
        if status != L.OK:
            raise _broken(run, status, where, angle)
        steps += taken
        residuals = _residuals(run, before, stored(run.lump))
        new = _signature(run)
        if not np.isfinite(new[1]).all():
            raise SolveError("the cycle's work is not a number", rpm=rpm, angle_deg=720.0, component="a cylinder")
        change, worst = _change(new, old) if old is not None else (np.inf, "")
        history.append((cycle, float(new[0].sum()), float(new[1].sum()), float(change)))
        if old is not None and slow.matter:
            change, worst = max((change, worst), (unbalanced(run.lump.books, run.lump.out), "air stored in a volume"))
        if cycle >= numerics.min_cycles and change < numerics.tolerance:
            return _finish(run, residuals, history, steps, "", trace, probes)
        old = _signature(run) if slow.hurry() else new
    status = (f"not converged after {numerics.max_cycles} cycles: {worst} still changes by {100 * change:.2g} % "
              "a cycle")
    return _finish(run, residuals, history, steps, status, trace, probes)
