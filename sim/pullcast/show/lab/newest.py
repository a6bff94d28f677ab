"""Only the newest: work that is asked for faster than it can be done is left out, except the last."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Executor

Work = Callable[[], None]


class Newest:
    """Runs, one at a time on a shared thread pool, the newest of the works put; those put meanwhile fall out."""

    def __init__(self, pool: Executor) -> None:
        self._pool, self._lock = pool, threading.Lock()
        self._waiting: Work | None = None
        self._busy = False

    def put(self, work: Work) -> None:
        """Have ``work`` run next; what was waiting is forgotten."""
        with self._lock:
            self._waiting = work
            if self._busy:
                return
            self._busy = True
        self._pool.submit(self._run)

    def drop(self) -> None:
        """Forget what waits."""
        with self._lock:
            self._waiting = None

    def _run(self) -> None:
        with self._lock:
            work, self._waiting = self._waiting, None
        try:
            if work is not None:
                work()
        finally:
            with self._lock:
                more = self._busy = self._waiting is not None
            if more:
                self._pool.submit(self._run)
