"""Handing tasks to workers and getting every one back: done, or lost with a reason.

Tasks and the function are sent to the workers, so both must be importable there. Results come back in the order in
which they finish, as (index of the task, result or ``Lost``).
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    as_completed,
    wait,
)
from dataclasses import dataclass

from pullcast.errors import PullcastError

IDLE_DEATHS = 3  # pools in a row that broke before a task was handed out


@dataclass(frozen=True)
class Lost:
    """A task without a result, and why."""

    reason: str


def processes(count: int, function: Callable, tasks: Sequence) -> Iterator[tuple[int, object]]:
    """Run tasks in ``count`` local processes; a killed process loses only what it was doing.

    No more tasks are handed out than there are processes, so that when the pool breaks the few under way are the only
    suspects. The pool is made anew for the rest; each suspect then runs alone in a process of its own, and one that
    loses that too comes back as ``Lost``.
    """
    waiting, suspects, deaths = deque(range(len(tasks))), [], 0
    while waiting and deaths < IDLE_DEATHS:
        with _pool(count) as pool:
            under_way = yield from _feed(pool, count, function, tasks, waiting)
        deaths = 0 if under_way else deaths + 1
        suspects += under_way
    for i in waiting:
        yield i, Lost("worker processes die before they start to work: is memory short?")
    for i in suspects:
        with _pool(1) as pool:
            try:
                yield i, pool.submit(function, tasks[i]).result()
            except BrokenExecutor:
                yield i, Lost("its worker process was killed twice while computing it (killed from outside, out of "
                              "memory, or a crash); run again to try once more")


def _feed(pool: Executor, count: int, function: Callable, tasks: Sequence,
          waiting: deque[int]) -> Iterator[tuple[int, object]]:
    """Run what is ``waiting`` until nothing is left or the pool breaks; returns what was under way when it broke.

    A free process gets its next task before the result of its last is handed on, so that it does not wait for what
    is done with that.
    """
    running: dict[Future, int] = {}
    ready: list[tuple[int, Future]] = []
    broken: list[int] = []
    while (waiting and not broken) or running or ready:
        while waiting and not broken and len(running) < count:
            try:
                running[pool.submit(function, tasks[waiting[0]])] = waiting[0]
            except BrokenExecutor:
                yield from ((i, future.result()) for i, future in ready)
                return broken + list((yield from _gather(running)))
            waiting.popleft()
        yield from ((i, future.result()) for i, future in ready)
        ready.clear()
        for future in wait(running, return_when=FIRST_COMPLETED).done:
            i = running.pop(future)
            if isinstance(future.exception(), BrokenExecutor):
                broken.append(i)
            else:
                ready.append((i, future))
    return broken


def _gather(running: dict[Future, int]) -> Iterator[tuple[int, object]]:
    """What a broken pool still finished; returns the tasks it did not."""
    lost = []
    for future in as_completed(running):
        try:
            yield running[future], future.result()
        except BrokenExecutor:
            lost.append(running[future])
    return lost


def _pool(count: int) -> ProcessPoolExecutor:
    context = multiprocessing.get_context("spawn" if os.name == "nt" else "fork")
    return _Pool(count, mp_context=context, initializer=start_worker, initargs=(os.getpid(),))


class _Pool(ProcessPoolExecutor):
    """A process pool that on leaving, by an interruption too, drops what has not begun."""

    def __exit__(self, *_: object) -> None:
        """Wait for the tasks under way only."""
        self.shutdown(cancel_futures=True)


def start_worker(parent: int) -> None:
    """Leave an interruption from the keyboard to the parent, which stops handing out tasks; do not outlive it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if os.name != "nt":
        threading.Thread(target=_leave_with, args=(parent,), daemon=True).start()


def _leave_with(parent: int) -> None:
    """End this process once its parent is gone: a killed parent cannot tell its workers to stop."""
    while os.getppid() == parent:
        time.sleep(1.0)
    os._exit(1)


def outside(executor: Executor, function: Callable, tasks: Sequence) -> Iterator[tuple[int, object]]:
    """Run tasks on an executor made elsewhere, a cluster's say, which looks after its own workers.

    A task that the executor gives up, or whose worker cannot run it, comes back as ``Lost``; an error of pullcast is
    raised.
    """
    futures: dict[Future, int] = {}
    try:
        for i, task in enumerate(tasks):
            try:
                futures[executor.submit(function, task)] = i
            except RuntimeError as error:  # broken, or shut down
                yield i, _given_up(error)
        for future in as_completed(list(futures)):
            try:
                answer = future.result()
            except PullcastError:
                raise
            except (Exception, CancelledError) as error:
                answer = _given_up(error)
            yield futures[future], answer
    finally:
        for future in futures:
            future.cancel()


def _given_up(error: BaseException) -> Lost:
    text = (str(error).strip().splitlines() or [""])[0]
    why = f"{type(error).__name__}: {text}" if text else type(error).__name__
    return Lost(f"the executor gave it up ({why}); run again to try once more")
