"""Many speeds of one engine, over worker processes; points come back in order, failures as values."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context

from pullcast.card.engine import Engine
from pullcast.errors import InputError, SolveError
from pullcast.kernels.lanes import WIDTH
from pullcast.solve.abreast import abreast
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point, settle
from pullcast.solve.warm import warm


@dataclass(frozen=True)
class Failed:
    """A speed whose march broke down, with the message."""

    rpm: float
    message: str


Progress = Callable[[float, int, int, str], None]


def _attempt(engine: Engine, rpm: float, numerics: Numerics, traces: bool, stations: tuple) -> Point | Failed:
    """One speed by waves in a worker: a point, or why there is none."""
    try:
        return settle(engine, rpm, numerics, traces=traces, stations=stations)
    except SolveError as error:
        return Failed(rpm, str(error))


def outcome(point: Point | SolveError, rpm: float) -> Point | Failed:
    """A lumped point, or the message of the error that came in its place."""
    return Failed(rpm, str(point)) if isinstance(point, SolveError) else point


def lumped_points(engines: Sequence[Engine], speeds: Sequence[float], numerics: Numerics, traces: bool = False,
                  stations: tuple = ()) -> list[Point | Failed]:
    """Lumped points by one thread, in the order asked for; can be sent to another process."""
    found: dict[int, Point | Failed] = {
        i: outcome(point, speeds[i]) for i, point in abreast(engines, speeds, numerics, traces=traces,
                                                             stations=stations)}
    return [found[i] for i in range(len(speeds))]


def default_workers(points: int) -> int:
    """Processes used when none are asked for: all cores, not more than points."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, min(points, cores))


def _processes(workers: int) -> Executor:
    """Worker processes; lumped points are too quick for them and march side by side instead."""
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn" if os.name == "nt" else "fork"))


def settle_many(engines: Sequence[Engine], speeds: Sequence[float], numerics: Numerics | None = None, *,
                workers: int | None = None) -> list[Point | Failed]:
    """Lumped points of many engines, the i-th at the i-th speed (rpm), by threads; the order is that of ``engines``.

    An engine is built once if its speeds follow one another. Points of one topology march side by side, and each is
    what ``settle_lumped`` gives, whatever else is computed beside it.
    Errors: InputError if there are not as many speeds as engines.
    """
    if len(engines) != len(speeds):
        msg = f"{len(engines)} engines but {len(speeds)} speeds; give one speed for each engine"
        raise InputError(msg)
    numerics = numerics or Numerics()
    warm()
    found = dict(abreast(engines, speeds, numerics, workers=workers or default_workers(len(speeds))))
    return [outcome(found[i], speeds[i]) for i in range(len(speeds))]


def sweep(engine: Engine, speeds: Sequence[float], numerics: Numerics | None = None, *, workers: int | None = None,
          traces: bool = False, stations: tuple[tuple[str, float], ...] = (), on_point: Progress | None = None,
          executor: Executor | None = None, fidelity: str = "wave") -> list[Point | Failed]:
    """March an engine at every speed (rpm); the order of the result is that of ``speeds``.

    ``fidelity`` is "wave" (``pullcast.solve.settle``) or "lumped" (``pullcast.solve.lumped``).
    ``workers`` 1 marches in this process. ``executor`` is any ``concurrent.futures`` executor (a cluster's, say).
    ``on_point(rpm, done, total, note)`` is called as points finish, and with done 0 before kernels are compiled.
    """
    if fidelity not in ("wave", "lumped"):
        msg = f"no fidelity {fidelity!r}; there are 'wave' and 'lumped'"
        raise InputError(msg)
    lumped = fidelity == "lumped"
    numerics = numerics or Numerics()
    total, done = len(speeds), 0
    if executor is None and total:
        say = (lambda text: on_point(speeds[0], 0, total, text)) if on_point else None
        warm(say)
    results: list[Point | Failed | None] = [None] * total
    workers = workers or default_workers(total)

    def keep(i: int, result: Point | Failed) -> None:
        nonlocal done
        done += 1
        results[i] = result
        if on_point:
            note = result.message if isinstance(result, Failed) else result.status or result.remedy
            on_point(speeds[i], done, total, note)

    if lumped and executor is None:
        pairs = [engine] * total, speeds
        for i, point in abreast(*pairs, numerics, workers=workers, traces=traces, stations=stations):
            keep(i, outcome(point, speeds[i]))
        return results
    if executor is None and workers == 1:
        for i, rpm in enumerate(speeds):
            keep(i, _attempt(engine, rpm, numerics, traces, stations))
        return results
    own = executor is None
    # slowest (lowest speed) first, so that the last worker is not left with the longest point
    order = sorted(range(total), key=lambda i: speeds[i])
    size = WIDTH if lumped else 1
    groups = [order[i : i + size] for i in range(0, total, size)]
    pool = executor or _processes(workers)
    try:
        futures = {pool.submit(_group, engine, [speeds[i] for i in g], numerics, traces, stations, lumped): g
                   for g in groups}
        for future in as_completed(futures):
            for i, result in zip(futures[future], future.result(), strict=True):
                keep(i, result)
    finally:
        if own:
            pool.shutdown(cancel_futures=True)
    return results


def _group(engine: Engine, speeds: list[float], numerics: Numerics, traces: bool, stations: tuple,
           lumped: bool) -> list[Point | Failed]:
    """In a worker: a few speeds of one engine."""
    if lumped:
        return lumped_points([engine] * len(speeds), speeds, numerics, traces, stations)
    return [_attempt(engine, rpm, numerics, traces, stations) for rpm in speeds]
