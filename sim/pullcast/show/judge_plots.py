"""The pictures of a judged session: pulls laid over each other, the difference with its interval, the run order."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from pullcast import units as u
from pullcast.answers.judgement import Judgement
from pullcast.errors import InputError
from pullcast.show.look import BLACK, BLUE, GREEN, GREY, PURPLE, SKY, VERMILION, aside, legend, quiet, sparse

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = (BLUE, VERMILION, GREEN, PURPLE, SKY)
MARKS = "os^Dv"


def judge_figure(judged: Judgement, units: str = "si") -> Figure:
    """All panels of a session on one page; of a peak-only session the run order alone. Nothing is shown."""
    from matplotlib.figure import Figure

    curves = judged.grid.size > 0
    figure = Figure(figsize=(7.2, 8.6 if curves else 3.6), layout="constrained", facecolor="white")
    ratios = [1.3, 1.0, 0.9] if curves else [1.0]
    axes = figure.subplots(len(ratios), 1, squeeze=False, height_ratios=ratios)[:, 0]
    if curves:
        overlay_panel(axes[0], judged, units)
        difference_panel(axes[1], judged)
        axes[0].sharex(axes[1])
        axes[0].tick_params(labelbottom=False)
    order_panel(axes[-1], judged, units)
    _heading(figure, judged)
    return figure


def overlay_panel(ax: Axes, judged: Judgement, units: str = "si") -> None:
    """Every used pull as a thin line, the mean of each part as a thick one, corrected torque over speed."""
    if judged.grid.size == 0:
        msg = "only peaks are known of this session: there are no curves to draw."
        raise InputError(msg)
    torque = u.from_si(judged.curves, "torque", units)
    for part, colour in _colours(judged).items():
        rows = [i for i, n in enumerate(judged.used) if judged.session.runs[n - 1].part == part]
        for i in rows:
            ax.plot(judged.grid, torque[i], color=colour, linewidth=0.6, alpha=0.45)
        mark = MARKS[list(_colours(judged)).index(part) % len(MARKS)]
        ax.plot(judged.grid, torque[rows].mean(axis=0), color=colour, linewidth=2.0, marker=mark, markersize=4.5,
                markevery=sparse(judged.grid.size), label=f"{part}: {_name(judged, part)}, {len(rows)} pulls")
    _band(ax, judged)
    ax.set_ylabel(f"torque, {u.unit_label('torque', units)}")
    legend(ax, loc="lower center")
    quiet(ax)


def difference_panel(ax: Axes, judged: Judgement) -> None:
    """Difference to the baseline in percent over speed with the interval of each speed, and the band's own."""
    colours = _colours(judged)
    for d in judged.differences:
        if d.curve is None:
            continue
        colour = colours[d.part]
        ax.fill_between(d.curve.rpm, d.curve.low, d.curve.high, color=colour, alpha=0.18, linewidth=0)
        mark = MARKS[list(colours).index(d.part) % len(MARKS)]
        ax.plot(d.curve.rpm, d.curve.mean, color=colour, marker=mark, markersize=4,
                markevery=sparse(d.curve.rpm.size))
        ax.annotate(f"{d.part} over the band: {d.effect!r}", (0.07, 0.97 - 0.1 * list(colours).index(d.part)),
                    va="top", xycoords="axes fraction", fontsize=8, color=colour,
                    bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.8})
    ax.axhline(0.0, color=BLACK, linewidth=0.9)
    _band(ax, judged)
    ax.set_ylabel(f"difference to {judged.session.baseline}, %")
    ax.set_xlabel("speed, rpm")
    ax.margins(x=0.01, y=0.18)
    aside(ax, f"shaded: {100 * judged.session.rules.level:.0f} % interval of each speed by itself")
    quiet(ax)


def order_panel(ax: Axes, judged: Judgement, units: str = "si") -> None:
    """The judged value of every pull in the order run; excluded pulls hollow; drift and refits show here."""
    kind = "power" if "power" in judged.metric else "torque"
    inside = []
    for i, (part, colour) in enumerate(_colours(judged).items()):
        rows = [r for r in judged.rows if r.part == part and r.corrected is not None]
        for used in (True, False):
            picked = [r for r in rows if bool(r.excluded) != used]
            if not picked:
                continue
            y = [float(u.from_si(r.corrected, kind, units)) for r in picked]
            inside += y if used else []
            ax.plot([r.number for r in picked], y, MARKS[i % len(MARKS)], color=colour, markersize=6,
                    markerfacecolor=colour if used else "none", clip_on=False)
        for fit in sorted({r.fit for r in rows}):
            here = [r for r in rows if r.fit == fit and not r.excluded]
            if here:
                mean = float(np.mean([u.from_si(r.corrected, kind, units) for r in here]))
                ax.hlines(mean, here[0].number - 0.35, here[-1].number + 0.35, color=colour, linewidth=1.2)
    _excluded(ax, judged, kind, units, inside)
    ax.set_xlabel("run, in order")
    ax.set_ylabel(f"{judged.metric if judged.band is None else 'mean ' + judged.metric}, {u.unit_label(kind, units)}")
    ax.set_xticks([r.number for r in judged.rows])
    ax.set_xlim(0.4, len(judged.rows) + 0.6)
    aside(ax, "bars: mean of each fit; hollow: excluded")
    quiet(ax)


def _excluded(ax: Axes, judged: Judgement, kind: str, units: str, inside: list[float]) -> None:
    """Scale by the used pulls; excluded ones beyond it are named at the edge."""
    span = max(np.ptp(inside), 0.01 * np.mean(inside))
    low, high = min(inside) - 0.25 * span, max(inside) + 0.25 * span
    ax.set_ylim(low, high)
    for r in judged.rows:
        if not r.excluded or r.corrected is None:
            continue
        value = float(u.from_si(r.corrected, kind, units))
        if not low <= value <= high:
            for line in [m for m in ax.lines if r.number in list(m.get_xdata()) and value in list(m.get_ydata())]:
                line.remove()
            edge, up = (low, 0) if value < low else (high, 1)
            ax.annotate(f"{value:.0f}", (r.number, edge), (0, -18 if up else 10), textcoords="offset points",
                        ha="center", fontsize=7.5, color=GREY)
            ax.plot([r.number], [edge + (0.03 - 0.06 * up) * (high - low)], "^" if up else "v", color=GREY,
                    markerfacecolor="none", markersize=5)


def _band(ax: Axes, judged: Judgement) -> None:
    if judged.band is not None:
        for edge in judged.band:
            ax.axvline(edge, color=GREY, linewidth=0.8, linestyle=(0, (2, 2)))


def _colours(judged: Judgement) -> dict[str, str]:
    s = judged.session
    order = [s.baseline, *dict.fromkeys(r.part for r in s.runs if r.part != s.baseline)]
    return {part: COLOURS[i % len(COLOURS)] for i, part in enumerate(order)}


def _name(judged: Judgement, part: str) -> str:
    return judged.session.parts.get(part, "part").split(",")[0]


def _heading(figure: Figure, judged: Judgement) -> None:
    s, height = judged.session, figure.get_figheight()
    basis = "observed" if s.basis == "observed" else f"corrected to {s.basis}"
    lines = [f"{d.part}: {d.effect!r} {d.metric}: {d.verdict}" for d in judged.differences]
    lines += [repr(r) for r in judged.returns]
    lines.append(f"{s.sequence}; {basis}; smoothed over {s.rules.window:.0f} rpm" if judged.grid.size else
                 f"{s.sequence}; {basis}; peaks only")
    lines = [part for line in lines for part in textwrap.wrap(line, 104)]
    figure.text(0.012, 1 - 0.08 / height, textwrap.shorten(s.title, 70), fontsize=13, fontweight="bold", color=BLACK,
                va="top")
    figure.text(0.012, 1 - 0.36 / height, "\n".join(lines), fontsize=9, color=GREY, va="top", linespacing=1.35)
    top = (0.42 + 0.18 * len(lines)) / height
    figure.get_layout_engine().set(rect=(0, 0.0, 1, 1.0 - top), hspace=0.02)
