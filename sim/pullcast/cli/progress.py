"""Progress of long work: a bar on stderr when that is a terminal, else nothing."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def points(total: int, what: str) -> Iterator[Callable[[float, int, int, str], None]]:
    """Give a callback ``on_point(rpm, done, total, note)`` that moves the bar while the block runs.

    A note that comes before the first point (``done`` 0) is printed on a line of its own.
    """
    if not sys.stderr.isatty():
        yield lambda rpm, done, total, note: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    from pullcast.show.tables import console

    bar = Progress(TextColumn("{task.description}"), BarColumn(bar_width=28), MofNCompleteColumn(),
                   TimeElapsedColumn(), TextColumn("{task.fields[last]}"), console=console(stderr=True),
                   transient=True)
    with bar:
        task = bar.add_task(what, total=total, last="")

        def on_point(rpm: float, done: int, total: int, note: str) -> None:
            if done == 0:
                bar.console.print(note)
                return
            bar.update(task, completed=done, total=total, last=f"{rpm:.0f} rpm" + (f": {note}" if note else ""))

        yield on_point


@contextmanager
def stages(what: str) -> Iterator[Callable[[str, object], None]]:
    """Give a callback ``on_stage(stage, tick)`` that shows each stage of a long run with the time left.

    ``tick`` is a ``pullcast.solve.ledger.Tick``.
    """
    if not sys.stderr.isatty():
        yield lambda stage, tick: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    from pullcast.show.tables import console

    bar = Progress(TextColumn("{task.description}"), BarColumn(bar_width=28), MofNCompleteColumn(),
                   TextColumn("{task.fields[left]}"), console=console(stderr=True), transient=True)
    with bar:
        tasks: dict[str, int] = {}

        def on_stage(stage: str, tick) -> None:
            if stage not in tasks:
                tasks[stage] = bar.add_task(f"{what}: {stage}", total=tick.total, left="")
            if tick.done == tick.stored and "compiling" in tick.note:
                bar.console.print(tick.note)
            bar.update(tasks[stage], completed=tick.done, total=tick.total, left=left(tick.left))

        yield on_stage


def left(seconds: float | None) -> str:
    """Time left in words; empty when not known.

    >>> left(42.0), left(400.0)
    ('42 s left', '7 min left')
    """
    if seconds is None:
        return ""
    return f"{seconds:.0f} s left" if seconds < 90.0 else f"{seconds / 60.0:.0f} min left"
