"""What a report is made of: sentences, lists, tables, pictures, listings. Plain values for page and print alike."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from rich.table import Table

WIDTH = 7.0  # inches of a picture: what the text of A4 and Letter leaves
Draw = Callable[["Axes"], object]


@dataclass(frozen=True)
class Para:
    """A paragraph; ``strong`` for the one sentence that matters."""

    text: str
    strong: bool = False


@dataclass(frozen=True)
class Bullets:
    """Short lines under one another; ``mark`` stands before each, "" for a dot."""

    items: tuple[str, ...]
    mark: str = ""


@dataclass(frozen=True)
class Listing:
    """Text kept as it stands, line by line, such as a card."""

    title: str
    text: str


@dataclass(frozen=True)
class Grid:
    """A table: ``heads`` (m,), ``rows`` of (m,) texts, ``right`` (m,) which columns are numbers, ``bold`` the rows
    that stand out; ``title`` may be empty. A ``form`` has boxes to write into."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[bool, ...] = ()
    title: str = ""
    bold: tuple[int, ...] = ()
    form: bool = False

    def aligned(self, column: int) -> bool:
        """Whether a column is set to the right."""
        return bool(self.right) and self.right[column]


@dataclass(frozen=True)
class Picture:
    """A picture, drawn when it is needed: ``make()`` gives a matplotlib Figure; ``text`` says what it shows."""

    make: Callable[[], Figure] = field(repr=False)
    text: str


Block = Para | Bullets | Listing | Grid | Picture


def panels(text: str, *parts: tuple[float, Draw], under: bool = True) -> Picture:
    """A picture of panels above one another: (height in inches, function that draws into an axes) each.

    ``under``: the panels share their x axis.
    """
    def make() -> Figure:
        import matplotlib as mpl
        from matplotlib.figure import Figure

        from pullcast.show.look import STYLE

        heights = [height for height, _ in parts]
        with mpl.rc_context(STYLE):
            figure = Figure(figsize=(WIDTH, sum(heights)), layout="constrained", facecolor="white")
            axes = figure.subplots(len(parts), 1, squeeze=False, sharex=under, height_ratios=heights)[:, 0]
            for ax, (_, draw) in zip(axes, parts, strict=True):
                draw(ax)
            figure.align_ylabels()
        return figure

    return Picture(make, text)


def grid(table: Table, title: str = "") -> Grid:
    """A table made for the terminal as a table of a report."""
    columns = [list(column.cells) for column in table.columns]
    rows = tuple(zip(*([_plain(cell) for cell in cells] for cells in columns), strict=True)) if columns else ()
    bold = tuple(i for i, row in enumerate(table.rows) if "bold" in str(row.style or ""))
    return Grid(tuple(_plain(c.header).strip() for c in table.columns), rows,
                tuple(c.justify == "right" for c in table.columns), title or _plain(table.title or ""), bold)


def _plain(cell) -> str:
    return str(getattr(cell, "plain", cell)).rstrip()


def lines(texts: Sequence[str]) -> tuple[Block, ...]:
    """Bullets of the texts that are not empty; nothing when there are none."""
    kept = tuple(t.strip() for t in texts if t.strip())
    return (Bullets(kept),) if kept else ()
