"""The background's workers: halted while a slider is answered, which wants the same cores; ended with the page."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable

LONGEST = 0.6  # s that the workers are kept waiting in one stretch; then they have as long again


def halt_workers() -> None:
    """Halt the child processes of this one, where the system can."""
    _tell_workers("SIGSTOP")


def wake_workers() -> None:
    """Let them go on."""
    _tell_workers("SIGCONT")


def end_workers() -> None:
    """End them, halted or not, whatever they march: nobody waits for it any more."""
    wake_workers()
    for child in multiprocessing.active_children():
        child.terminate()


def _tell_workers(name: str) -> None:
    if hasattr(signal, name):
        for child in multiprocessing.active_children():
            try:
                os.kill(child.pid, getattr(signal, name))
            except ProcessLookupError:
                continue  # it has just ended


class Hush:
    """A context in which the workers are halted. Contexts of several threads overlap; the last to leave wakes them,
    or the first that finds them halted for ``LONGEST``. ``clock`` gives seconds."""

    def __init__(self, halt: Callable[[], None] = halt_workers, wake: Callable[[], None] = wake_workers,
                 clock: Callable[[], float] = time.monotonic) -> None:
        self._halt, self._wake, self._clock = halt, wake, clock
        self._lock = threading.Lock()
        self._inside, self._halted = 0, False
        self._since = -1e9  # when they were halted or woken last

    def __enter__(self) -> Hush:
        """Halt them, unless they are or have just been kept waiting for long."""
        with self._lock:
            self._inside += 1
            if self._halted:
                self._wake_if(self._clock() - self._since > LONGEST)
            elif self._clock() - self._since > self._owed:
                self._halted, self._since = True, self._clock()
                self._halt()
        return self

    def __exit__(self, *_: object) -> None:
        """Wake them, if nobody else is inside."""
        with self._lock:
            self._inside -= 1
            self._wake_if(self._halted and (not self._inside or self._clock() - self._since > LONGEST))

    _owed = 0.0  # s that they must run before they are halted again

    def _wake_if(self, due: bool) -> None:
        if due:
            held = self._clock() - self._since
            self._owed = held if held > LONGEST else 0.0
            self._halted, self._since = False, self._clock()
            self._wake()
