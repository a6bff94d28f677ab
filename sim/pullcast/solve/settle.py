"""March one speed until it repeats from cycle to cycle."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pullcast.card.engine import Engine
from pullcast.errors import SolveError
from pullcast.kernels import layout as L
from pullcast.solve.cycle import Running, contents, prepare, run_cycle
from pullcast.solve.numerics import Numerics
from pullcast.solve.slow_volumes import SlowVolumes

EARLIEST, LATEST = 58.999, -19.999  # deg: a hair within the range kernels.flame.light keeps to
SMALLER = {0.5: "half", 0.25: "a quarter of"}  # of the time step, tried in turn where the usual one breaks down
SENSIBLE = 2.5e5  # J/kg added to sensible energies so that their relative change means something near 298 K


@dataclass(frozen=True)
class Point:
    """One speed, marched. ``out`` (cylinders, C_COUNT) and ``books`` (B_COUNT,) are those of the last cycle.

    ``node_pressure`` and ``junction_pressure`` (Pa) are cycle means by name; ``history`` rows are cycle number,
    trapped mass of all cylinders (kg), work (J), largest relative change. ``status`` is "" when converged.
    ``period`` 2: the engine repeats every second cycle only; everything is then the mean of both. ``remedy``: what it
    took to march a point that broke down at the usual time step, "" otherwise.
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
    period: int = 1
    remedy: str = ""


@dataclass(frozen=True)
class _Cycle:
    """What a finished cycle leaves behind: its results, and the signature that must repeat."""

    out: np.ndarray
    books: np.ndarray
    pressures: tuple[np.ndarray, np.ndarray]
    signature: tuple[np.ndarray, ...]


def _seen(running: Running) -> _Cycle:
    m = running.model
    return _Cycle(m.cylinders.out.copy(), m.books.copy(), (m.nodes.p_sum / 720, m.junctions.p_sum / 720),
                  _signature(running))


def _signature(running: Running) -> tuple[np.ndarray, ...]:
    """What must repeat: trapped masses, works, pipe pressures and densities, mass and energy of volumes."""
    m = running.model
    out, real, nodes = m.cylinders.out, m.ducts.real > 0, m.nodes
    work = out[:, L.C_WORK_GROSS] + out[:, L.C_WORK_PUMP]
    stored = np.concatenate([nodes.m[1:], nodes.U[1:] + SENSIBLE * nodes.m[1:]])
    return out[:, L.C_TRAPPED].copy(), work, np.concatenate([m.flow.p[real], m.flow.rho[real]]), stored


def unbalanced(books: np.ndarray, out: np.ndarray) -> float:
    """Half the air that entered the inlets but not the cylinders in the cycle, relative to the latter."""
    through = out[:, L.C_AIR].sum()
    return 0.5 * abs(books[L.B_AIR_IN] - through) / max(abs(through), 1e-12)


def _change(new: tuple, old: tuple) -> tuple[float, str]:
    """Largest relative change and what changed most: masses and works, and a quarter of the rms of pipe states."""
    mass = float(np.max(np.abs(new[0] - old[0]) / np.abs(new[0]).mean()))
    work = float(np.max(np.abs(new[1] - old[1]) / np.abs(new[1]).mean()))
    pipes = 0.25 * float(np.sqrt(np.mean(((new[2] - old[2]) / new[2]) ** 2)))
    volumes = float(np.max(np.abs(new[3] / old[3] - 1))) if len(new[3]) else 0.0
    changes = {"trapped mass": mass, "cylinder work": work, "pipe states": pipes, "gas in a volume": volumes}
    worst = max(changes, key=changes.get)
    return changes[worst], worst


def _left(changes: list[float]) -> float:
    """How far a sequence still is from its end, given its changes so far: as if they went on shrinking as they do.

    The slower of the last two ratios counts, and only if either change at least halved; else the last change stands.
    The first changes still tell of the start, not of the engine: at least three finite ones are needed.
    """
    a, b, c = ([np.inf] * 3 + changes)[-3:]
    ratio = max(c / b, b / a) if np.isfinite(a) else 1.0
    return c * ratio / (1.0 - ratio) if ratio < 0.5 else c


def _residuals(running: Running, before: tuple[float, float], after: tuple[float, float]) -> tuple[float, float]:
    """Mass and energy that the books of the last cycle cannot account for, relative to the cycle's throughput."""
    b = running.model.books
    mass = after[0] - before[0] - (b[L.B_MASS_IN] - b[L.B_MASS_OUT] + b[L.B_FUEL])
    heat = b[L.B_Q_DUCT] + b[L.B_Q_NODE] - b[L.B_Q_CYL]
    energy = after[1] - before[1] - (b[L.B_H_IN] - b[L.B_H_OUT] + b[L.B_H_FUEL] + heat - b[L.B_WORK])
    scale = abs(b[L.B_FUEL]) * running.model.gas.mix[4] or 1.0
    return float(mass / max(b[L.B_MASS_IN], 1e-12)), float(energy / scale)


def _finish(running: Running, used: list[_Cycle], residuals, history, steps, status, trace, probes) -> Point:
    """The point of one cycle, or the mean of the two that alternate."""
    m, n = running.model, running.names
    nodes, junctions = (np.mean([c.pressures[i] for c in used], axis=0).tolist() for i in (0, 1))
    out = np.mean([c.out for c in used], axis=0)
    for column in (L.C_P_MAX, L.C_T_MAX, L.C_MACH_MAX):
        out[:, column] = np.max([c.out[:, column] for c in used], axis=0)
    return Point(
        rpm=running.rpm, out=out, books=np.mean([c.books for c in used], axis=0),
        node_pressure=dict(zip(n.volumes, nodes, strict=True)),
        node_temperature=dict(zip(n.volumes, m.nodes.T.tolist(), strict=True)),
        junction_pressure=dict(zip(n.junctions, junctions, strict=True)),
        mass_residual=residuals[0], energy_residual=residuals[1], cycles=len(history), steps=steps,
        converged=status == "", status=status, history=tuple(history), trace=trace, probes=probes, period=len(used),
    )


def _held(engine: Engine, out: np.ndarray) -> str:
    """What to say of a predicted burn whose CA50 asks for a spark beyond the range searched; "" when it does not."""
    if engine.burn.law != "flame" or engine.burn.timing != "ca50":
        return ""
    late, early = float(out[:, L.C_SPARK].min()), float(out[:, L.C_SPARK].max())
    if late > LATEST and early < EARLIEST:
        return ""
    held = early if early >= EARLIEST else late
    return (f"the predicted burn does not reach the CA50 asked for: spark held at {held:.0f} deg before TDC. "
            "Give burn.spark, or look at burn.turbulence, lambda and residual")


def settle(engine: Engine, rpm: float, numerics: Numerics | None = None, *, traces: bool = False,
           stations: tuple[tuple[str, float], ...] = ()) -> Point:
    """March an engine at ``rpm`` until it repeats, from one cycle to the next or every second cycle.

    ``stations`` are (pipe, metres from its start) to record.

    A point that does not repeat within ``max_cycles`` comes back with ``converged`` False and the reason. One that
    breaks down is marched anew at half the time step, then at a quarter, and says so (``remedy``).
    Errors: SolveError if the march breaks down at those too.
    """
    numerics = numerics or Numerics()
    try:
        return _march(engine, rpm, numerics, traces, stations)
    except SolveError as error:
        first = error
    for share, words in SMALLER.items():
        finer = replace(numerics, cfl=max(share * numerics.cfl, 0.05), max_step_deg=share * numerics.max_step_deg)
        try:
            point = _march(engine, rpm, finer, traces, stations)
        except SolveError:
            continue
        return replace(point, remedy=f"marched at {words} the usual time step, at which it broke down ({first})")
    first.args = (f"{first}; it does so at half and at a quarter of the time step too",)
    raise first


def _march(engine: Engine, rpm: float, numerics: Numerics, traces: bool,
           stations: tuple[tuple[str, float], ...]) -> Point:
    running = prepare(engine, rpm, numerics)
    trace = np.zeros((engine.block.cylinders, L.T_COUNT, 720)) if stations or traces else None
    probes = np.zeros((len(stations), 4, 720)) if stations or traces else None
    for i, (pipe, x) in enumerate(stations):
        probes[i, 0, 0] = running.names.cell_at(pipe, x)
    history, past, steps, twice = [], [], 0, 0
    model = running.model
    slow = SlowVolumes(model.nodes, model.gas, model.cylinders.state[:, L.S_M].sum())
    residuals, change, worst = (0.0, 0.0), np.inf, ""
    for cycle in range(1, numerics.max_cycles + 1):
        before = contents(running)
        steps += run_cycle(running, numerics, trace, probes)
        residuals = _residuals(running, before, contents(running))
        now = _seen(running)
        trapped, work = now.signature[:2]
        if not np.isfinite(work).all():
            raise SolveError("the cycle's work is not a number", rpm=rpm, angle_deg=720.0, component="a cylinder")
        if past:
            change, worst = _change(now.signature, past[-1].signature)
        history.append((cycle, float(trapped.sum()), float(work.sum()), float(change)))
        repeats = change < numerics.tolerance
        left = change if slow.matter else _left([h[3] for h in history])
        if past and slow.matter:
            stored_air = unbalanced(model.books, model.cylinders.out)
            left, worst = max((change, worst), (stored_air, "air stored in a volume"))
        if cycle >= numerics.min_cycles and left < numerics.tolerance:
            return _finish(running, [now], residuals, history, steps, _held(engine, now.out), trace, probes)
        alternates = len(past) > 1 and _change(now.signature, past[-2].signature)[0] < numerics.tolerance
        twice = twice + 1 if alternates and not repeats else 0
        if twice == 2:
            return _finish(running, [past[-1], now], residuals, history, steps, _held(engine, now.out), trace, probes)
        if slow.hurry():
            now = replace(now, signature=_signature(running))
        past = [*past[-1:], now]
    status = (f"not converged after {numerics.max_cycles} cycles: {worst} still changes by {100 * left:.2g} % "
              "a cycle")
    return _finish(running, past[-1:], residuals, history, steps, status, trace, probes)
