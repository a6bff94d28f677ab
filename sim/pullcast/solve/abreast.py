"""Lumped points marched side by side until each repeats: many speeds and engines of one topology in step.

A kernel marches ``WIDTH`` lanes at the price of about two; each lane holds a point of its own, which ends by its own
convergence, whereupon the next that waits takes its place. What a lane gives does not hang on what the others hold.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from queue import SimpleQueue
from threading import Event, Lock
from types import SimpleNamespace

import numpy as np

from pullcast.card.engine import Engine
from pullcast.errors import SolveError
from pullcast.kernels import layout as L
from pullcast.kernels import lumps as M
from pullcast.kernels.lanes import WIDTH
from pullcast.kernels.lumped import lumped_cycle
from pullcast.solve import lumped_run
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point, unbalanced
from pullcast.solve.slow_volumes import SlowVolumes

TOGETHER = lumped_run.KEPT  # engines whose speeds are sorted together: neighbours need like numbers of sub-steps
LONGER = 2.0  # crank steps by those of the wave model: cylinders and valve areas change no faster than that
PIPES = 0.25  # weight of the rms change of pipe states against masses and works, as in the wave model
NO_TRACE = np.zeros((0, 0, 0, 0))

Result = tuple[int, Point | SolveError]


class Waiting:
    """Points not yet begun, handed out to whoever asks for one that can march beside theirs; threads may ask."""

    def __init__(self, engines: Sequence[Engine], speeds: Sequence[float]) -> None:
        self.engines, self.speeds = engines, speeds
        groups, last = [], None
        for engine in engines:
            groups.append(groups[-1] + (engine is not last) if groups else 0)
            last = engine
        order = sorted(range(len(engines)), key=lambda i: (groups[i] // TOGETHER, speeds[i]))
        self.order, self.aside, self.lock = deque(order), [], Lock()

    def take(self, like: M.Lump | None = None) -> tuple[int, lumped_run.LumpedRun] | None:
        """The next point, prepared; with ``like`` one that can march beside that. None if there is none."""
        with self.lock:
            for n, (_, run) in enumerate(self.aside):
                if like is None or M.alike(like, run.lump):
                    return self.aside.pop(n)
            while self.order:
                i = self.order.popleft()
                run = lumped_run.prepare_lumped(self.engines[i], self.speeds[i])
                if like is None or M.alike(like, run.lump):
                    return i, run
                self.aside.append((i, run))
        return None


@dataclass
class _Seat:
    """The point that a lane holds."""

    index: int
    run: lumped_run.LumpedRun
    slow: SlowVolumes
    history: list[tuple[int, float, float, float]] = field(default_factory=list)
    steps: int = 0
    worst: str = ""


@dataclass(frozen=True)
class _Cycle:
    """What the lanes gave in a cycle; the last axis of everything are the lanes."""

    trapped: np.ndarray
    work: np.ndarray
    pipes: np.ndarray


def stored(b: M.Batch) -> tuple[np.ndarray, np.ndarray]:
    """Mass (kg) and energy with formation (J) in stores and cylinders, of every lane."""
    x, hf = b.store[:, 1:], b.gas[M.HF]
    mass = x[M.X_M].sum(axis=0) + b.state[:, L.S_M].sum(axis=0)
    energy = (x[M.X_U] + hf[0] * x[M.X_M] + (hf[1] - hf[0]) * x[M.X_MF] + (hf[2] - hf[0]) * x[M.X_MB]).sum(axis=0)
    return mass, energy + b.state[:, L.S_U].sum(axis=0)


def _given(b: M.Batch) -> _Cycle:
    """What must repeat: trapped masses, works, and pressures and densities of the stores."""
    work = b.out[:, L.C_WORK_GROSS] + b.out[:, L.C_WORK_PUMP]
    pipes = np.concatenate([b.store[M.X_P, 1:], 1.0 / b.store[M.X_SPECIFIC, 1:]])
    return _Cycle(b.out[:, L.C_TRAPPED].copy(), work, pipes)


def _changes(new: _Cycle, old: _Cycle) -> dict[str, np.ndarray]:
    """Relative changes from one cycle to the next, and of what."""
    return {
        "trapped mass": np.abs(new.trapped - old.trapped).max(axis=0) / np.abs(new.trapped).mean(axis=0),
        "cylinder work": np.abs(new.work - old.work).max(axis=0) / np.abs(new.work).mean(axis=0),
        "pipe states": PIPES * np.sqrt(np.mean(((new.pipes - old.pipes) / new.pipes) ** 2, axis=0)),
    }


def _residuals(b: M.Batch, gas, before: tuple, after: tuple) -> tuple[np.ndarray, np.ndarray]:
    """Mass and energy that the books of the last cycle cannot account for, relative to the cycle's throughput."""
    k = b.books
    mass = after[0] - before[0] - (k[L.B_MASS_IN] - k[L.B_MASS_OUT] + k[L.B_FUEL])
    heat = k[L.B_Q_DUCT] + k[L.B_Q_NODE] - k[L.B_Q_CYL]
    energy = after[1] - before[1] - (k[L.B_H_IN] - k[L.B_H_OUT] + k[L.B_H_FUEL] + heat - k[L.B_WORK])
    burned = np.abs(k[L.B_FUEL]) * float(gas.mix[4])
    return mass / np.maximum(k[L.B_MASS_IN], 1e-12), energy / np.where(burned > 0.0, burned, 1.0)


def _volumes(b: M.Batch, lane: int) -> SimpleNamespace:
    """The surroundings and the volumes among the stores, as ``pullcast.solve.slow_volumes`` wants them: views."""
    rows = {"m": M.X_M, "mf": M.X_MF, "mb": M.X_MB, "U": M.X_U, "T": M.X_T}
    return SimpleNamespace(**{name: b.store[row, : b.first_pipe, lane] for name, row in rows.items()})


class Bench:
    """Lanes that march points of one topology, fed from ``waiting``."""

    def __init__(self, first: tuple[int, lumped_run.LumpedRun], waiting: Waiting, numerics: Numerics, *,
                 traces: bool = False, stations: tuple[tuple[str, float], ...] = ()) -> None:
        self.like, self.waiting, self.numerics, self.traces = first[1].lump, waiting, numerics, traces
        self.batch = M.empty_batch(self.like)
        self.seats: list[_Seat | None] = [None] * WIDTH
        self.old = _given(self.batch)
        self.trace, self.probes = lumped_run.records(first[1], stations) if traces else (NO_TRACE, NO_TRACE)
        self._sit(0, first)
        self._fill()

    def _sit(self, lane: int, one: tuple[int, lumped_run.LumpedRun]) -> None:
        index, run = one
        M.seat(self.batch, lane, run.lump, run.rpm, run.octane)
        throughput = self.batch.state[:, L.S_M, lane].sum()
        self.seats[lane] = _Seat(index, run, SlowVolumes(_volumes(self.batch, lane), run.gas, throughput))

    def _fill(self) -> None:
        for lane in range(WIDTH):
            if self.seats[lane] is None:
                one = self.waiting.take(self.like)
                if one is None:
                    return
                self._sit(lane, one)

    def march(self, stop: Event) -> Iterator[Result]:
        """Points as they finish, in no order; none more once ``stop`` is set."""
        while any(self.seats) and not stop.is_set():
            before = stored(self.batch)
            lumped_cycle(self.batch, LONGER * self.numerics.max_step_deg, self.trace, self.probes, self.traces)
            with np.errstate(all="ignore"):  # lanes that are idle or broken
                new = _given(self.batch)
                changes = _changes(new, self.old)
                residuals = _residuals(self.batch, self._gas(), before, stored(self.batch))
            self.old = new
            for lane, seat in enumerate(self.seats):
                done = seat and self._cycle_done(seat, lane, new, changes, residuals)
                if done:
                    self.seats[lane] = None
                    self.batch.fate[M.F_STATUS, lane] = M.IDLE
                    yield seat.index, done
            self._fill()

    def _gas(self):
        return next(seat.run.gas for seat in self.seats if seat)

    def _cycle_done(self, seat: _Seat, lane: int, new: _Cycle, changes: dict[str, np.ndarray],
                    residuals: tuple) -> Point | SolveError | None:
        """Note a cycle of a lane; its point if that was the last, or why there is none."""
        b, n = self.batch, self.numerics
        if b.fate[M.F_STATUS, lane] != L.OK:
            return lumped_run.broken(seat.run, b, lane)
        cycle = len(seat.history) + 1
        seat.steps += int(b.taken[0, lane])
        if not np.isfinite(new.work[:, lane]).all():
            return SolveError("the cycle's work is not a number", rpm=seat.run.rpm, angle_deg=720.0,
                              component="a cylinder")
        change, seat.worst = np.inf, ""
        if cycle == 1:
            b.pace[:, lane] = 1.0  # what the start from rest asked for is not what the engine asks for
        else:
            seat.worst, change = max(((k, float(v[lane])) for k, v in changes.items()), key=lambda pair: pair[1])
        row = cycle, float(new.trapped[:, lane].sum()), float(new.work[:, lane].sum()), change
        seat.history.append(row)
        if cycle > 1 and seat.slow.matter:
            missing = unbalanced(b.books[:, lane], b.out[..., lane])
            change, seat.worst = max((change, seat.worst), (missing, "air stored in a volume"))
        status = ""
        if cycle < n.min_cycles or not change < n.tolerance:
            if cycle < n.max_cycles:
                seat.slow.hurry()
                return None
            status = (f"not converged after {n.max_cycles} cycles: {seat.worst} still changes by "
                      f"{100 * change:.2g} % a cycle")
        traces = (self.trace[lane].copy(), self.probes[lane].copy()) if self.traces else (None, None)
        books = float(residuals[0][lane]), float(residuals[1][lane])
        return lumped_run.point_of(seat.run, b, lane, books, tuple(seat.history), seat.steps, status, *traces)


def _march_all(waiting: Waiting, numerics: Numerics, stop: Event, traces: bool, stations: tuple) -> Iterator[Result]:
    first = waiting.take()
    while first is not None and not stop.is_set():
        yield from Bench(first, waiting, numerics, traces=traces, stations=stations).march(stop)
        first = waiting.take()


def abreast(engines: Sequence[Engine], speeds: Sequence[float], numerics: Numerics | None = None, *,
            workers: int = 1, traces: bool = False,
            stations: tuple[tuple[str, float], ...] = ()) -> Iterator[Result]:
    """Lumped points of engines, the i-th at the i-th speed (rpm): pairs of i and the point, as they finish.

    A point whose march breaks down comes as its SolveError. ``workers`` threads march benches of their own.
    Errors: InputError for a station of no pipe, or a cam that leaves nothing to compress and burn in.
    """
    waiting, stop, numerics = Waiting(engines, speeds), Event(), numerics or Numerics()
    workers = min(workers, -(-len(engines) // WIDTH))
    if workers <= 1:
        yield from _march_all(waiting, numerics, stop, traces, stations)
        return
    done: SimpleQueue = SimpleQueue()

    def work() -> None:
        try:
            for result in _march_all(waiting, numerics, stop, traces, stations):
                done.put(result)
        finally:
            done.put(None)

    with ThreadPoolExecutor(workers) as pool:
        futures = [pool.submit(work) for _ in range(workers)]
        try:
            for _ in futures:
                while (result := done.get()) is not None:
                    yield result
        finally:
            stop.set()
        for future in futures:
            future.result()
