"""A tuning as pictures: spark and mixture loops, burn duration, and one closed cycle from the inside."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pullcast import __version__
from pullcast.answers.tune import WAYS, Tuning
from pullcast.kernels import closed as C
from pullcast.show import look
from pullcast.solve.charge import Charge, path

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST = 6  # speeds drawn in the loops
LINES = (look.BLUE, look.VERMILION, look.GREEN, look.PURPLE, look.SKY, look.BLACK)


def tune_figure(tuning: Tuning) -> Figure:
    """Four panels: spark loops, mixture loops, spark over speed, burn duration over speed."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context(look.STYLE):
        figure = Figure(figsize=(8.5, 7.0), layout="constrained", facecolor="white")
        (sparks, mixtures), (table, burn) = figure.subplots(2, 2)
        spark_loops(tuning, sparks)
        mixture_loops(tuning, mixtures)
        spark_table(tuning, table)
        burn_duration(tuning, burn)
        law = "predicted flame" if tuning.engine.burn.law == "flame" else "Wiebe law"
        look.heading(figure, f"{tuning.engine.name}, tuned", [f"{WAYS[tuning.how].capitalize()}; {law}."],
                     {"version": __version__, "fidelity": tuning.fidelity})
    return figure


def _some(items: list) -> list:
    """At most ``MOST`` of the items, spread evenly."""
    if len(items) <= MOST:
        return items
    return [items[i] for i in np.unique(np.linspace(0, len(items) - 1, MOST).round().astype(int))]


def _line(k: int) -> dict:
    return {"color": LINES[k % len(LINES)], "linestyle": look.DASHES[k % len(look.DASHES)]}


def spark_loops(tuning: Tuning, ax: Axes) -> None:
    """Torque over spark as a share of the best, MBT and knock limit marked."""
    for k, loop in enumerate(_some([lp for lp in tuning.loops if lp is not None])):
        share = 100.0 / loop.highest
        ax.plot(loop.sparks, share * loop.torque, label=f"{loop.rpm:.0f} rpm", **_line(k))
        ax.plot([loop.mbt], [share * loop.best_torque], marker="o", color=_line(k)["color"], markersize=4)
        if np.isfinite(loop.knock_limit):
            ax.plot([loop.knock_limit], [share * loop.at("torque", loop.knock_limit)], marker="x",
                    color=_line(k)["color"], markersize=7, markeredgewidth=1.6)
    ax.set_ylim(88, 101)
    ax.set_xlabel("spark, deg before firing TDC")
    ax.set_ylabel("torque, % of the highest")
    look.quiet(ax)
    ax.legend(frameon=False, fontsize=8, loc="lower right")
    look.aside(ax, "o MBT (least for best torque), x knock begins")


def mixture_loops(tuning: Tuning, ax: Axes) -> None:
    """Torque over lambda as a share of the best."""
    found = _some([m for m in tuning.mixtures if m is not None])
    for k, m in enumerate(found):
        best = m.torque_at(m.best_torque_lambda)
        ax.plot(m.lambdas, 100 * m.torque / best, label=f"{m.rpm:.0f} rpm", **_line(k))
        ax.plot([m.best_torque_lambda], [100], marker="o", color=_line(k)["color"], markersize=4)
    ax.set_xlabel("lambda")
    ax.set_ylabel("torque, % of the best")
    look.quiet(ax)
    look.aside(ax, "each at its own best spark" if found else "no mixture loop was asked for")


def spark_table(tuning: Tuning, ax: Axes) -> None:
    """Chosen spark, MBT with its flat width, and knock limit over speed."""
    loops = [lp for lp in tuning.loops if lp is not None]
    rpm = [lp.rpm for lp in loops]
    low, high = zip(*(lp.flat for lp in loops), strict=True)
    ax.fill_between(rpm, low, high, color=look.FAINT, label="within 0.5 % of the best")
    ax.plot(rpm, [lp.mbt for lp in loops], color=look.BLUE, marker="o", markersize=3, label="MBT")
    limits = np.array([lp.knock_limit for lp in loops])
    ax.plot(rpm, np.where(np.isfinite(limits), limits, np.nan), color=look.VERMILION, linestyle=look.DASHES[1],
            marker="x", markersize=5, label="knock begins")
    ax.plot(rpm, [lp.best(tuning.how) for lp in loops], color=look.BLACK, linestyle=look.DASHES[2], label="chosen")
    ax.set_xlabel("engine speed, rpm")
    ax.set_ylabel("spark, deg before firing TDC")
    look.quiet(ax)
    look.legend(ax)


def burn_duration(tuning: Tuning, ax: Axes) -> None:
    """10 to 90 % duration and CA50 at MBT over speed."""
    loops = [lp for lp in tuning.loops if lp is not None]
    rpm = [lp.rpm for lp in loops]
    ax.plot(rpm, [lp.at("duration", lp.mbt) for lp in loops], color=look.BLUE, marker="o", markersize=3,
            label="10 to 90 % burned")
    ax.plot(rpm, [lp.at("ca50", lp.mbt) for lp in loops], color=look.GREEN, linestyle=look.DASHES[1], marker="o",
            markersize=3, label="half burned, after TDC")
    ax.set_ylim(bottom=0)
    ax.set_xlabel("engine speed, rpm")
    ax.set_ylabel("crank angle, deg")
    look.quiet(ax)
    ax.legend(frameon=False, fontsize=8)
    look.aside(ax, "at MBT")


def burn_figure(charge: Charge, spark: float, cylinder: int = 1) -> Figure:
    """One cylinder's closed cycle at ``spark``: share burned and its rate, end-gas temperature, knock integral."""
    import matplotlib as mpl

    rows = path(charge, spark, cylinder)
    with mpl.rc_context(look.STYLE):
        figure, (top, middle, bottom) = look.new_figure(7.0, 7.5, 3, [1.2, 1, 0.8])
        burn_rate(rows, top)
        burn_temperature(rows, middle)
        knock_over_angle(rows, bottom)
        look.heading(figure, f"{charge.engine.name}, burn at {charge.rpm:.0f} rpm",
                     [f"Cylinder {cylinder}, spark {spark:.1f} deg, octane {charge.octane:g}; knocks where the "
                      "integral passes 1."], {"version": __version__, "fidelity": "closed-cycle"})
    return figure


def burn_rate(rows: np.ndarray, ax: Axes) -> None:
    """Share burned per degree of a closed cycle; ``rows`` as ``pullcast.solve.charge.path`` gives them."""
    angle = rows[:, C.K_ANGLE] - 360.0
    rate = np.gradient(np.maximum.accumulate(rows[:, C.K_X]), angle) * 100
    ax.plot(angle, rate, color=look.VERMILION)
    ax.set_ylabel("burned per deg, %")
    look.aside(ax, f"{rate.sum() * (angle[1] - angle[0]):.1f} % burned in all")
    look.quiet(ax)


def burn_temperature(rows: np.ndarray, ax: Axes) -> None:
    """Temperature of the end gas, and of the charge before the flame."""
    angle, burned = rows[:, C.K_ANGLE] - 360.0, np.maximum.accumulate(rows[:, C.K_X])
    lit = np.abs(rows[:, C.K_TU] - rows[:, C.K_T]) > 1.0  # two zones
    ax.plot(angle[lit], rows[lit, C.K_TU], color=look.BLUE, label="end gas")
    ax.plot(angle[burned <= 0], rows[burned <= 0, C.K_T], color=look.GREY, linestyle=look.DASHES[1],
            label="before the flame")
    ax.set_ylabel("temperature, K")
    ax.legend(frameon=False, fontsize=8, loc="lower right")
    look.quiet(ax)


def knock_over_angle(rows: np.ndarray, ax: Axes) -> None:
    """Knock integral over crank angle; the end gas ignites by itself at 1."""
    angle = rows[:, C.K_ANGLE] - 360.0
    ax.plot(angle, rows[:, C.K_KNOCK], color=look.PURPLE)
    ax.axhline(1.0, color=look.GREY, linewidth=0.8, linestyle=look.DASHES[1])
    ax.set_ylabel("knock integral")
    ax.set_xlabel("crank angle, deg after firing TDC")
    ax.set_xlim(max(angle[0], -70), min(angle[-1], 90))
    look.quiet(ax)
