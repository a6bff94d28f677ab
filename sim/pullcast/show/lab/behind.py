"""Marching in the background for every open page: in processes, in turn, the newest run of each page only."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future
from dataclasses import dataclass, field

from pullcast.solve.jobs import Job, solve_job
from pullcast.solve.keys import march_sha256, point_key
from pullcast.solve.settle import Point
from pullcast.solve.sweep import Failed

OnPoint = Callable[[Job, Point | Failed], None]
KEPT, KEPT_TRACES = 4000, 80  # points remembered, without and with traces


@dataclass
class _Run:
    """What one page still wants: jobs by key in order, and whom to tell."""

    jobs: OrderedDict[str, list[Job]]
    todo: OrderedDict[str, Job]
    on_point: OnPoint
    under_way: set[str] = field(default_factory=set)


class Memory:
    """Points computed before, by key; the ones not asked for longest fall out. Safe between threads."""

    def __init__(self) -> None:
        self._points: OrderedDict[str, Point | Failed] = OrderedDict()
        self._traced: OrderedDict[str, Point | Failed] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: str) -> Point | Failed | None:
        """The point of a key, None if it is not known (any more)."""
        with self._lock:
            for shelf in (self._points, self._traced):
                if key in shelf:
                    shelf.move_to_end(key)
                    return shelf[key]
        return None

    def put(self, key: str, point: Point | Failed) -> None:
        """Remember a point."""
        traced = getattr(point, "trace", None) is not None
        shelf, most = (self._traced, KEPT_TRACES) if traced else (self._points, KEPT)
        with self._lock:
            shelf[key] = point
            while len(shelf) > most:
                shelf.popitem(last=False)


def key_of(job: Job) -> str:
    """What a job's point is known by."""
    return point_key(march_sha256(job.engine), job.rpm, job.fidelity, job.numerics, traces=job.traces,
                     stations=job.stations)


class Behind:
    """Runs jobs of several owners on one executor of ``width`` workers, one owner after the other.

    ``make`` gives the executor, anew when it broke. An owner has one run: a new one takes the place of the old, whose
    points still under way are remembered but not told. Callbacks come from other threads.
    """

    def __init__(self, make: Callable[[], Executor], width: int, memory: Memory | None = None) -> None:
        self._make, self._width, self.memory = make, max(1, width), memory or Memory()
        self._pool: Executor | None = None
        self._lock = threading.RLock()
        self._runs: OrderedDict[Hashable, _Run] = OrderedDict()
        self._flying: dict[str, Executor] = {}
        self._closed = False

    def run(self, owner: Hashable, jobs: Sequence[Job], on_point: OnPoint) -> None:
        """Compute jobs for an owner, in order; ``on_point(job, point)`` is called for each, known ones at once."""
        keyed: OrderedDict[str, list[Job]] = OrderedDict()
        for job in jobs:
            keyed.setdefault(key_of(job), []).append(job)
        with self._lock:
            known = {key: self.memory.get(key) for key in keyed}
            todo = OrderedDict((key, same[0]) for key, same in keyed.items() if known[key] is None)
            self._runs[owner] = _Run(keyed, todo, on_point)
            self._runs.move_to_end(owner)
        for key, same in keyed.items():
            for job in same if known[key] is not None else ():
                on_point(job, known[key])
        self._feed()

    def cancel(self, owner: Hashable) -> None:
        """Forget an owner's run; points under way end unseen."""
        with self._lock:
            self._runs.pop(owner, None)

    def submit(self, function: Callable, *args) -> Future:
        """Another kind of work on the same workers, after what is under way."""
        with self._lock:
            return self._executor().submit(function, *args)

    @property
    def waiting(self) -> int:
        """Jobs of all owners not yet handed out."""
        with self._lock:
            return sum(len(r.todo) for r in self._runs.values())

    def close(self) -> None:
        """Hand out nothing more and let the workers go."""
        with self._lock:
            self._closed = True
            self._runs.clear()
            if self._pool is not None:
                self._pool.shutdown(wait=False, cancel_futures=True)

    def _executor(self) -> Executor:
        if self._pool is None:
            self._pool = self._make()
        return self._pool

    def _feed(self) -> None:
        """Hand out jobs, one owner after the other, while a worker is free."""
        while True:
            with self._lock:
                if self._closed or len(self._flying) >= self._width:
                    return
                taken = self._next()
                if taken is None:
                    return
                key, job = taken
                try:
                    future = self._executor().submit(solve_job, job)
                except BrokenExecutor:
                    self._pool = None
                    future = self._executor().submit(solve_job, job)
                self._flying[key] = self._pool
            future.add_done_callback(lambda done, key=key, job=job: self._landed(key, job, done))

    def _next(self) -> tuple[str, Job] | None:
        """The next job not under way, of the owner whose turn it is; a job two owners want is computed once."""
        for owner, run in list(self._runs.items()):
            while run.todo:
                key, job = run.todo.popitem(last=False)
                run.under_way.add(key)
                if key in self._flying:
                    continue
                self._runs.move_to_end(owner)
                return key, job
        return None

    def _landed(self, key: str, job: Job, future: Future) -> None:
        point = _result(job, future)
        with self._lock:
            pool = self._flying.pop(key, None)
            if point is None:
                if pool is self._pool:
                    self._pool = None
                point = Failed(job.rpm, "its worker process was lost; move a control to try again")
            else:
                self.memory.put(key, point)
            wanted = [run for run in self._runs.values() if key in run.under_way or key in run.todo]
            for run in wanted:
                run.under_way.discard(key)
                run.todo.pop(key, None)
        for run in wanted:
            for mine in run.jobs[key]:
                run.on_point(mine, point)
        self._feed()


def _result(job: Job, future: Future) -> Point | Failed | None:
    """The point of a finished task; None if its worker is gone."""
    if future.cancelled():
        return Failed(job.rpm, "cancelled")
    error = future.exception()
    if isinstance(error, BrokenExecutor):
        return None
    return Failed(job.rpm, str(error)) if error is not None else future.result()
