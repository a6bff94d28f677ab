"""The look of every pullcast picture: colours, line widths, axes, and saving without a display.

Colours are from the palette of Okabe and Ito (2008), told apart with every common kind of colour vision; lines also
differ in dash, so that a print in grey stays readable.
"""

from __future__ import annotations

import math
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from pullcast.errors import InputError
from pullcast.results.files import write_whole
from pullcast.show.letters import letter

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BLUE, VERMILION, GREEN, PURPLE, SKY, BLACK = "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#56B4E9", "#222222"
DASHES = ("-", (0, (5, 2)), (0, (1.5, 1.5)), (0, (5, 1.5, 1.5, 1.5)))
GREY, FAINT = "#666666", "#DDDDDD"
ROUND = (1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 10.0)
KINDS = (".png", ".svg", ".pdf")
STYLE = {
    "font.family": "DejaVu Sans", "font.size": 9, "axes.labelsize": 9, "xtick.labelsize": 8.5, "ytick.labelsize": 8.5,
    "lines.linewidth": 1.8, "svg.fonttype": "none", "pdf.fonttype": 42, "svg.hashsalt": "pullcast",
    "text.parse_math": False,  # names of engines and parts are words, whatever they look like
}


def new_figure(width: float, height: float, rows: int, ratios: list[float] | None = None):
    """A figure (inches) with ``rows`` panels above one another on a common x axis; nothing is shown."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), layout="constrained", facecolor="white")
    axes = figure.subplots(rows, 1, sharex=True, squeeze=False, height_ratios=ratios or [1.0] * rows)[:, 0]
    return figure, list(axes)


def quiet(ax: Axes) -> None:
    """Faint horizontal grid, no box, ticks outside."""
    ax.grid(axis="y", color=FAINT, linewidth=0.7)
    ax.set_axisbelow(True)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        ax.spines[side].set_color(GREY)
    ax.tick_params(color=GREY, length=3)


def heading(figure: Figure, title: str, lines: list[str], attrs: dict) -> None:
    """Title and conditions above the panels, and what the picture is below them; room is made for both."""
    height = figure.get_figheight()
    lines = [part for line in lines for part in textwrap.wrap(line, 96)]
    figure.text(0.012, 1 - 0.08 / height, title, fontsize=13, fontweight="bold", color=BLACK, va="top")
    figure.text(0.012, 1 - 0.36 / height, "\n".join(lines), fontsize=9, color=GREY, va="top", linespacing=1.35)
    figure.text(0.012, 0.004, f"pullcast {attrs['version']} · {attrs['fidelity']} model · a planning estimate",
                fontsize=7, color=GREY, va="bottom")
    top = (0.42 + 0.18 * len(lines)) / height
    figure.get_layout_engine().set(rect=(0, 0.02, 1, 0.98 - top), hspace=0.03)


def aside(ax: Axes, text: str) -> None:
    """A small remark above the right-hand corner of a panel."""
    ax.text(1.0, 1.02, text, transform=ax.transAxes, ha="right", va="bottom", fontsize=8, color=GREY)


def legend(ax: Axes, **where) -> None:
    """A legend without a box that stays readable over lines and shaded areas."""
    ax.legend(**{"loc": "best"} | where, fontsize=8, framealpha=0.85, edgecolor="none",
              facecolor="white").set_zorder(10)


def sparse(count: int) -> tuple[int, int]:
    """First and step of about seven markers along a line of ``count`` points: they tell lines apart in grey."""
    step = max(count // 7, 1)
    return step // 2, step


def common_steps(tops: list[float]) -> tuple[list[float], int]:
    """Round steps, one per axis, and how many (5 to 9) of each reach the given tops: axes from zero that share their
    grid lines, with as little empty space above the curves as such steps allow.

    >>> common_steps([389.0, 224.0])
    ([50.0, 30.0], 8)
    """
    best = None
    for count in range(5, 10):
        steps = [_round_up(top / count) for top in tops]
        waste = sum(step * count / top for step, top in zip(steps, tops, strict=True))
        if best is None or waste < best[0] - 1e-9:
            best = (waste, steps, count)
    return best[1], best[2]


def _round_up(value: float) -> float:
    decade = 10.0 ** math.floor(math.log10(value))
    return next(r * decade for r in ROUND if r * decade >= value * 0.999999)


def save_figure(figure: Figure, path: str | Path) -> Path:
    """Write a figure as .png, .svg or .pdf, whole or not at all. Raises InputError for another suffix."""
    import matplotlib as mpl

    path = Path(path)
    kind = path.suffix.lower()
    if kind not in KINDS:
        msg = f"{path}: a picture is saved as {', '.join(KINDS)}, not {kind or 'without a suffix'}"
        raise InputError(msg)
    dated = {".png": {}, ".svg": {"Date": None}, ".pdf": {"CreationDate": None}}[kind]
    letter(figure)
    with mpl.rc_context(STYLE):
        return write_whole(path, lambda p: figure.savefig(p, format=kind[1:], dpi=160, metadata=dated))
