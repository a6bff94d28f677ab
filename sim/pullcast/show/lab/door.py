"""The door of the page: how many may be in, who has gone, who has been still too long."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Protocol

MOST = 40  # pages open at once: a class and its teacher, some of them twice
STILL = 3600.0  # s without a word, after which a page is put away


class Guest(Protocol):
    """An open page as the door sees it."""

    heard: float

    def watched(self) -> bool:
        """Whether a browser is connected."""

    def rest(self) -> None:
        """Stop computing: nobody looks."""

    def go_on(self) -> None:
        """Somebody looks again."""

    def put_away(self) -> None:
        """Tell the page to leave."""


class Door:
    """Counts the pages that are open. ``clock`` gives seconds, as ``heard`` of a page does."""

    def __init__(self, most: int = MOST, still: float = STILL, clock: Callable[[], float] = time.monotonic) -> None:
        self.most, self.still, self.clock = most, still, clock
        self._lock = threading.Lock()
        self._inside: dict[Guest, bool] = {}  # whether it was seen watched when looked at last; None: not yet

    @property
    def full(self) -> bool:
        """Whether there is no place left."""
        return len(self._inside) >= self.most

    def enter(self, page: Guest) -> None:
        """A page was opened."""
        with self._lock:
            self._inside[page] = None

    def leave(self, page: Guest) -> None:
        """A page is gone."""
        with self._lock:
            self._inside.pop(page, None)

    def look(self) -> None:
        """Let pages rest whose browser is gone, go on when it is back, and put those away that are still too long."""
        with self._lock:
            inside = dict(self._inside)
        for page, before in inside.items():
            watched = page.watched()
            if before and not watched:
                page.rest()
            elif before is False and watched:
                page.go_on()
            if watched and self.clock() - page.heard > self.still:
                page.put_away()
            if watched or before is not None:
                with self._lock:
                    if page in self._inside:
                        self._inside[page] = watched
