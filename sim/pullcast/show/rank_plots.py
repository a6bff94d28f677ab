"""The pictures of a ranking and of a search: gains with bands and the change over speed; the goal over a variable."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from pullcast.answers.ranking import Ranking, chance_text
from pullcast.answers.search import FLAT, Found, Trend
from pullcast.show.look import (
    BLACK,
    BLUE,
    DASHES,
    FAINT,
    GREEN,
    GREY,
    PURPLE,
    SKY,
    VERMILION,
    aside,
    heading,
    legend,
    quiet,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = (BLUE, VERMILION, GREEN, PURPLE, SKY)
SHOWN, CURVES = 14, 4


def ranking_figure(r: Ranking) -> Figure:
    """Gains with their bands, and the change of torque over speed of the leading ones, on one page."""
    from matplotlib.figure import Figure

    rows = min(len([p for p in r.places if not p.trouble]), SHOWN)
    first = 0.9 + 0.36 * rows
    figure = Figure(figsize=(7.2, first + 4.9), layout="constrained", facecolor="white")
    gains, curves = figure.subplots(2, 1, height_ratios=[first, 3.0])
    gains_panel(gains, r)
    change_panel(curves, r)
    lines = [r.headline(), f"{r.engine}: {r.goal}, {r.band[0]:.0f} to {r.band[1]:.0f} rpm"]
    heading(figure, textwrap.shorten(r.name, 70), lines, {"version": r.version, "fidelity": r.fidelity})
    return figure


def gains_panel(ax: Axes, r: Ranking) -> None:
    """A row a candidate, best on top: gain over the base as a dot, its 80 % band as a bar; hollow: breaks a limit."""
    shown = [p for p in r.places if not p.trouble][:SHOWN]
    for k, p in enumerate(shown):
        colour = BLUE if p.kept else GREY
        if p.low is not None:
            ax.plot([100 * p.low, 100 * p.high], [k, k], color=colour, linewidth=5, alpha=0.35, solid_capstyle="butt")
        ax.plot([100 * p.gain], [k], "o", color=colour, markersize=6, markerfacecolor=colour if p.kept else "white")
    ax.axvline(0.0, color=BLACK, linewidth=0.9)
    ax.set_yticks(range(len(shown)), [_label(p) for p in shown])
    ax.set_ylim(len(shown) - 0.4, -0.6)
    ax.set_xlabel("gain over the base, %")
    quiet(ax)
    ax.grid(axis="y", visible=False)
    ax.grid(axis="x", color=FAINT, linewidth=0.7)
    aside(ax, "bar: 80 % band; hollow: breaks a limit")


def _label(p) -> str:
    chance = f" ({chance_text(p.best)}\u00a0%\u00a0best)" if p.best is not None and p.kept else ""
    return "\n".join(textwrap.wrap(textwrap.shorten(p.name, 52) + chance, 30, break_on_hyphens=False))


def change_panel(ax: Axes, r: Ranking) -> None:
    """Torque against the base, percent over speed, of the leading candidates; the band of the first is shaded."""
    shown = [p for p in r.places if p.kept][:CURVES] or [p for p in r.places if not p.trouble][:CURVES]
    base = np.array(r.base.torque)
    for k, p in enumerate(shown):
        change = 100 * (np.array(p.torque) / base - 1.0)
        ax.plot(r.speeds, change, color=COLOURS[k % len(COLOURS)], linestyle=DASHES[k % len(DASHES)],
                label=textwrap.shorten(p.name, 52))
        if k == 0 and p.change_low:
            ax.fill_between(r.speeds, 100 * np.array(p.change_low), 100 * np.array(p.change_high),
                            color=COLOURS[0], alpha=0.15, linewidth=0)
    ax.axhline(0.0, color=BLACK, linewidth=0.9)
    for edge in r.band:
        ax.axvline(edge, color=GREY, linewidth=0.8, linestyle=(0, (2, 2)))
    ax.set_xlabel("speed, rpm")
    ax.set_ylabel("torque against the base, %")
    wide = max(len(p.name) for p in shown) > 32 if shown else False
    legend(ax, loc="upper center", bbox_to_anchor=(0.5, -0.18), ncols=1 if wide else 2)  # curves leave no room within
    ax.margins(x=0.02, y=0.15)
    quiet(ax)
    aside(ax, "shaded: 80 % band of the first")


def search_figure(f: Found) -> Figure:
    """A panel a variable: the goal over it, its flat width, the places computed."""
    from matplotlib.figure import Figure

    count = len(f.trends)
    figure = Figure(figsize=(7.2, 1.0 + 2.7 * count), layout="constrained", facecolor="white")
    for ax, trend in zip(figure.subplots(count, 1, squeeze=False)[:, 0], f.trends, strict=True):
        trend_panel(ax, trend)
    lines = [*(repr(t) for t in f.trends), f"{f.engine}: {f.goal}, {f.band[0]:.0f} to {f.band[1]:.0f} rpm"]
    heading(figure, textwrap.shorten(f.name, 70), lines, {"version": f.version, "fidelity": f.fidelity})
    return figure


def trend_panel(ax: Axes, t: Trend) -> None:
    """The goal over one variable."""
    from scipy.interpolate import PchipInterpolator

    at, gain, kept = np.array(t.at), 100 * np.array(t.gain), np.array(t.kept)
    fine = np.linspace(at[0], at[-1], 400)
    ax.axvspan(*t.flat, color=GREEN, alpha=0.15, linewidth=0)
    ax.plot(fine, PchipInterpolator(at, gain)(fine), color=BLUE)
    ax.plot(at[kept], gain[kept], "o", color=BLUE, markersize=5)
    ax.plot(at[~kept], gain[~kept], "o", color=GREY, markersize=5, markerfacecolor="white")
    ax.set_xlabel(f"{t.span.key}, {t.span.unit}" if t.span.unit else t.span.key)
    ax.set_ylabel("gain over the base, %")
    ax.margins(x=0.02, y=0.12)
    quiet(ax)
    aside(ax, f"shaded: within {100 * FLAT:g} % of the best" + ("" if kept.all() else "; hollow: breaks a limit"))
