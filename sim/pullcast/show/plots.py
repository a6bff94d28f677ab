"""A predicted curve as a picture: torque and power, volumetric efficiency, mean effective pressures."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pullcast.results.curve import Curve, Peak
from pullcast.results.variables import variable
from pullcast.show import look
from pullcast.show.tables import series

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

PRESSURES = (("gross_imep", look.SKY), ("imep", look.BLUE), ("bmep", look.BLACK), ("fmep", look.PURPLE),
             ("pmep", look.GREEN))


def curve_figure(curve: Curve, units: str = "si") -> Figure:
    """Three panels over speed with a title that says engine, basis and weather (7.2 x 9 in)."""
    import matplotlib as mpl

    with mpl.rc_context(look.STYLE):
        figure, (top, middle, bottom) = look.new_figure(7.2, 9.0, 3, [1.5, 0.8, 1.0])
        torque_power(curve, top, units)
        volumetric_efficiency(curve, middle, units)
        mean_pressures(curve, bottom, units)
        bottom.set_xlabel("engine speed, rpm")
        figure.align_ylabels()
        litres = f"{curve.dataset.attrs['displacement'] * 1e3:.2f} L"
        look.heading(figure, f"{curve.name}, {litres}",
                     [f"Predicted at full load, {curve.conditions(units)}", *left_out(curve)], curve.dataset.attrs)
    return figure


def left_out(curve: Curve) -> list[str]:
    """A line that says how many points did not converge, if any."""
    bad = len(curve.failures)
    return [f"Left out: {bad} of {curve.speeds.size} points, not converged"] if bad else []


def torque_power(curve: Curve, ax: Axes, units: str = "si") -> Axes:
    """Torque on the left axis, power on the right, both from zero on common grid lines; peaks labelled.

    Returns the right-hand axis.
    """
    right = ax.twinx()
    tops = {}
    for name, axis, colour, dash in (("torque", ax, look.BLUE, look.DASHES[0]),
                                     ("power", right, look.VERMILION, look.DASHES[1])):
        v = variable(name)
        values = converged(curve, name, units)
        axis.plot(curve.speeds, values, color=colour, linestyle=dash, marker="o", markersize=3)
        axis.set_ylabel(f"{name}, {v.shown(units).label}", color=colour)
        axis.tick_params(axis="y", labelcolor=colour)
        tops[axis] = 1.12 * max(np.nanmax(values, initial=0.0), 1.0)
    look.quiet(ax)
    steps, count = look.common_steps(list(tops.values()))
    for axis, step in zip(tops, steps, strict=True):
        axis.set_ylim(0, step * count)
        axis.set_yticks(np.arange(count + 1) * step)
    for side in ("top", "left", "bottom"):
        right.spines[side].set_visible(False)
    right.spines["right"].set_color(look.GREY)
    right.tick_params(color=look.GREY, length=3)
    if curve.peak_torque and curve.peak_power:
        x1, y1 = place(ax, "torque", curve.peak_torque, units)
        x2, y2 = place(right, "power", curve.peak_power, units)
        apart = (-1 if x1 <= x2 else 1) if abs(x1 - x2) < 0.35 and abs(y1 - y2) < 0.12 else 0
        mark_peak(ax, "torque", curve.peak_torque, units, look.BLUE, apart)
        mark_peak(right, "power", curve.peak_power, units, look.VERMILION, -apart)
    return right


def place(ax: Axes, name: str, peak: Peak, units: str) -> tuple[float, float]:
    """Where a peak stands in the panel, as fractions of its width and height."""
    (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
    value = float(variable(name).convert(peak.value, units))
    return (peak.rpm - left) / (right - left), (value - low) / (high - low)


def mark_peak(ax: Axes, name: str, peak: Peak, units: str, colour: str, lean: int = 0) -> None:
    """Write a peak's value and speed above its point, leaning left (-1) or right (1) of a neighbour's."""
    v = variable(name)
    value = float(v.convert(peak.value, units))
    x, _ = place(ax, name, peak, units)
    align = {-1: "right", 0: "center", 1: "left"}[lean]
    align = "right" if x > 0.82 else "left" if x < 0.18 else align
    ax.plot([peak.rpm], [value], marker="o", markersize=6, markerfacecolor="white", markeredgecolor=colour,
            markeredgewidth=1.6, zorder=5)
    ax.annotate(f"{value:.0f} {v.shown(units).label} at {peak.rpm:.0f}", (peak.rpm, value), xytext=(0, 9),
                textcoords="offset points", ha=align, color=colour, fontweight="bold", zorder=6,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.8})


def volumetric_efficiency(curve: Curve, ax: Axes, units: str = "si") -> Axes:
    """Volumetric efficiency in percent, with the reference density named."""
    ax.plot(curve.speeds, converged(curve, "volumetric_efficiency", units), color=look.BLUE, marker="o", markersize=3)
    look.quiet(ax)
    density = curve.dataset.attrs["reference_density"]
    ax.set_ylabel("volumetric\nefficiency, %")
    look.aside(ax, f"of air at {density:.3f} kg/m3")
    ax.margins(y=0.15)
    return ax


def mean_pressures(curve: Curve, ax: Axes, units: str = "si") -> Axes:
    """Mean effective pressures, each line named at its right-hand end."""
    dashes = (look.DASHES[2], look.DASHES[1], look.DASHES[0], look.DASHES[3], look.DASHES[2])
    ends = []
    for (name, colour), dash in zip(PRESSURES, dashes, strict=True):
        if name not in curve.dataset:
            continue
        values = converged(curve, name, units)
        ax.plot(curve.speeds, values, color=colour, linestyle=dash)
        last = np.flatnonzero(np.isfinite(values))
        if last.size:
            ends.append((float(values[last[-1]]), variable(name).head, colour))
    look.quiet(ax)
    ax.axhline(0.0, color=look.GREY, linewidth=0.8)
    ax.set_ylabel(f"mean effective\npressure, {variable('bmep').shown(units).label}")
    name_ends(ax, ends)
    if curve.basis != "observed":
        look.aside(ax, "BMEP corrected, the others observed")
    return ax


def name_ends(ax: Axes, ends: list[tuple[float, str, str]]) -> None:
    """Write line names to the right of the axes at their end values, kept apart."""
    low, high = ax.get_ylim()
    gap, at = 0.085 * (high - low), -np.inf
    for value, name, colour in sorted(ends):
        at = max(value, at + gap)
        ax.annotate(name, (1.0, at), xycoords=("axes fraction", "data"), xytext=(4, 0), textcoords="offset points",
                    color=colour, fontsize=8, va="center", annotation_clip=False)


def converged(curve: Curve, name: str, units: str) -> np.ndarray:
    """A variable over speed as shown, nan where the point did not converge."""
    v = variable(name)
    shown = np.asarray(v.convert(series(curve, v), units), dtype=float)
    return np.where(curve.dataset["converged"].values, shown, np.nan)
