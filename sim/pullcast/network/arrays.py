"""Network -> arrays: names become indices here, and nowhere else."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from pullcast.card.engine import End
from pullcast.errors import InputError
from pullcast.kernels import layout as L
from pullcast.kernels.gas import GasTable, mix_cp, mix_h, mix_R
from pullcast.network.components import Network
from pullcast.network.grid import Grid, cut

HOT = 950.0  # K, starting temperature of exhaust gas
MIXING = 0.15  # depth of a junction over the largest diameter that meets there
WALL_H = 8.0  # W/(m2 K), gas to the wall of a volume: free convection 2 to 25 (Incropera & DeWitt, table 1.1)


@dataclass(frozen=True)
class Names:
    """What each index of the arrays is called, for messages and probes."""

    pipes: tuple[str, ...]
    volumes: tuple[str, ...]
    junctions: tuple[str, ...]
    first: tuple[int, ...]
    last: tuple[int, ...]
    dx: tuple[float, ...] = field(default=())

    def of_cell(self, index: int) -> str:
        """Pipe that holds a cell, with the distance from its start."""
        for name, first, last, dx in zip(self.pipes, self.first, self.last, self.dx, strict=True):
            if first <= index <= last:
                return f"pipe '{name}', {1e3 * (index - first + 0.5) * dx:.0f} mm from its start"
        return f"cell {index}"

    def cell_at(self, pipe: str, distance: float) -> int:
        """Index of the cell of ``pipe`` at ``distance`` (m) from its start; InputError naming the pipes there are."""
        if pipe not in self.pipes:
            msg = f"no pipe is called '{pipe}'; this engine has: {', '.join(self.pipes)}"
            raise InputError(msg)
        k = self.pipes.index(pipe)
        return min(self.first[k] + int(distance / self.dx[k]), self.last[k])


def _ducts(grids: list[Grid]) -> L.Ducts:
    """Concatenate pipes, one ghost cell at either end of each."""
    first, last, at = [], [], 0
    for g in grids:
        first.append(at + 1)
        last.append(at + len(g.volume))
        at += len(g.volume) + 2
    n = at
    d = L.Ducts(
        first=np.array(first, dtype=np.int64), last=np.array(last, dtype=np.int64), dx=np.ones(n), vol=np.ones(n),
        face=np.zeros(n + 1), slope=np.zeros(n), diameter=np.ones(n), roughness=np.zeros(n), loss=np.zeros(n),
        wall=np.full(n, 300.0), heat_factor=np.zeros(n), friction=np.zeros(n), real=np.zeros(n),
    )
    for g, a, b in zip(grids, first, last, strict=True):
        here = slice(a, b + 1)
        d.dx[a - 1 : b + 2] = g.dx
        d.vol[here] = g.volume
        d.face[a : b + 2] = g.face
        d.slope[here] = np.diff(g.face) / g.volume
        d.diameter[a - 1 : b + 2] = np.pad(g.diameter, 1, mode="edge")
        d.roughness[here] = g.roughness
        d.loss[here] = g.loss
        d.wall[here] = g.wall
        d.heat_factor[here] = g.heat_factor
        d.friction[here] = g.friction
        d.real[here] = 1.0
    return d


def _flow(n: int) -> L.Flow:
    """Empty duct state for n cells."""
    one = ("rho", "mom", "ene", "rf", "rb", "p", "u", "yf", "yb", "gamma", "e0", "a", "T", "eint", "cf", "ch",
           "p_half")
    arrays = {name: np.zeros(n) for name in one}
    return L.Flow(**arrays, left=np.zeros((5, n)), right=np.zeros((5, n)), flux=np.zeros((5, n + 1)),
                  flux_lo=np.zeros(n + 1), flux_hi=np.zeros(n + 1))


def set_gas(gas: GasTable, flow: L.Flow, here: slice, p, T, yf=0.0, yb=0.0, u=0.0) -> None:
    """Fill cells ``here`` with gas at p (Pa), T (K), mass fractions and velocity (m/s); scalars or arrays."""
    shape = flow.rho[here].shape
    p, T, yf, yb, u = (np.broadcast_to(v, shape) if isinstance(v, np.ndarray) else np.full(shape, float(v))
                       for v in (p, T, yf, yb, u))
    for i, k in enumerate(range(*here.indices(len(flow.rho)))):
        R = mix_R(gas, yf[i], yb[i])
        cp = mix_cp(gas, T[i], yf[i], yb[i])
        rho = p[i] / (R * T[i])
        flow.rho[k], flow.mom[k], flow.p[k] = rho, rho * u[i], p[i]
        flow.rf[k], flow.rb[k] = rho * yf[i], rho * yb[i]
        flow.ene[k] = rho * (mix_h(gas, T[i], yf[i], yb[i]) - R * T[i] + 0.5 * u[i] ** 2)
        flow.T[k], flow.u[k], flow.gamma[k] = T[i], u[i], cp / (cp - R)
        flow.a[k] = math.sqrt(flow.gamma[k] * R * T[i])


def _kind(end: End, network: Network, volumes: dict, junctions: dict, where: str) -> tuple[int, int]:
    """Kind of end and index of the node it opens into."""
    node = end.node
    if node == "closed":
        return L.CLOSED, 0
    if node in volumes:
        return (L.OPEN if end.area is None else L.ORIFICE), volumes[node]
    if node in junctions:
        return (L.JUNCTION if end.area is None else L.JUNCTION_ORIFICE), junctions[node]
    if " valve " in node:
        return L.VALVE, int(node.rsplit(" ", 1)[1]) - 1
    known = ", ".join(["ambient", "closed", *volumes, *junctions])
    msg = f"{where} opens into '{node}', which the network does not have; it has: {known}"
    raise InputError(msg)


def _row_offset(kind: int, network: Network) -> int:
    """Where the rows of a kind of node start in the table of what is outside."""
    nn = 1 + len(network.volumes)
    if kind in (L.JUNCTION, L.JUNCTION_ORIFICE):
        return nn
    return nn + len(network.junctions) if kind == L.VALVE else 0


def _ends(network: Network, d: L.Ducts) -> L.Ends:
    """Two ends per pipe: start first."""
    volumes = {"ambient": 0} | {v.name: i + 1 for i, v in enumerate(network.volumes)}
    junctions = {j.name: i for i, j in enumerate(network.junctions)}
    ne = 2 * len(network.pipes)
    ints = {k: np.zeros(ne, dtype=np.int64) for k in
            ("kind", "cell", "ghost", "face", "node", "valve", "row", "lone", "inlet", "free", "beside")}
    reals = {k: np.zeros(ne) for k in
             ("sign", "area", "loss_in", "loss_out", "orifice", "nx", "ny", "p_face", "w_drawn", "merge", "ahead",
              "spare", "push", "along")}
    ends = L.Ends(**ints, **reals, flow=np.zeros((6, ne)))
    for k, pipe in enumerate(network.pipes):
        for e, end, at_start in ((2 * k, pipe.start, True), (2 * k + 1, pipe.end, False)):
            name = f"the {'start' if at_start else 'end'} of pipe '{pipe.name}'"
            ends.kind[e], ends.node[e] = _kind(end, network, volumes, junctions, name)
            ends.cell[e] = d.first[k] if at_start else d.last[k]
            ends.ghost[e] = ends.cell[e] - 1 if at_start else ends.cell[e] + 1
            ends.face[e] = d.first[k] if at_start else d.last[k] + 1
            ends.sign[e] = 1.0 if at_start else -1.0
            ends.area[e] = d.face[ends.face[e]]
            ends.loss_in[e], ends.loss_out[e] = end.loss_in, end.loss_out
            ends.orifice[e] = end.area or 0.0
            ends.nx[e] = round(math.cos(math.radians(end.angle_deg)), 15)
            ends.ny[e] = round(math.sin(math.radians(end.angle_deg)), 15)
            ends.row[e] = ends.node[e] + _row_offset(ends.kind[e], network)
            ends.lone[e] = d.first[k] == d.last[k]
            ends.inlet[e] = end.node == "ambient" and pipe.name not in network.burned_pipes
            if ends.kind[e] == L.VALVE:
                ends.valve[e] = 2 * ends.node[e] + (0 if end.node.startswith("intake") else 1)
            ends.p_face[e] = network.surroundings.pressure
    shaped = [end.shaped for pipe in network.pipes for end in (pipe.start, pipe.end)]
    _meet(ends, shaped)
    return ends


def _meet(ends: L.Ends, shaped: list[bool]) -> None:
    """Link the ends that meet at a junction in a ring, and say how each pipe takes in what the others bring.

    ``merge``: a pipe that draws faster than the jets carry loses all of the mixing loss where it turns off, none
    where the others run into it in line. Between, as the loss of a conical contraction to half the area grows with
    the slope of its walls: 1.6 sin a to 22.5 deg, sqrt(sin a) beyond (Crane TP-410, 2009, gradual contraction), a
    the mean turn of the others into the pipe by their area. None where the card shapes the mouth: its loss
    coefficient says all.
    ``ahead``: 1 in line with another pipe, 0 from 45 deg (Bassett et al. 2001: eq. 15 in line, eq. 27 from 45 deg);
    straight between, which is a choice. None where only two pipes meet.
    """
    ends.beside[:] = np.arange(len(ends.beside))
    joined = (ends.kind == L.JUNCTION) | (ends.kind == L.JUNCTION_ORIFICE)
    for node in np.unique(ends.node[joined]):
        ring = np.flatnonzero(joined & (ends.node == node))
        ends.beside[ring] = np.roll(ring, -1)
        for e in ring:
            others = ring[ring != e]
            if not len(others):
                continue
            x = -(ends.nx[others] * ends.nx[e] + ends.ny[others] * ends.ny[e])
            turns = np.arccos(np.clip(x, -1.0, 1.0))
            if len(others) > 1:
                ends.ahead[e] = max(1.0 - turns.min() / (math.pi / 4), 0.0)
            if not shaped[e]:
                turn = np.average(turns, weights=ends.area[others])
                s = math.sin(min(turn, math.pi / 2))
                ends.merge[e] = 1.6 * s if turn < math.pi / 8 else math.sqrt(s)


def _nodes(network: Network, gas: GasTable) -> L.Nodes:
    """Volumes, with the surroundings as number 0, full of the surroundings' gas."""
    s = network.surroundings
    nn = 1 + len(network.volumes)
    volume = np.array([1.0] + [v.volume for v in network.volumes])
    hot = np.array([False] + [v.name in network.burned_pipes for v in network.volumes])
    T = np.where(hot, HOT, s.temperature)
    yf, yb = np.where(hot, 0.0, s.fuel), np.where(hot, 1.0, s.burned)
    R = np.array([mix_R(gas, f, b) for f, b in zip(yf, yb, strict=True)])
    h = np.array([mix_h(gas, t, f, b) for t, f, b in zip(T, yf, yb, strict=True)])
    m = s.pressure * volume / (R * T)
    return L.Nodes(
        volume=volume, h_wall=np.array([0.0] + [v.wall_area * WALL_H for v in network.volumes]),
        t_wall=np.array([300.0] + [v.wall_temperature for v in network.volumes]), m=m, mf=m * yf, mb=m * yb,
        U=m * (h - R * T), p=np.full(nn, s.pressure), T=T.astype(float), p_sum=np.zeros(nn), acc=np.zeros((4, nn)),
    )


def default_junction_volume(areas: np.ndarray) -> float:
    """Volume given to a junction whose card states none: the openings' area times .15 of the largest diameter, m3.

    Enough to mix in; ``network.build`` takes it off the pipes, so that no length is added.
    """
    return float(MIXING * areas.sum() * math.sqrt(4 / math.pi * areas.max()))


def _junctions(network: Network, ends: L.Ends, gas: GasTable) -> L.Junctions:
    """Junction cells at rest."""
    s = network.surroundings
    nj = len(network.junctions)
    volume, hot = np.ones(nj), np.zeros(nj, dtype=bool)
    for k, junction in enumerate(network.junctions):
        mine = ((ends.kind == L.JUNCTION) | (ends.kind == L.JUNCTION_ORIFICE)) & (ends.node == k)
        if not mine.any():
            msg = f"junction '{junction.name}' meets no pipe; connect pipes to it or take it out"
            raise InputError(msg)
        volume[k] = junction.volume or default_junction_volume(ends.area[mine])
        hot[k] = any(network.pipes[e // 2].name in network.burned_pipes for e in np.flatnonzero(mine))
    T = np.where(hot, HOT, s.temperature)
    yf, yb = np.where(hot, 0.0, s.fuel), np.where(hot, 1.0, s.burned)
    R = np.array([mix_R(gas, f, b) for f, b in zip(yf, yb, strict=True)])
    h = np.array([mix_h(gas, t, f, b) for t, f, b in zip(T, yf, yb, strict=True)])
    m = s.pressure * volume / (R * T) if nj else np.zeros(0)
    return L.Junctions(
        volume=volume, m=m, mf=m * yf, mb=m * yb, px=np.zeros(nj), py=np.zeros(nj),
        E=m * (h - R * T) if nj else np.zeros(0), p=np.full(nj, s.pressure), T=T.astype(float), p_sum=np.zeros(nj),
        acc=np.zeros((7, nj)),
    )


def _injectors(network: Network, d: L.Ducts) -> L.Injectors:
    """Faces for the injections of the network."""
    index = {p.name: k for k, p in enumerate(network.pipes)}
    face, sign = [], []
    for inj in network.injections:
        k = index[inj.pipe]
        cells = max(1, round(inj.distance / d.dx[d.first[k]]))
        cells = min(cells, max(1, d.last[k] - d.first[k]))  # a pipe of one cell takes the fuel into that cell
        to_end = inj.toward == "end"
        face.append(d.last[k] + 1 - cells if to_end else d.first[k] + cells)
        sign.append(1.0 if to_end else -1.0)
    return L.Injectors(
        face=np.array(face, dtype=np.int64), sign=np.array(sign, dtype=float),
        evaporated=np.array([i.evaporated for i in network.injections], dtype=float),
        temperature=np.array([i.temperature for i in network.injections], dtype=float),
    )


def no_cylinders() -> L.Cylinders:
    """Empty cylinder arrays for networks without an engine."""
    z = np.zeros
    none = z(0, dtype=np.int64)
    return L.Cylinders(
        geometry=np.array([0.1, 0.1, 0.2, 0.0, 1e-4, 1.0]), phase=z(0), area_fwd=z((0, 1441)), area_rev=z((0, 1441)),
        intake_row=none, exhaust_row=none.copy(), closed=z((0, 2)), burn=z(10), flame=z(8), walls=z(5),
        fuelling=z(2), state=z((0, L.S_COUNT)), acc=z((0, L.A_COUNT)), out=z((0, L.C_COUNT)),
    )


def assemble(network: Network, gas: GasTable, cell: float, cylinders: L.Cylinders | None = None,
             hot_stretch: float = 1.0) -> tuple[L.Model, Names]:
    """Arrays of a network at rest, and the names of their indices.

    Cells are about ``cell`` metres long, ``hot_stretch`` times that in pipes that start full of burned gas.

    Errors: InputError for an end that names nothing known or a junction without pipes.
    """
    grids = [cut(p, cell * (hot_stretch if p.name in network.burned_pipes else 1.0)) for p in network.pipes]
    d = _ducts(grids)
    flow = _flow(len(d.vol))
    s = network.surroundings
    for k, pipe in enumerate(network.pipes):
        here = slice(d.first[k] - 1, d.last[k] + 2)
        if pipe.name in network.burned_pipes:
            set_gas(gas, flow, here, s.pressure, HOT, 0.0, 1.0)
        else:
            set_gas(gas, flow, here, s.pressure, s.temperature, s.fuel, s.burned)
    ends = _ends(network, d)
    cylinders = cylinders or no_cylinders()
    model = L.Model(
        gas=gas, ducts=d, flow=flow, ends=ends, injectors=_injectors(network, d), nodes=_nodes(network, gas),
        junctions=_junctions(network, ends, gas), cylinders=cylinders,
        outside=np.zeros((1 + len(network.volumes) + len(network.junctions) + len(cylinders.state), L.O_COUNT)),
        books=np.zeros(L.B_COUNT),
    )
    names = Names(
        pipes=tuple(p.name for p in network.pipes), volumes=("ambient", *(v.name for v in network.volumes)),
        junctions=tuple(j.name for j in network.junctions), first=tuple(int(i) for i in d.first),
        last=tuple(int(i) for i in d.last), dx=tuple(float(g.dx) for g in grids),
    )
    return model, names
