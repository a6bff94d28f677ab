"""Small networks for the exact cases: build, fill, march, listen. The only door from these cases to the solver.

All cases run at the settings an engine runs with (courant number 0.8, relaxation 1 ms) unless they say otherwise.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from pullcast.card.engine import End, Junction, Pipe, Segment, Volume
from pullcast.kernels import layout as L
from pullcast.kernels.gas import GasTable, perfect_gas
from pullcast.kernels.march import march_time, stored
from pullcast.network.arrays import assemble, set_gas
from pullcast.network.components import Network, Surroundings
from pullcast.solve.numerics import Numerics

GAMMA, R = 1.4, 287.05
AIR = perfect_gas(GAMMA, R)
CFL, TAU = Numerics().cfl, Numerics().relaxation

__all__ = ["AIR", "CFL", "GAMMA", "TAU", "End", "Junction", "Pipe", "R", "Rig", "Segment", "Surroundings", "Volume",
           "fitted_frequency", "pipe", "shaped", "smooth"]


def smooth(length: float, area_start: float, area_end: float | None = None, **kind) -> Segment:
    """A stretch without friction and heat unless ``kind`` says so."""
    kind = {"friction": 0.0, "heat_factor": 0.0} | kind
    return Segment(length, area_start, area_start if area_end is None else area_end, **kind)


def pipe(name: str, length: float, area: float, start: str | End = "closed", end: str | End = "closed",
         **kind) -> Pipe:
    """A straight pipe between two plain ends."""
    start, end = (e if isinstance(e, End) else End(e) for e in (start, end))
    return Pipe(name, start, end, (smooth(length, area, **kind),))


def shaped(name: str, length: float, area: Callable, start: str | End, end: str | End, pieces: int, **kind) -> Pipe:
    """A pipe whose area (m2) follows ``area(x)``, as ``pieces`` straight-sided stretches."""
    x = np.linspace(0.0, length, pieces + 1)
    a = [float(area(v)) for v in x]
    start, end = (e if isinstance(e, End) else End(e) for e in (start, end))
    segments = tuple(smooth(length / pieces, a[i], a[i + 1], **kind) for i in range(pieces))
    return Pipe(name, start, end, segments)


class Rig:
    """A network ready to march. p Pa, T K, u m/s, lengths m, times s."""

    def __init__(self, *pipes: Pipe, cell: float, volumes: tuple[Volume, ...] = (), gas: GasTable = AIR,
                 junctions: tuple[Junction, ...] = (), outside: Surroundings | None = None, cylinders=None,
                 cfl: float = CFL, tau: float = TAU) -> None:
        """Assemble the network, full of the surroundings' gas at rest."""
        self.outside = outside or Surroundings(101325.0, 293.15)
        network = Network(pipes, volumes, junctions, self.outside)
        self.model, self.names = assemble(network, gas, cell, cylinders)
        self.gas, self.cfl, self.tau, self.time = gas, cfl, tau, 0.0

    def cells(self, name: str) -> slice:
        """Real cells of a pipe."""
        k = self.names.pipes.index(name)
        return slice(self.names.first[k], self.names.last[k] + 1)

    def x(self, name: str) -> np.ndarray:
        """Cell centres of a pipe, m from its start."""
        k = self.names.pipes.index(name)
        return (np.arange(self.names.last[k] + 1 - self.names.first[k]) + 0.5) * self.names.dx[k]

    def fill(self, name: str, p, T, u=0.0, yf=0.0, yb=0.0) -> None:
        """Set the gas of a pipe (values or arrays over its cells)."""
        set_gas(self.gas, self.model.flow, self.cells(name), p, T, yf, yb, u)

    def fill_rho(self, name: str, rho, u, p) -> None:
        """Set the gas of a pipe by density, velocity and pressure."""
        self.fill(name, p, np.asarray(p) / (np.asarray(rho) * R), u)

    def fill_volume(self, index: int, p: float, T: float) -> None:
        """Set a volume (1 is the first) to air at p and T; perfect gas only."""
        n = self.model.nodes
        m = p * n.volume[index] / (R * T)
        n.m[index], n.p[index], n.T[index], n.mf[index], n.mb[index] = m, p, T, 0.0, 0.0
        cp = GAMMA * R / (GAMMA - 1)
        n.U[index] = m * (cp * (T - 298.15) - R * T)

    def march(self, duration: float) -> int:
        """March for ``duration``; steps taken. RuntimeError names where it broke down."""
        status, where, t, steps = march_time(self.model, float(duration), self.cfl, self.tau, 10_000_000)
        if status != L.OK:
            place = self.names.of_cell(where) if status == L.BAD_CELL else f"component {where}"
            msg = f"the march broke down with status {status} in {place} at {1e3 * (self.time + t):.4g} ms"
            raise RuntimeError(msg)
        self.time += t
        return steps

    def state(self, name: str) -> np.ndarray:
        """(3, n) rho, u, p of a pipe."""
        f, here = self.model.flow, self.cells(name)
        return np.array([f.rho[here], f.mom[here] / f.rho[here], f.p[here]])

    def listen(self, duration: float, step: float, places: list[tuple[str, float]]) -> tuple[np.ndarray, np.ndarray]:
        """March and record: times (n,), and rho, u, p at each (pipe, x) as (places, 3, n), linear between cells."""
        n = round(duration / step)
        t, out = np.empty(n), np.empty((len(places), 3, n))
        for i in range(n):
            self.march(step)
            t[i] = self.time
            for k, (name, at) in enumerate(places):
                s = self.state(name)
                out[k, :, i] = [np.interp(at, self.x(name), row) for row in s]
        return t, out

    def stored(self) -> tuple[float, float]:
        """Mass (kg) and energy (J) in the network."""
        return stored(self.model)

    def end_flow(self, name: str, at_start: bool) -> float:
        """Mass flow into the pipe at one of its ends, kg/s."""
        return float(self.model.ends.flow[0, 2 * self.names.pipes.index(name) + (0 if at_start else 1)])


def fitted_frequency(t: np.ndarray, y: np.ndarray, guess: float, terms: int = 1) -> float:
    """Frequency (Hz) of the strongest decaying oscillation near ``guess``: least squares over frequency and decay.

    The rest of the signal is taken up by a constant and ``terms`` - 1 odd overtones, each free in size and phase.
    """
    from scipy.optimize import minimize

    def miss(v: np.ndarray) -> float:
        w, d = 2 * np.pi * guess * v[0], guess * v[1]
        columns = [np.ones_like(t)]
        for k in range(terms):
            e = np.exp(-d * (2 * k + 1) * t)
            columns += [e * np.cos((2 * k + 1) * w * t), e * np.sin((2 * k + 1) * w * t)]
        a = np.array(columns).T
        rest = y - a @ np.linalg.lstsq(a, y, rcond=None)[0]
        return float(rest @ rest) / float(y @ y)

    best = min((miss(np.array([f, 0.1])), f) for f in np.linspace(0.9, 1.1, 81))[1]
    options = {"xatol": 1e-7, "fatol": 1e-15}
    return float(guess * minimize(miss, [best, 0.1], method="Nelder-Mead", options=options).x[0])
