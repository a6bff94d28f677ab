"""March one speed until it repeats from cycle to cycle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pullcast.card.engine import Engine
from pullcast.errors import SolveError
from pullcast.kernels import layout as L
from pullcast.solve.cycle import Running, contents, prepare, run_cycle
from pullcast.solve.numerics import Numerics


@dataclass(frozen=True)
class Point:
    """One speed, marched. ``out`` (cylinders, C_COUNT) and ``books`` (B_COUNT,) are those of the last cycle.

    ``node_pressure`` and ``junction_pressure`` (Pa) are cycle means by name; ``history`` rows are cycle number,
    trapped mass of all cylinders (kg), work (J), largest relative change. ``status`` is "" when converged.
    """

    rpm: float
    out: np.ndarray
    books: np.ndarray
    node_pressure: dict[str, float]
    node_temperature: dict[str, float]
    junction_pressure: dict[str, float]
    mass_residual: float
    energy_residual: float
    cycles: int
    steps: int
    converged: bool
    status: str
    history: tuple[tuple[int, float, float, float], ...]
    trace: np.ndarray | None = None
    probes: np.ndarray | None = None


def _signature(running: Running) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What must repeat: trapped masses, works, and pipe pressures and densities."""
    out, d, f = running.model.cylinders.out, running.model.ducts, running.model.flow
    real = d.real > 0
    work = out[:, L.C_WORK_GROSS] + out[:, L.C_WORK_PUMP]
    return out[:, L.C_TRAPPED].copy(), work.copy(), np.concatenate([f.p[real], f.rho[real]])


def _change(new: tuple, old: tuple) -> tuple[float, str]:
    """Largest relative change and what changed most: masses and works, and a quarter of the rms of pipe states."""
    mass = float(np.max(np.abs(new[0] - old[0]) / np.abs(new[0]).mean()))
    work = float(np.max(np.abs(new[1] - old[1]) / np.abs(new[1]).mean()))
    pipes = 0.25 * float(np.sqrt(np.mean(((new[2] - old[2]) / new[2]) ** 2)))
    changes = {"trapped mass": mass, "cylinder work": work, "pipe states": pipes}
    worst = max(changes, key=changes.get)
    return changes[worst], worst


def _residuals(running: Running, before: tuple[float, float], after: tuple[float, float]) -> tuple[float, float]:
    """Mass and energy that the books of the last cycle cannot account for, relative to the cycle's throughput."""
    b = running.model.books
    mass = after[0] - before[0] - (b[L.B_MASS_IN] - b[L.B_MASS_OUT] + b[L.B_FUEL])
    heat = b[L.B_Q_DUCT] + b[L.B_Q_NODE] - b[L.B_Q_CYL]
    energy = after[1] - before[1] - (b[L.B_H_IN] - b[L.B_H_OUT] + b[L.B_H_FUEL] + heat - b[L.B_WORK])
    scale = abs(b[L.B_FUEL]) * running.model.gas.mix[4] or 1.0
    return float(mass / max(b[L.B_MASS_IN], 1e-12)), float(energy / scale)


def _finish(running: Running, residuals, history, steps, status, trace, probes) -> Point:
    m, n = running.model, running.names
    return Point(
        rpm=running.rpm, out=m.cylinders.out.copy(), books=m.books.copy(),
        node_pressure=dict(zip(n.volumes, (m.nodes.p_sum / 720).tolist(), strict=True)),
        node_temperature=dict(zip(n.volumes, m.nodes.T.tolist(), strict=True)),
        junction_pressure=dict(zip(n.junctions, (m.junctions.p_sum / 720).tolist(), strict=True)),
        mass_residual=residuals[0], energy_residual=residuals[1], cycles=len(history), steps=steps,
        converged=status == "", status=status, history=tuple(history), trace=trace, probes=probes,
    )


def settle(engine: Engine, rpm: float, numerics: Numerics | None = None, *, traces: bool = False,
           stations: tuple[tuple[str, float], ...] = ()) -> Point:
    """March an engine at ``rpm`` until it repeats; ``stations`` are (pipe, metres from its start) to record.

    A point that does not repeat within ``max_cycles`` comes back with ``converged`` False and the reason.
    Errors: SolveError if the march breaks down.
    """
    numerics = numerics or Numerics()
    running = prepare(engine, rpm, numerics)
    trace = np.zeros((engine.block.cylinders, L.T_COUNT, 720)) if traces else None
    probes = np.zeros((len(stations), 4, 720)) if traces else None
    for i, (pipe, x) in enumerate(stations if traces else ()):
        probes[i, 0, 0] = running.names.cell_at(pipe, x)
    history, old, steps, worst = [], None, 0, ""
    residuals = (0.0, 0.0)
    for cycle in range(1, numerics.max_cycles + 1):
        before = contents(running)
        steps += run_cycle(running, numerics, trace, probes)
        residuals = _residuals(running, before, contents(running))
        new = _signature(running)
        change, worst = _change(new, old) if old is not None else (np.inf, "")
        history.append((cycle, float(new[0].sum()), float(new[1].sum()), float(change)))
        if not np.isfinite(new[1]).all():
            raise SolveError("the cycle's work is not a number", rpm=rpm, angle_deg=720.0, component="a cylinder")
        if cycle >= numerics.min_cycles and change < numerics.tolerance:
            return _finish(running, residuals, history, steps, "", trace, probes)
        old = new
    status = (f"not converged after {numerics.max_cycles} cycles: {worst} still changes by {100 * change:.2g} % "
              "a cycle")
    return _finish(running, residuals, history, steps, status, trace, probes)
