"""Pictures of a forecast held against pulls: both curves with their bands, the error, the differences, the record."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from pullcast import units as u
from pullcast.answers.comparison import Comparison, DifferenceScore, Scored, reach
from pullcast.answers.ledger_score import score_ledger, scored
from pullcast.show.judge_plots import COLOURS, MARKS
from pullcast.show.look import BLACK, BLUE, DASHES, GREY, VERMILION, aside, legend, quiet, sparse

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def compare_figure(c: Comparison, units: str = "si") -> Figure:
    """Overlay, error over speed, and (with two parts or more) the differences; for peaks or differences alone the
    predicted against the measured values. Nothing is shown."""
    from matplotlib.figure import Figure

    curves = any(p.curve is not None for p in c.parts)
    panels = [*([overlay_panel, error_panel] if curves else []), *([differences_panel] if _with_curves(c) else [])]
    panels = panels or [predicted_measured_panel]
    height = 1.2 + 2.6 * len(panels)
    figure = Figure(figsize=(7.2, max(height, 4.8)), layout="constrained", facecolor="white")
    axes = figure.subplots(len(panels), 1, squeeze=False, height_ratios=[1.3, 1.0, 1.0][:len(panels)])[:, 0]
    for ax, panel in zip(axes, panels, strict=True):
        panel(ax, c, units)
    if curves:
        for ax in axes[1:]:
            ax.sharex(axes[0])
        for ax in axes[:-1]:
            ax.tick_params(labelbottom=False)
        axes[-1].set_xlabel("engine speed, rpm")
    figure.align_ylabels()
    _heading(figure, c)
    return figure


def overlay_panel(ax: Axes, c: Comparison, units: str = "si") -> None:
    """Measured torque solid, predicted dashed, each with its interval where it has one."""
    z = reach(c.level)
    for (part, colour), p in zip(_colours(c).items(), c.parts, strict=True):
        e = p.curve
        if e is None:
            continue
        for value, sd, dash, word, shade in ((e.measured, e.measured_sd, DASHES[0], "measured", 0.22),
                                             (e.predicted, e.predicted_sd, DASHES[1], "predicted", 0.10)):
            shown = np.asarray(u.from_si(value, "torque", units))
            if sd is not None:
                ax.fill_between(e.rpm, shown * (1 - z * sd), shown * (1 + z * sd), color=colour, alpha=shade,
                                linewidth=0)
            ax.plot(e.rpm, shown, color=colour, linestyle=dash, label=f"{part}: {p.name}, {word}",
                    **_marked(c, part, e.rpm.size))
    _band(ax, c)
    ax.set_ylabel(f"torque, {u.unit_label('torque', units)}")
    legend(ax, handlelength=3.6)
    aside(ax, f"shaded: {100 * c.level:.0f} % intervals")
    quiet(ax)


def error_panel(ax: Axes, c: Comparison, units: str = "si") -> None:
    """Predicted over measured torque less one, percent, with the interval of both together."""
    z = reach(c.level)
    for (part, colour), p in zip(_colours(c).items(), c.parts, strict=True):
        e = p.curve
        if e is None:
            continue
        ax.fill_between(e.rpm, e.percent - z * e.sd, e.percent + z * e.sd, color=colour, alpha=0.15, linewidth=0)
        tail = " (not scored)" if p.refused else ""
        ax.plot(e.rpm, e.percent, color=colour, label=f"{part}, band: {p.percent.error:+.2f} %{tail}",
                **_marked(c, part, e.rpm.size))
    ax.axhline(0.0, color=BLACK, linewidth=0.9)
    _band(ax, c)
    ax.set_ylabel("forecast too high by, %")
    legend(ax)
    quiet(ax)


def differences_panel(ax: Axes, c: Comparison, units: str = "si") -> None:
    """Measured difference to the baseline with its interval, and the predicted one dashed with its own dotted."""
    z, colours = reach(c.level), _colours(c)
    for d in _with_curves(c):
        colour = colours[d.part]
        ax.fill_between(d.rpm, d.measured_low, d.measured_high, color=colour, alpha=0.18, linewidth=0)
        mark = _marked(c, d.part, d.rpm.size)
        ax.plot(d.rpm, d.measured, color=colour, **mark,
                label=f"{d.part} - {d.baseline}, measured {d.value.measured:+.2f} %")
        ax.plot(d.rpm, d.predicted, color=colour, linestyle=DASHES[1], **mark,
                label=f"{d.part} - {d.baseline}, predicted {d.value.predicted:+.2f} %")
        if d.predicted_sd is not None:
            for sign in (-1.0, 1.0):
                ax.plot(d.rpm, d.predicted + sign * z * d.predicted_sd, color=colour, linestyle=DASHES[2],
                        linewidth=0.8)
    ax.axhline(0.0, color=BLACK, linewidth=0.9)
    _band(ax, c)
    ax.set_ylabel(f"difference to {c.session.baseline}, %")
    legend(ax, handlelength=3.6)
    aside(ax, f"shaded and dotted: {100 * c.level:.0f} % intervals")
    quiet(ax)


def predicted_measured_panel(ax: Axes, c: Comparison, units: str = "si") -> None:
    """Predicted against measured differences (or, with one part, errors) with both intervals."""
    rows = [(f"{d.part} {d.what.removeprefix('mean ')}", d.value) for d in c.differences]
    if rows:
        scatter(ax, rows, c.level, "difference")
    else:
        errors_in_order(ax, [(f"{p.part}\n{p.what}", p.percent) for p in c.parts], c.level)


def scatter(ax: Axes, rows: Sequence[tuple[str, Scored]], level: float, what: str, names: bool = True) -> None:
    """Measured (across) against predicted (up) values in percent with both intervals, and the line of a right
    forecast; sealed or not does not show here."""
    z = reach(level)
    for k, (name, v) in enumerate(rows):
        colour = COLOURS[k % len(COLOURS)] if names else BLUE
        up = None if v.predicted_sd is None else z * v.predicted_sd
        ax.errorbar(v.measured, v.predicted, xerr=z * v.measured_sd, yerr=up, fmt="o", color=colour, markersize=5,
                    elinewidth=0.9, capsize=2, label=name if names else None)
    low, high = (f(ax.get_xlim()[i], ax.get_ylim()[i]) for i, f in ((0, min), (1, max)))
    low, high = min(low, 0.0), max(high, 0.0)
    low, high = low - 0.06 * (high - low), high + 0.06 * (high - low)
    ax.plot([low, high], [low, high], color=GREY, linewidth=0.9, zorder=0)
    ax.axhline(0.0, color=BLACK, linewidth=0.6, zorder=0)
    ax.axvline(0.0, color=BLACK, linewidth=0.6, zorder=0)
    ax.set_xlim(low, high)
    ax.set_ylim(low, high)
    ax.set_xlabel(f"measured {what}, %")
    ax.set_ylabel(f"predicted {what}, %")
    if names:
        legend(ax)
    aside(ax, f"bars: {100 * level:.0f} % intervals; line: a right forecast")
    quiet(ax)


def errors_in_order(ax: Axes, rows: Sequence[tuple[str, Scored]], level: float) -> None:
    """Errors in percent one beside the other with their stated intervals; hollow: the forecast stated none."""
    z = reach(level)
    for k, (_, v) in enumerate(rows, 1):
        stated = v.predicted_sd is not None
        bad = v.inside(level) is False
        ax.errorbar(k, v.error, yerr=z * (v.sd if stated else v.measured_sd), fmt="o",
                    color=VERMILION if bad else BLUE, markerfacecolor=None if stated else "none", markersize=5,
                    elinewidth=0.9, capsize=2)
    ax.axhline(0.0, color=BLACK, linewidth=0.9)
    ax.set_xticks(range(1, len(rows) + 1))
    ax.set_xticklabels([name for name, _ in rows], fontsize=7.5)
    ax.set_xlim(0.4, len(rows) + 0.6)
    ax.set_ylabel("forecast too high by, %")
    aside(ax, f"bars: stated {100 * level:.0f} % interval; orange: outside it; hollow: none stated, bar of the pulls")
    quiet(ax)


def ledger_figure(entries: Sequence[dict[str, Any]], level: float = 0.80) -> Figure:
    """The record of many days: band errors in order, and predicted against measured differences."""
    from matplotlib.figure import Figure

    score = score_ledger(entries)
    parts = [(str(n), scored(row)) for n, row in enumerate((r for e in entries for r in e["parts"]), 1)]
    differences = [("", scored(row)) for e in entries for row in e["differences"]]
    panels = [bool(parts), bool(differences)]
    figure = Figure(figsize=(7.2, 1.6 + 3.3 * sum(panels)), layout="constrained", facecolor="white")
    axes = list(figure.subplots(max(sum(panels), 1), 1, squeeze=False)[:, 0])
    if parts:
        errors_in_order(axes[0], parts, level)
        axes.pop(0).set_xlabel("part, in the order scored")
    if differences:
        scatter(axes.pop(0), differences, level, "difference", names=False)
    _title(figure, "Forecasts held against pulls", repr(score).split("\n"))
    return figure


def _with_curves(c: Comparison) -> list[DifferenceScore]:
    return [d for d in c.differences if d.rpm is not None and d.rpm.size]


def _marked(c: Comparison, part: str, count: int) -> dict[str, Any]:
    """The part's marker, a few along a line."""
    return {"marker": MARKS[list(_colours(c)).index(part) % len(MARKS)], "markersize": 4, "markevery": sparse(count)}


def _colours(c: Comparison) -> dict[str, str]:
    parts = dict.fromkeys([c.session.baseline, *(p.part for p in c.parts)])
    colours = {part: COLOURS[i % len(COLOURS)] for i, part in enumerate(parts)}
    return {p.part: colours[p.part] for p in c.parts}


def _band(ax: Axes, c: Comparison) -> None:
    for edge in c.band or ():
        ax.axvline(edge, color=GREY, linewidth=0.8, linestyle=(0, (2, 2)))


def _heading(figure: Figure, c: Comparison) -> None:
    basis = "observed" if c.setting.basis == "observed" else f"corrected to {c.setting.basis}"
    lines = [repr(d) for d in c.differences] or [repr(p) for p in c.parts]
    seal = f"sealed {c.sealed_utc}, seal {c.sealed[:16]}" if c.sealed else "not sealed before the pulls"
    _title(figure, f"Forecast and pulls: {c.session.title}", [*lines, f"{basis}; {seal}"])


def _title(figure: Figure, title: str, lines: list[str]) -> None:
    height = figure.get_figheight()
    lines = [part for line in lines for part in textwrap.wrap(line, 104)]
    head = textwrap.wrap(title, 60, max_lines=2, placeholder=" …")
    figure.text(0.012, 1 - 0.08 / height, "\n".join(head), fontsize=13, fontweight="bold", color=BLACK, va="top")
    down = 0.25 * (len(head) - 1)
    figure.text(0.012, 1 - (0.36 + down) / height, "\n".join(lines), fontsize=9, color=GREY, va="top",
                linespacing=1.35)
    top = (0.48 + down + 0.18 * len(lines)) / height
    figure.get_layout_engine().set(rect=(0, 0.0, 1, 1.0 - top), hspace=0.02)
