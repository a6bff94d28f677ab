"""The picture of a calibration: torque before and after against the pulls, and how much each unknown was narrowed."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from pullcast import units as u
from pullcast.answers.calibration import NORMAL95, Calibration
from pullcast.answers.unknowns import unknown
from pullcast.show.compare_plots import _title
from pullcast.show.look import BLACK, BLUE, GREY, SKY, VERMILION, aside, legend, quiet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def calibration_figure(c: Calibration, units: str = "si") -> Figure:
    """Two panels (7.2 x 7 in); nothing is shown."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7.2, 5.4 + 0.42 * len(c.found)), layout="constrained", facecolor="white")
    top, bottom = figure.subplots(2, 1, height_ratios=[1.2, 0.3 + 0.18 * len(c.found)])
    torque_panel(top, c, units)
    unknowns_panel(bottom, c)
    before, after = (100.0 * c.rms(t) for t in (c.before, c.after))
    _title(figure, f"Calibrated: {c.engine}",
           [f"{len(c.pulls)} pull{'s' * (len(c.pulls) != 1)}, kept apart from any scoring; torque off by "
            f"{before:.1f} % rms before, {after:.1f} % after", *c.notes])
    return figure


def torque_panel(ax: Axes, c: Calibration, units: str = "si") -> None:
    """Measured torque with its 95 % interval, the model before and after."""
    shown = {name: np.asarray(u.from_si(getattr(c, name), "torque", units))
             for name in ("measured", "before", "after")}
    sd = np.hypot(c.errors["own"], c.errors["level"])
    ax.errorbar(c.speeds, shown["measured"], yerr=NORMAL95 * sd * shown["measured"], fmt="o", color=BLACK, capsize=3,
                markersize=5, elinewidth=1.0, label="pulls, 95 %")
    ax.plot(c.speeds, shown["before"], color=SKY, linestyle=(0, (5, 2)), marker="s", markersize=4,
            label="model before")
    ax.plot(c.speeds, shown["after"], color=BLUE, marker="^", markersize=5, label="model after")
    ax.set_ylabel(f"torque, {u.unit_label('torque', units)}")
    ax.set_xlabel("engine speed, rpm")
    ax.margins(y=0.12)
    legend(ax, handlelength=3.6)
    aside(ax, "observed" if c.basis == "observed" else f"corrected to {c.basis}")
    quiet(ax)


def unknowns_panel(ax: Axes, c: Calibration) -> None:
    """Each unknown before (grey) and after (blue), in standard deviations of its prior, 95 % ranges."""
    for row, f in enumerate(reversed(c.found)):
        p = f.prior
        ax.plot([max(-NORMAL95, (p.low - p.value) / p.sd), min(NORMAL95, (p.high - p.value) / p.sd)], [row, row],
                color=GREY, linewidth=7, alpha=0.25, solid_capstyle="butt")
        colour = VERMILION if f.at_bound else BLUE
        ax.plot([(v - p.value) / p.sd for v in (f.low, f.high)], [row, row], color=colour, linewidth=2.2)
        ax.plot([(f.value - p.value) / p.sd], [row], "o", color=colour, markersize=6)
        unit = u.internal_unit(unknown(f.key).kind)
        value = f"{f.digits(f.value)} ± {f.digits(f.sd)} {unit}".strip()
        ax.annotate(f"{value}, {'on its bound' if f.at_bound else f.told}",
                    (1.0, row), (0, 6), xycoords=("axes fraction", "data"), textcoords="offset points", va="bottom",
                    ha="right", fontsize=8, color=colour)
    ax.axvline(0.0, color=BLACK, linewidth=0.8)
    ax.set_yticks(range(len(c.found)))
    ax.set_yticklabels([textwrap.fill(unknown(f.key).label, 16) for f in reversed(c.found)])
    ax.set_ylim(-0.6, len(c.found) - 0.4)
    ax.set_xlim(-3.2, 3.6)
    ax.set_xlabel("standard deviations from the middle of what was held before")
    aside(ax, "grey: before, blue: after the pulls; 95 % ranges")
    quiet(ax)
    ax.grid(axis="y", visible=False)
