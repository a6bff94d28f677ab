"""One engine at one speed as a model ready to march, and one marched cycle with its errors named."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pullcast.air import humidity_ratio
from pullcast.card.engine import Engine
from pullcast.errors import SolveError
from pullcast.gasdata.tables import uneven_table
from pullcast.kernels import layout as L
from pullcast.kernels.march import march_cycle, stored
from pullcast.network.arrays import Names, assemble
from pullcast.network.build import build
from pullcast.network.cylinders import cylinder_arrays
from pullcast.solve.numerics import Numerics
from pullcast.solve.warm import warm

NO_TRACE = np.zeros((0, 0, 0))
WHY = {
    L.BAD_CELL: "density or pressure left the range of a gas",
    L.BAD_NODE: "a volume ran empty",
    L.BAD_JUNCTION: "a junction ran empty or too cold (shorter cells may carry it)",
    L.BAD_CYLINDER: "the cylinder state left the range of a gas",
    L.STUCK: "the time step shrank to nothing",
}


@dataclass(frozen=True)
class Running:
    """A model at one speed. ``model`` holds state that marching changes in place."""

    rpm: float
    octane: float
    model: L.Model
    names: Names


def prepare(engine: Engine, rpm: float, numerics: Numerics) -> Running:
    """Build the network of an engine and its arrays for one speed, at a plausible start state."""
    warm()
    day = engine.day
    gas = uneven_table(engine.fuel.key, engine.mixture.lambda_,
                       humidity_ratio(day.pressure, day.temperature, day.humidity), engine.mixture.unevenness)
    cylinders = cylinder_arrays(engine, gas, rpm)
    network = build(engine)
    model, names = assemble(network, gas, numerics.cell, cylinders, numerics.hot_stretch)
    if not numerics.choking:
        cold = np.repeat([p.name not in network.burned_pipes for p in network.pipes], 2)
        model.ends.free[:] = cold & (model.ends.kind != L.CLOSED)
    return Running(rpm, engine.fuel.octane or 95.0, model, names)


def _component(running: Running, status: int, where: int) -> str:
    """Name of what broke down."""
    n = running.names
    if status == L.BAD_CELL:
        return n.of_cell(where)
    if status == L.BAD_CYLINDER:
        return f"cylinder {where + 1}"
    if status == L.BAD_NODE:
        masses = running.model.nodes.m
        return f"volume '{n.volumes[int(np.argmin(masses))]}'"
    if status == L.BAD_JUNCTION:
        j = running.model.junctions
        return f"junction '{n.junctions[int(np.argmin(j.m if (j.m <= 0.0).any() else j.T))]}'"
    return "the whole network"


def run_cycle(running: Running, numerics: Numerics, trace: np.ndarray | None = None,
              probes: np.ndarray | None = None) -> int:
    """March one cycle in place; returns the number of steps.

    ``trace`` (cylinders, T_COUNT, 720) and ``probes`` (n, 4, 720; cell index in [n, 0, 0]) are filled if given.
    Errors: SolveError naming rpm, crank angle and component.
    """
    tracing = trace is not None
    status, where, angle, steps = march_cycle(
        running.model, running.rpm, numerics.cfl, numerics.relaxation, running.octane, numerics.max_step_deg,
        trace if tracing else NO_TRACE, probes if probes is not None else NO_TRACE, tracing,
    )
    if status != L.OK:
        raise SolveError(WHY[status], rpm=running.rpm, angle_deg=angle, component=_component(running, status, where))
    return steps


def contents(running: Running) -> tuple[float, float]:
    """Mass (kg) and energy with formation (J) stored in the engine and its pipes."""
    return stored(running.model)
