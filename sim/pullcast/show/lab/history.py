"""Undo: what was on the bench before; moves of one control in quick succession count as one step."""

from __future__ import annotations

import time
from collections.abc import Callable

from pullcast.show.lab.bench import Bench

DEEPEST = 200
MOST_TEXT = 4_000_000  # letters of typed cards that one page remembers
TOGETHER = 1.2  # s between two moves of one control that are undone together


def affordable(past: list[Bench]) -> list[Bench]:
    """The newest benches whose typed cards together have at most ``MOST_TEXT`` letters; a text that several share
    counts once."""
    texts: set[str] = set()
    for n, bench in enumerate(reversed(past)):
        texts.add(bench.text)
        if sum(map(len, texts)) > MOST_TEXT:
            return past[len(past) - n:]
    return past


class History:
    """Benches in the order in which they were reached. ``clock`` gives seconds."""

    def __init__(self, first: Bench, clock: Callable[[], float] = time.monotonic) -> None:
        self._past: list[Bench] = []
        self._next: list[Bench] = []
        self._now, self._clock = first, clock
        self._last: tuple[str, float] = ("", -1e9)

    @property
    def now(self) -> Bench:
        """What is on the bench."""
        return self._now

    @property
    def can_undo(self) -> bool:
        """Whether there is a step to take back."""
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        """Whether a step was taken back."""
        return bool(self._next)

    def push(self, bench: Bench, what: str = "") -> None:
        """A new bench; ``what`` names the control that was moved, "" a step of its own."""
        if bench == self._now:
            return
        name, when = self._last
        if not (what and what == name and self._clock() - when < TOGETHER):
            self._past = affordable([*self._past[1 - DEEPEST:], self._now])
        self._now, self._next, self._last = bench, [], (what, self._clock())

    def undo(self) -> Bench:
        """One step back, if there is one."""
        return self._step(self._past, self._next)

    def redo(self) -> Bench:
        """One step forward again, if one was taken back."""
        return self._step(self._next, self._past)

    def _step(self, source: list[Bench], other: list[Bench]) -> Bench:
        if source:
            other.append(self._now)
            self._now = source.pop()
        self._last = ("", -1e9)
        return self._now
