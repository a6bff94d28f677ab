"""An explained swap on one page: both curves, what each attribute costs and where, and the findings in words."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from pullcast import units as u
from pullcast.answers.attributes import Attribute
from pullcast.answers.explanation import Explanation
from pullcast.show import look
from pullcast.show.explain_words import sentences, size_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SHOWN = 7  # attributes in a picture, largest first
WIDTH = 122  # characters of a line of text
GAIN, LOSS = look.BLUE, look.VERMILION


def explain_figure(x: Explanation, units: str = "si") -> Figure:
    """The page (7.6 in wide): findings as sentences, torque curves, share of each attribute over the band and by
    speed."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    first, *rest = sentences(x, units)
    lines = [part for s in rest for part in textwrap.wrap("•  " + s, WIDTH, subsequent_indent="    ")]
    head = textwrap.wrap(first, 88)
    rows = max(min(len(x.attributes), SHOWN), 1)
    tops = (0.55 + 0.2 * len(head), 0.25 + 0.165 * len(lines))
    panels = (2.5, 0.55 + 0.36 * rows, 0.75 + 0.28 * (rows + 1))
    with mpl.rc_context(look.STYLE):
        height = sum(tops) + sum(panels) + 0.9
        figure = Figure(figsize=(7.6, height), layout="constrained", facecolor="white")
        curves, bars, grid = figure.subplots(3, 1, height_ratios=panels)
        curve_panel(curves, x, units)
        bar_panel(bars, x, units)
        speed_panel(grid, x, units)
        figure.text(0.012, 1 - 0.1 / height, textwrap.shorten(f"Why: {x.swap}", 76), fontsize=13, fontweight="bold",
                    va="top")
        figure.text(0.012, 1 - 0.4 / height, "\n".join(head), fontsize=9.5, fontweight="bold", va="top",
                    linespacing=1.35, color=look.BLACK)
        figure.text(0.012, 0.22 / height + tops[1] / height, "\n".join(lines), fontsize=8.2, va="top",
                    linespacing=1.35, color=look.BLACK)
        figure.text(0.012, 0.004, f"pullcast {x.version} · {x.fidelity} model · a planning estimate", fontsize=7,
                    color=look.GREY, va="bottom")
        low = (0.3 + tops[1]) / height
        figure.get_layout_engine().set(rect=(0, low, 1, 1 - low - tops[0] / height), hspace=0.06)
    return figure


def curve_panel(ax: Axes, x: Explanation, units: str) -> None:
    """Torque of both engines, of the other with the best single remedy, and the driveline's limit."""
    best = x.best_remedy
    drawn = [(x.torque_base, look.BLACK, look.DASHES[0], "base", "o"),
             (x.torque_other, look.VERMILION, look.DASHES[1], "other", "s")]
    if best is not None:
        drawn.append((best.torque, look.BLUE, look.DASHES[2], f"other with the base's {best.attribute}", "^"))
    for torque, colour, dash, name, mark in drawn:
        ax.plot(x.speed, u.from_si(torque, "torque", units), color=colour, linestyle=dash, marker=mark, markersize=4,
                label=name)
    limit = x.limits.driveline
    if limit is not None and limit < 1.15 * x.torque_base.max():
        ax.axhline(u.from_si(limit, "torque", units), color=look.GREY, linewidth=1.0, linestyle=(0, (1, 2)))
        ax.annotate("driveline limit", (x.speed[0], u.from_si(limit, "torque", units)), (0, 3), fontsize=8,
                    textcoords="offset points", color=look.GREY)
    look.quiet(ax)
    ax.set_ylabel(f"torque, {u.unit_label('torque', units)}")
    ax.set_xlabel("engine speed, rpm")
    look.legend(ax)
    ax.margins(y=0.12)


def bar_panel(ax: Axes, x: Explanation, units: str) -> None:
    """Share of each attribute in the band's difference, percent of the base's torque."""
    order = list(x.order[:SHOWN])
    values = [100.0 * x.band_parts[i] / x.band_torque for i in order]
    place = np.arange(len(order))[::-1]
    ax.barh(place, values, color=[GAIN if v >= 0 else LOSS for v in values], height=0.62,
            hatch=None, edgecolor="white")
    ax.set_yticks(place, [_two_lines(x.attributes[i], units) for i in order], fontsize=8)
    span = max(map(abs, values), default=1.0) or 1.0
    for y, v in zip(place, values, strict=True):
        ax.annotate(f"{v:+.2f} %", (v, y), (4 if v >= 0 else -4, 0), textcoords="offset points", va="center",
                    ha="left" if v >= 0 else "right", fontsize=8)
    ax.set_xlim(min(0.0, *values, -0.1 * span) - 0.38 * span, max(0.0, *values, 0.1 * span) + 0.38 * span)
    look.quiet(ax)
    ax.grid(axis="y", visible=False)
    ax.axvline(0.0, color=look.BLACK, linewidth=0.9)
    ax.set_xlabel(f"share in the difference, {x.band[0]:.0f} to {x.band[1]:.0f} rpm, % of torque")


def _two_lines(a: Attribute, units: str) -> str:
    """An attribute with its sizes below, so that names take no room from the panels."""
    sizes = size_text(a, units)
    return a.name.capitalize() + (f"\n{sizes}" if sizes else "")


def speed_panel(ax: Axes, x: Explanation, units: str) -> None:
    """The same by speed as a table with shaded cells; the last row is the whole difference."""
    from matplotlib.colors import LinearSegmentedColormap

    order = list(x.order[:SHOWN])
    rows = np.vstack([x.torque.parts[order], x.torque.whole[None]]) * (100.0 / x.torque_base)
    span = max(float(np.abs(rows).max()), 1e-9)
    shades = LinearSegmentedColormap.from_list("loss to gain", [LOSS, "white", GAIN])
    ax.imshow(rows, cmap=shades, vmin=-1.5 * span, vmax=1.5 * span, aspect="auto")
    for i, row in enumerate(rows):
        for k, value in enumerate(row):
            ax.text(k, i, f"{value:+.1f}", ha="center", va="center", fontsize=8,
                    fontweight="bold" if i == len(rows) - 1 else "normal")
    ax.axhline(len(rows) - 1.5, color=look.BLACK, linewidth=0.9)
    ax.set_yticks(range(len(rows)), [*[x.attributes[i].name for i in order], "all together"], fontsize=8)
    ax.set_xticks(range(len(x.speed)), [f"{s:.0f}" for s in x.speed])
    ax.set_xlabel("engine speed, rpm  (cells: % of the base's torque)")
    for side in ax.spines.values():
        side.set_visible(False)
    ax.tick_params(length=0)
