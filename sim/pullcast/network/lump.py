"""Network -> lumped arrays: each pipe a store of gas, each of its open ends a link with inertia and losses.

Where just two pipes meet (a step in diameter) nothing is mixed: one link joins them, and the small volume between
them is shared out to both. As a store of its own it would hold so little that it set the time step of the whole.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from pullcast.card.engine import Pipe
from pullcast.errors import InputError
from pullcast.kernels import layout as L
from pullcast.kernels import lumps as M
from pullcast.kernels.crank import volumes
from pullcast.kernels.gas import GasTable, mix_cp, mix_h, mix_R
from pullcast.kernels.orifice import critical_ratio, psi
from pullcast.network.arrays import Names, assemble
from pullcast.network.components import Network
from pullcast.network.grid import Grid, cut_segments, with_end_lengths

SLICES = 32  # per pipe, for the integrals of a link (even: a pipe is halved in the middle)
WHOLE = 1e3  # m, "cell length" that leaves every pipe in one piece
LINKED = (L.OPEN, L.ORIFICE, L.JUNCTION, L.JUNCTION_ORIFICE)


@dataclass(frozen=True)
class LumpNames:
    """What the stores and links are called; stores run volumes (surroundings first), junctions, pipes."""

    volumes: tuple[str, ...]
    junctions: tuple[str, ...]
    pipes: tuple[str, ...]
    steps: tuple[tuple[str, int, int], ...] = ()  # junctions of just two pipes, with the stores of these

    @property
    def stores(self) -> tuple[str, ...]:
        """All stores in order."""
        return self.volumes + self.junctions + self.pipes

    def of_store(self, index: int) -> str:
        """A store with its kind, for messages."""
        kind = "volume" if index < len(self.volumes) else "junction"
        if index >= len(self.volumes) + len(self.junctions):
            kind = "pipe"
        return f"{kind} '{self.stores[index]}'"


def _slices(pipe: Pipe) -> Grid:
    """The pipe in an even number of equal slices."""
    segments = with_end_lengths(pipe)
    return cut_segments(segments, sum(s.length for s in segments) / SLICES)


def _span(grid: Grid, at_start: bool, whole: bool) -> slice:
    """Slices whose inertia belongs to the link at one end."""
    n = len(grid.volume)
    if whole:
        return slice(0, n)
    return slice(0, n // 2) if at_start else slice(n // 2, n)


def _store_geometry(grid: Grid) -> dict[int, float]:
    """Volume, wall data and mean section of a pipe's store, by row of ``Lump.const``."""
    length = grid.dx * len(grid.volume)
    V = float(grid.volume.sum())
    surface = float((math.pi * grid.diameter * grid.dx).sum())
    heated = float(grid.heat_factor.sum())
    wall = float((grid.heat_factor * grid.wall).sum() / heated) if heated > 0 else float(grid.wall.mean())
    return {
        M.K_VOLUME: V, M.K_T_WALL: wall, M.K_DIAMETER: 4 * V / surface, M.K_ROUGHNESS: float(grid.roughness.mean()),
        M.K_HEAT: float(grid.heat_factor.mean()), M.K_FRICTION: 1.0, M.K_AREA: V / length,
    }


def _link_column(grid: Grid, span: slice, diameter: float, area: float) -> dict[int, float]:
    """Inertia, friction and bend integrals of a link, by row of ``Lump.link``."""
    A = grid.volume[span] / grid.dx
    over_d = grid.friction[span] * diameter / grid.diameter[span]
    return {
        M.L_INERTIA: float((grid.dx / A).sum()), M.L_AREA: area,
        M.L_FRICTION: float((over_d * grid.dx / A**2).sum()),
        M.L_BENDS: 0.5 * float((grid.loss[span] * grid.dx / A**2).sum()),
        M.L_NARROWEST: float(min(A.min(), area)),
    }


def _meeting(ends: L.Ends) -> dict[int, list[int]]:
    """The pipe ends that meet at each junction."""
    found: dict[int, list[int]] = {}
    for e in np.flatnonzero(np.isin(ends.kind, (L.JUNCTION, L.JUNCTION_ORIFICE))).tolist():
        found.setdefault(int(ends.node[e]), []).append(e)
    return found


def _end_losses(ends: L.Ends, meeting: dict[int, list[int]], e: int) -> tuple[float, float]:
    """Loss coefficients into and out of a pipe, on the dynamic head of its end.

    A flow that leaves loses its dynamic head as well; between just two pipes (a step) only the Borda-Carnot share
    (1 - A1/A2)^2 of it. A throttle's loss is in its orifice.
    """
    kind = ends.kind[e]
    if kind in (L.ORIFICE, L.JUNCTION_ORIFICE):
        return 0.0, 0.0
    if kind == L.OPEN:
        return float(ends.loss_in[e]), 1.0 + float(ends.loss_out[e])
    mates = [i for i in meeting[int(ends.node[e])] if i != e]
    if len(mates) == 1:
        return 0.0, float(max(1.0 - ends.area[e] / ends.area[mates[0]], 0.0) ** 2)
    return 0.0, 1.0


def _steps(network: Network, ends: L.Ends, meeting: dict[int, list[int]]) -> dict[int, tuple[int, int]]:
    """Junctions that are but a step between two pipes: their number and the two pipe ends."""
    index = {p.name: k for k, p in enumerate(network.pipes)}
    sprayed = {2 * index[i.pipe] + (1 if i.toward == "end" else 0) for i in network.injections}
    found = {}
    for j in range(len(network.junctions)):
        mine = meeting.get(j, [])
        plain = all(ends.kind[e] == L.JUNCTION and e not in sprayed for e in mine)
        if len(mine) == 2 and plain and mine[0] // 2 != mine[1] // 2:
            found[j] = (mine[0], mine[1])
    return found


def _half(grids: list[Grid], shapes: list[dict[int, float]], ends: L.Ends, e: int) -> dict[int, float]:
    """What the half of a pipe (or the whole, if its other end has no link) next to end ``e`` gives to its link."""
    k = e // 2
    span = _span(grids[k], e % 2 == 0, ends.kind[e ^ 1] not in LINKED)
    return _link_column(grids[k], span, shapes[k][M.K_DIAMETER], float(ends.area[e]))


def _joined(column: dict[int, float], far: dict[int, float]) -> dict[int, float]:
    """The link between two pipes: both halves in series, the friction of the farther one told apart."""
    for row in (M.L_INERTIA, M.L_BENDS):
        column[row] += far[row]
    column[M.L_FRICTION_FAR] = far[M.L_FRICTION]
    column[M.L_NARROWEST] = min(column[M.L_NARROWEST], far[M.L_NARROWEST])
    return column


def _links(ends: L.Ends, meeting: dict[int, list[int]], half: Callable[[int], dict[int, float]],
           steps: dict[int, tuple[int, int]], first: tuple[int, int]):
    """Link arrays, and the link at each pipe end (-1: none); ``first`` junction and pipe among the stores.

    ``half`` gives what the half of a pipe next to an end gives to its link.
    """
    mates = dict(steps.values())
    linked = [e for e in range(len(ends.kind)) if ends.kind[e] in LINKED and e not in mates.values()]
    at = np.zeros((M.N_COUNT, len(linked)), dtype=np.int64)
    link = np.zeros((M.L_COUNT, len(linked)))
    of_end = np.full(len(ends.kind), -1, dtype=np.int64)
    kept = np.cumsum([j not in steps for j in range(1 + ends.node.max(initial=0))]) - 1
    for n, e in enumerate(linked):
        losses, column = _end_losses(ends, meeting, e), half(e)
        if e in mates:
            mate = mates[e]
            node, column = first[1] + mate // 2, _joined(column, half(mate))
            losses = _end_losses(ends, meeting, mate)[1] * float(ends.area[e] / ends.area[mate]) ** 2, losses[1]
            of_end[mate] = n
        else:
            junction = ends.kind[e] in (L.JUNCTION, L.JUNCTION_ORIFICE)
            node = first[0] + kept[ends.node[e]] if junction else ends.node[e]
        at[:, n] = first[1] + e // 2, node, ends.inlet[e]
        for row, value in column.items():
            link[row, n] = value
        link[M.L_IN, n], link[M.L_OUT, n] = losses
        link[M.L_ORIFICE, n] = ends.orifice[e]
        of_end[e] = n
    return at, link, of_end


def _injectors(network: Network, ends: L.Ends, of_end: np.ndarray, link_at: np.ndarray):
    """Injectors as (link, store) and (share evaporated, K) columns, and the share evaporated at the valves.

    Fuel goes to the store that the pipe's gas leaves for; where that is a cylinder it joins at the valve.
    """
    index = {p.name: k for k, p in enumerate(network.pipes)}
    at, values, at_valves = [], [], 0.0
    for inj in network.injections:
        e = 2 * index[inj.pipe] + (1 if inj.toward == "end" else 0)
        if ends.kind[e] == L.VALVE:
            at_valves = inj.evaporated
        elif of_end[e] < 0:
            msg = (f"fuel is to join pipe '{inj.pipe}' on its way to its {inj.toward}, but that end is closed; "
                   "send it the other way")
            raise InputError(msg)
        else:
            at.append((of_end[e], link_at[M.N_NODE, of_end[e]]))
            values.append((inj.evaporated, inj.temperature))
    return (np.array(at, dtype=np.int64).reshape(-1, M.J_COUNT).T.copy(),
            np.array(values, dtype=float).reshape(-1, M.I_COUNT).T.copy(), at_valves)


def _valves(ends: L.Ends, first_pipe: int) -> tuple[np.ndarray, np.ndarray]:
    """Valve arrays, in the order of the pipe ends."""
    mine = np.flatnonzero(ends.kind == L.VALVE)
    at = np.zeros((M.V_COUNT, len(mine)), dtype=np.int64)
    valve = np.zeros((M.W_COUNT, len(mine)))
    for v, e in enumerate(mine):
        exhaust = int(ends.valve[e]) % 2
        at[:, v] = first_pipe + e // 2, ends.node[e], exhaust, 1 - exhaust
        valve[M.W_FACE, v] = ends.area[e]
    return at, valve


def fill_store(gas: GasTable, store: np.ndarray, volume: np.ndarray, k: int, p: float, T: float, yf: float,
               yb: float) -> None:
    """Fill store ``k`` with gas at p (Pa), T (K) and mass fractions, with all that follows from them."""
    R, cp, h = mix_R(gas, yf, yb), mix_cp(gas, T, yf, yb), mix_h(gas, T, yf, yb)
    gamma, m = cp / (cp - R), p * volume[k] / (R * T)
    x = store[:, k]
    x[[M.X_M, M.X_MF, M.X_MB, M.X_U, M.X_T, M.X_P]] = m, m * yf, m * yb, m * (h - R * T), T, p
    x[[M.X_YF, M.X_YB, M.X_R, M.X_H, M.X_GAMMA]] = yf, yb, R, h, gamma
    critical = critical_ratio(gamma)
    x[[M.X_SPECIFIC, M.X_STIFF]] = volume[k] / m, gamma * R * T / volume[k]
    x[[M.X_CHOKE, M.X_CRITICAL]] = psi(critical, gamma) ** 2, critical


def _stores(model: L.Model, shapes: list[dict[int, float]], steps: dict[int, tuple[int, int]]
            ) -> tuple[np.ndarray, np.ndarray, int, int]:
    """Stores at their start, their constants, and the indices of the first junction and the first pipe."""
    nodes, junctions, flow, first = model.nodes, model.junctions, model.flow, model.ducts.first
    kept = [j for j in range(len(junctions.m)) if j not in steps]
    nn, nj = len(nodes.m), len(kept)
    store, const = np.zeros((M.X_COUNT, nn + nj + len(shapes))), np.zeros((M.K_COUNT, nn + nj + len(shapes)))
    const[M.K_VOLUME, : nn + nj] = np.concatenate([nodes.volume, junctions.volume[kept]])
    const[M.K_H_WALL, :nn], const[M.K_T_WALL, :] = nodes.h_wall, 300.0
    const[M.K_T_WALL, :nn], const[M.K_DIAMETER], const[M.K_AREA] = nodes.t_wall, 1.0, 1.0
    for k, shape in enumerate(shapes):
        for row, value in shape.items():
            const[row, nn + nj + k] = value
    for j, pair in steps.items():
        for e in pair:
            const[M.K_VOLUME, nn + nj + e // 2] += 0.5 * junctions.volume[j]
    const[M.K_PER_VOLUME] = 1.0 / const[M.K_VOLUME]
    content = [(nodes.p[k], nodes.T[k], nodes.mf[k] / nodes.m[k], nodes.mb[k] / nodes.m[k]) for k in range(nn)]
    content += [(junctions.p[k], junctions.T[k], junctions.mf[k] / junctions.m[k], junctions.mb[k] / junctions.m[k])
                for k in kept]
    content += [(flow.p[i], flow.T[i], flow.rf[i] / flow.rho[i], flow.rb[i] / flow.rho[i]) for i in first]
    for k, (p, T, yf, yb) in enumerate(content):
        fill_store(model.gas, store, const[M.K_VOLUME], k, float(p), float(T), float(yf), float(yb))
    return store, const, nn, nn + nj


def _room(geometry: np.ndarray) -> np.ndarray:
    """Cylinder volume (m3) at every half degree."""
    room = np.zeros(1441)
    volumes(geometry, 0.5, room)
    return room


def lump(network: Network, gas: GasTable, cylinders: L.Cylinders | None = None) -> tuple[M.Lump, LumpNames]:
    """Lumped arrays of a network at rest and the names of its stores.

    Errors: InputError for an end that names nothing known, a junction without pipes or an injection no air can reach.
    """
    model, names = assemble(network, gas, WHOLE, cylinders)
    c, ends = model.cylinders, model.ends
    grids = [_slices(p) for p in network.pipes]
    alike = {key: _store_geometry(g) for key, g in {id(g): g for g in grids}.items()}
    shapes, meeting = [alike[id(g)] for g in grids], _meeting(ends)
    steps = _steps(network, ends, meeting)
    store, const, first_junction, first_pipe = _stores(model, shapes, steps)
    link_at, link, of_end = _links(ends, meeting, partial(_half, grids, shapes, ends), steps,
                                   (first_junction, first_pipe))
    injector_at, injector, at_valves = _injectors(network, ends, of_end, link_at)
    fuelling = np.array([max(c.fuelling[0], at_valves), c.fuelling[1]])
    valve_at, valve = _valves(ends, first_pipe)
    made = M.Lump(
        gas=gas.packed, store=store, const=const, first_pipe=first_pipe,
        link_at=link_at, link=link, flow=np.zeros(link.shape[1]), plug=np.zeros(link.shape[1]),
        valve_at=valve_at, valve=valve,
        injector_at=injector_at, injector=injector, phase=c.phase,
        geometry=c.geometry, room=_room(c.geometry),
        area_fwd=c.area_fwd[:2].copy(), area_rev=c.area_rev[:2].copy(), closed=c.closed,
        burn=c.burn, flame=c.flame, walls=c.walls, fuelling=fuelling, state=c.state,
    )
    return made, _names(names, steps, first_pipe)


def _names(names: Names, steps: dict[int, tuple[int, int]], first_pipe: int) -> LumpNames:
    kept = tuple(name for j, name in enumerate(names.junctions) if j not in steps)
    between = tuple((names.junctions[j], first_pipe + a // 2, first_pipe + b // 2) for j, (a, b) in steps.items())
    return LumpNames(names.volumes, kept, names.pipes, between)
