"""What is known of every job of a run: what was stored, what is computed, how long it will still take."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pullcast.errors import StoreError
from pullcast.solve.crew import Lost
from pullcast.solve.keys import march_sha256, point_key, program_stamp
from pullcast.solve.settle import Point
from pullcast.solve.store import Store
from pullcast.solve.sweep import Failed


@dataclass(frozen=True)
class Tick:
    """How far a run is: ``done`` of ``total`` points, ``stored`` of them taken from the store, seconds ``elapsed``
    and ``left`` (None until a point has been computed), and a ``note`` on the point just finished."""

    rpm: float
    done: int
    total: int
    stored: int
    elapsed: float
    left: float | None
    note: str


@dataclass(frozen=True)
class Outcome:
    """Results in the order of the jobs; how many different points came from the store and how many did not."""

    results: tuple[Point | Failed, ...]
    stored: int
    computed: int
    warnings: tuple[str, ...] = ()


class Ledger:
    """The jobs of a run by key, their results, the store they go to and the listener they are told to."""

    def __init__(self, jobs: Sequence, store: Store | None, on_tick: Callable[[Tick], None] | None) -> None:
        """``jobs`` are those of ``pullcast.solve.jobs``."""
        shas: dict[int, str] = {}
        for job in jobs:
            if id(job.engine) not in shas:
                shas[id(job.engine)] = march_sha256(job.engine)
        self._keys = [point_key(shas[id(job.engine)], job.rpm, job.fidelity, job.numerics, traces=job.traces,
                                stations=job.stations) for job in jobs]
        self._jobs = dict(zip(self._keys, jobs, strict=True))
        self._key_of = {id(job): key for key, job in self._jobs.items()}
        self._found: dict[str, Point | Failed] = {}
        self._store, self._on_tick = store, on_tick
        self._warnings: list[str] = []
        self._stored, self._work, self._worked = 0, 0.0, 0.0
        self.restart_clock()

    def restart_clock(self) -> None:
        """Count the time from now."""
        self._start = time.monotonic()

    def look_up(self) -> list:
        """Take what is stored; the jobs left, longest first so that no worker ends alone with a long one."""
        if self._store is not None:
            damaged = self._store.dropped
            self._found |= self._store.get_many(self._jobs)
            if damaged := self._store.dropped - damaged:
                self._warnings.append(f"{self._store.path}: {damaged} damaged points were dropped and computed again")
        self._stored = len(self._found)
        todo = [job for key, job in self._jobs.items() if key not in self._found]
        self._work = sum(job.work for job in todo)
        if self._stored:
            self.tell(next(iter(self._jobs.values())).rpm, f"{self._stored} of {len(self._jobs)} were stored before")
        return sorted(todo, key=lambda job: job.work, reverse=True)

    def keep(self, jobs: Sequence, answer: tuple[str, list[Point | Failed]] | Lost) -> None:
        """Note, store and tell the results of jobs that were computed together."""
        results, storable = _results(jobs, answer)
        keys = [self._key_of[id(job)] for job in jobs]
        if storable and self._store is not None:
            try:
                self._store.put_many(zip(keys, results, strict=True))
            except StoreError as error:
                self._warnings.append(f"nothing more was stored in this run: {error}")
                self._store = None
        for job, key, result in zip(jobs, keys, results, strict=True):
            self._found[key] = result
            self._worked += job.work
            self.tell(job.rpm, result.message if isinstance(result, Failed) else result.status)

    def tell(self, rpm: float, note: str) -> None:
        """Report how far the run is."""
        if self._on_tick:
            elapsed = time.monotonic() - self._start
            left = elapsed * (self._work - self._worked) / self._worked if self._worked else None
            self._on_tick(Tick(rpm, len(self._found), len(self._jobs), self._stored, elapsed, left, note))

    def outcome(self) -> Outcome:
        """Everything, in the order of the jobs."""
        return Outcome(tuple(self._found[key] for key in self._keys), self._stored,
                       len(self._jobs) - self._stored, tuple(self._warnings))


def _results(jobs: Sequence, answer: tuple[str, list[Point | Failed]] | Lost) -> tuple[list[Point | Failed], bool]:
    """The results of jobs, and whether they may be stored under this program's keys."""
    if isinstance(answer, Lost):
        return [Failed(job.rpm, f"{answer.reason} ({job.engine.name} at {job.rpm:g} rpm)") for job in jobs], False
    stamp, results = answer
    if stamp != program_stamp():
        text = f"its worker runs pullcast {stamp}, this is {program_stamp()}: install the same one for all workers"
        return [Failed(job.rpm, text) for job in jobs], False
    return results, True
