"""An engine as lumped arrays at the start of its march, and as a point at the end; ``solve.abreast`` marches."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from threading import Lock

import numpy as np

from pullcast.air import humidity_ratio
from pullcast.card.engine import Engine
from pullcast.errors import InputError, SolveError
from pullcast.gasdata.tables import uneven_table
from pullcast.kernels import layout as L
from pullcast.kernels import lumps as M
from pullcast.kernels.gas import GasTable
from pullcast.kernels.lanes import WIDTH
from pullcast.network.build import build
from pullcast.network.cylinders import burn_arrays, cylinder_arrays
from pullcast.network.lump import LumpNames, lump
from pullcast.solve.settle import Point
from pullcast.solve.warm import warm

KEPT = 8  # engines
WHY = {
    L.BAD_NODE: "a volume of gas ran empty",
    L.BAD_CYLINDER: "the cylinder state left the range of a gas",
    L.STUCK: "the time step shrank to nothing",
}


@dataclass(frozen=True)
class LumpedRun:
    """A lumped model at one speed, at its start."""

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


def prepare_lumped(engine: Engine, rpm: float) -> LumpedRun:
    """An engine's lumped arrays for one speed, at the start state that every speed starts from.

    With a cam that is phased by speed everything is built anew; else only the burn law depends on the speed.
    """
    warm()
    if engine.cam.phasing:
        return _built(engine, rpm)
    run = _recent.of(engine, rpm)
    return replace(run, rpm=rpm, lump=run.lump._replace(burn=burn_arrays(engine, rpm)[0]))


def broken(run: LumpedRun, batch: M.Batch, lane: int) -> SolveError:
    """The named error of a lane that broke down."""
    status, where, angle = batch.fate[:, lane].tolist()
    component = f"cylinder {int(where) + 1}"
    if status == L.BAD_NODE:
        component = run.names.of_store(int(np.argmin(batch.store[M.X_M, 1:, lane])) + 1)
    if status == L.STUCK:
        component = "the whole network"
    return SolveError(WHY[int(status)], rpm=run.rpm, angle_deg=angle, component=component)


def point_of(run: LumpedRun, batch: M.Batch, lane: int, residuals: tuple[float, float], history: tuple, steps: int,
             status: str, trace: np.ndarray | None, probes: np.ndarray | None) -> Point:
    """The point that a lane holds after its last cycle; ``status`` is "" if it has converged."""
    x, n = batch.store[..., lane], run.names
    pressure, nn, nj = (x[M.X_P_SUM] / 720).tolist(), len(n.volumes), len(n.junctions)
    return Point(
        rpm=run.rpm, out=batch.out[..., lane].copy(), books=batch.books[:, lane].copy(),
        node_pressure=dict(zip(n.volumes, pressure[:nn], strict=True)),
        node_temperature=dict(zip(n.volumes, x[M.X_T, :nn].tolist(), strict=True)),
        junction_pressure=dict(zip(n.junctions, pressure[nn : nn + nj], strict=True))
        | {name: 0.5 * (pressure[a] + pressure[b]) for name, a, b in n.steps},
        mass_residual=residuals[0], energy_residual=residuals[1], cycles=len(history), steps=steps,
        converged=status == "", status=status, history=history, trace=trace, probes=probes,
    )


def records(run: LumpedRun, stations: tuple[tuple[str, float], ...]) -> tuple[np.ndarray, np.ndarray]:
    """Empty traces and probes of all lanes; a station anywhere in a pipe reads the pipe's one store (its mean flow
    speed as u)."""
    probes = np.zeros((WIDTH, len(stations), 4, 720))
    for i, (pipe, _) in enumerate(stations):
        if pipe not in run.names.pipes:
            msg = f"no pipe '{pipe}' to record in; the pipes are: {', '.join(run.names.pipes)}"
            raise InputError(msg)
        probes[:, i, 0, 0] = run.lump.first_pipe + run.names.pipes.index(pipe)
    return np.zeros((WIDTH, len(run.lump.phase), L.T_COUNT, 720)), probes
