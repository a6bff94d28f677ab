"""Many speeds of one engine, over worker processes; points come back in order, failures as values."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context

from pullcast.card.engine import Engine
from pullcast.errors import InputError, SolveError
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point, settle
from pullcast.solve.warm import warm


@dataclass(frozen=True)
class Failed:
    """A speed whose march broke down, with the message."""

    rpm: float
    message: str


Progress = Callable[[float, int, int, str], None]


def _attempt(engine: Engine, rpm: float, numerics: Numerics, traces: bool, stations: tuple,
             fidelity: str = "wave") -> Point | Failed:
    """One speed in a worker: a point, or why there is none."""
    march = settle_lumped if fidelity == "lumped" else settle
    try:
        return march(engine, rpm, numerics, traces=traces, stations=stations)
    except SolveError as error:
        return Failed(rpm, str(error))


def default_workers(points: int) -> int:
    """Processes used when none are asked for: all cores, not more than points."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, min(points, cores))


def _processes(workers: int) -> Executor:
    """Worker processes; lumped points are too quick for them and share threads instead."""
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn" if os.name == "nt" else "fork"))


def settle_many(engines: Sequence[Engine], speeds: Sequence[float], numerics: Numerics | None = None, *,
                workers: int | None = None) -> list[Point | Failed]:
    """Lumped points of many engines, the i-th at the i-th speed (rpm), by threads; the order is that of ``engines``.

    An engine is built once if its speeds follow one another. Each point is what ``settle_lumped`` gives, whatever
    else is computed beside it.
    Errors: InputError if there are not as many speeds as engines.
    """
    if len(engines) != len(speeds):
        msg = f"{len(engines)} engines but {len(speeds)} speeds; give one speed for each engine"
        raise InputError(msg)
    numerics = numerics or Numerics()
    warm()
    with ThreadPoolExecutor(workers or default_workers(len(speeds))) as pool:
        return list(pool.map(lambda pair: _attempt(*pair, numerics, False, (), "lumped"),
                             zip(engines, speeds, strict=True)))


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

    if executor is None and workers == 1:
        for i, rpm in enumerate(speeds):
            keep(i, _attempt(engine, rpm, numerics, traces, stations, fidelity))
        return results
    own = executor is None
    # slowest (lowest speed) first, so that the last worker is not left with the longest point
    order = sorted(range(total), key=lambda i: speeds[i])
    pool = executor or (ThreadPoolExecutor(workers) if lumped else _processes(workers))
    try:
        futures = {pool.submit(_attempt, engine, speeds[i], numerics, traces, stations, fidelity): i for i in order}
        for future in as_completed(futures):
            keep(futures[future], future.result())
    finally:
        if own:
            pool.shutdown(cancel_futures=True)
    return results
