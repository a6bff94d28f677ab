"""What the parts of a page may ask of the session that holds it together."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from pullcast.show.lab.address import View
from pullcast.show.lab.behind import Behind
from pullcast.show.lab.bench import Bench
from pullcast.show.lab.door import Door
from pullcast.show.lab.history import History
from pullcast.show.lab.hush import Hush
from pullcast.show.lab.results import Results
from pullcast.show.lab.shelf import Shelf

if TYPE_CHECKING:
    from pullcast.answers.check import Review
    from pullcast.show.lab.curve_figures import CurveFigures
    from pullcast.show.lab.cycle_figures import CycleFigures
    from pullcast.show.lab.wire import Wire


@dataclass(frozen=True)
class Shared:
    """What all open pages share: the shelf, the background, threads for the lumped model, lessons run, units, the
    door, and what halts the background."""

    shelf: Shelf
    behind: Behind
    threads: Executor
    units: str = "si"
    lessons: dict[str, Future] = field(default_factory=dict)
    door: Door = field(default_factory=Door)
    hush: Hush = field(default_factory=Hush)

    def lesson(self, key: str, run: Callable[[str], object]) -> Future:
        """The result of a lesson's run, which is the same for everybody: computed once, by ``run`` in a worker."""
        known = self.lessons.get(key)
        if known is None or (known.done() and known.exception() is not None):
            known = self.lessons[key] = self.behind.submit(run, key)
        return known


class Host(Protocol):
    """A session as its parts see it: what is on the bench, what is known of it, the wire, and what may be done."""

    shared: Shared
    wire: Wire
    curves: CurveFigures
    cycles: CycleFigures
    history: History
    view: View
    now: Results
    base: Results
    fields: dict[str, str]
    faults: list[str]
    typed: dict[str, str]

    @property
    def bench(self) -> Bench:
        """What is on the bench."""

    @property
    def rpm(self) -> float:
        """The speed of the cycle pictures, rpm."""

    def propose(self, bench: Bench, what: str = "", typed: str = "") -> bool:
        """Take a new bench if it makes an engine."""

    def open_bench(self, bench: Bench) -> None:
        """Another card."""

    def soon(self, what: Callable[[], None]) -> None:
        """Do something on the page's thread."""

    def show_march(self) -> None:
        """How far the waves have come."""

    def review(self, results: Results) -> Review:
        """The review of an engine's card."""
