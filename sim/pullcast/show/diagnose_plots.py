"""A diagnosis as a picture: the measured difference with the curves of the likeliest causes, and their chances."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from pullcast.answers.diagnose import AS_DESIGNED, UNEXPLAINED, Diagnosis
from pullcast.show import look
from pullcast.show.diagnose_tables import sentences

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = (look.VERMILION, look.BLUE, look.GREEN)
MARKS = ("s", "^", "D")
SHOWN = 6


def diagnose_figure(d: Diagnosis) -> Figure:
    """Two panels with the findings below (7.4 in wide)."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    lines = [part for s in sentences(d) for part in textwrap.wrap(s, 112)]
    with mpl.rc_context(look.STYLE):
        height = 7.5 + 0.17 * len(lines)
        figure = Figure(figsize=(7.4, height), layout="constrained", facecolor="white")
        top, bottom = figure.subplots(2, 1, height_ratios=[1.5, 1.0])
        difference_panel(top, d)
        chance_panel(bottom, d)
        title = textwrap.shorten(f"Is it the part or a fault? {d.who}, {d.engine}", 76)
        figure.text(0.012, 1 - 0.1 / height, title, fontsize=13, fontweight="bold", va="top")
        foot = (0.35 + 0.17 * len(lines)) / height
        figure.text(0.012, foot - 0.05 / height, "\n".join(lines), fontsize=8.2, va="top", linespacing=1.35)
        figure.text(0.012, 0.004, f"{d.fidelity} model · each cause: the part as its card has it, plus the fault · "
                    "a planning estimate", fontsize=7, color=look.GREY, va="bottom")
        figure.get_layout_engine().set(rect=(0, foot, 1, 1 - foot - 0.4 / height))
    return figure


def difference_panel(ax: Axes, d: Diagnosis) -> None:
    """The measured difference with two standard deviations, what the part's card leads to expect, and the curves of
    the likeliest causes."""
    ax.errorbar(d.speed, 100 * np.expm1(d.measured), 200 * d.sd, color=look.BLACK, marker="o", markersize=4,
                linestyle="none", capsize=2, label="measured, two standard deviations", zorder=5)
    drawn = [c for c in d.causes if c.key not in (UNEXPLAINED, AS_DESIGNED)][:len(COLOURS)]
    for c, colour, dash, mark in zip(drawn, COLOURS, look.DASHES, MARKS, strict=False):
        ax.plot(d.speed, 100 * np.expm1(c.curve), color=colour, linestyle=dash, marker=mark, markersize=4,
                label=textwrap.shorten(c.name + (f", {c.severity}" if c.severity else ""), 88))
    ax.plot(d.speed, 100 * np.expm1(d.expected), color=look.GREY, linewidth=1.0,
            label="expected from the part's card")
    ax.axhline(0.0, color=look.GREY, linewidth=0.8)
    look.quiet(ax)
    ax.set_ylabel("torque difference, %")
    ax.set_xlabel("engine speed, rpm")
    ax.legend(frameon=False, fontsize=8, loc="lower left", bbox_to_anchor=(-0.02, 1.0))


def chance_panel(ax: Axes, d: Diagnosis) -> None:
    """A bar a cause, likeliest on top, with its chance; the part alone is always one."""
    shown = d.shown(SHOWN)[::-1]
    ax.barh(range(len(shown)), [100 * c.chance for c in shown], color=look.SKY, height=0.6)
    ax.set_yticks(range(len(shown)), ["\n".join(textwrap.wrap(c.name, 34, max_lines=2, placeholder=" …"))
                                         for c in shown], fontsize=8)
    for i, c in enumerate(shown):
        told = "<1" if c.chance < 0.01 else ">99" if c.chance > 0.99 else f"{100 * c.chance:.0f}"
        ax.annotate(f"{told} %", (100 * c.chance, i), (4, 0), textcoords="offset points", va="center",
                    fontsize=8)
    look.quiet(ax)
    ax.grid(axis="y", visible=False)
    ax.set_xlim(0, 108)
    ax.set_xlabel("chance, %")
