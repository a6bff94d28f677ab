"""One cylinder over one cycle: valve lift, port and cylinder pressure, flow at the valves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pullcast.errors import InputError
from pullcast.results.curve import Curve
from pullcast.results.variables import variable
from pullcast.show import look

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FIRST = 360  # the picture runs from firing to firing, so that the gas exchange stands whole in the middle
MARKS = ((360, "firing TDC"), (540, "BDC"), (720, "overlap TDC"), (900, "BDC"), (1080, "firing TDC"))
INTAKE, EXHAUST, CYLINDER = look.BLUE, look.VERMILION, look.BLACK


def cycle_figure(curve: Curve, rpm: float, cylinder: int = 1, units: str = "si") -> Figure:
    """Lift, pressures and flows of one cylinder over the cycle at the converged speed nearest ``rpm`` (7.2 x 8 in).

    Raises InputError when the curve has no traces, no such cylinder, or no converged speed.
    """
    import matplotlib as mpl

    at = chosen(curve, rpm, cylinder)
    with mpl.rc_context(look.STYLE):
        figure, (top, middle, bottom) = look.new_figure(7.2, 8.0, 3, [0.7, 1.3, 1.0])
        lift_panel(top, at, units)
        pressures(middle, at, units, curve.dataset.attrs["pressure"])
        flow_panel(bottom, at, units)
        crank_axis(bottom)
        figure.align_ylabels()
        speed = float(at["speed"])
        look.heading(figure, f"{curve.name}, cylinder {cylinder} at {speed:.0f} rpm",
                     [f"Predicted at full load, {curve.conditions(units)}"], curve.dataset.attrs)
    return figure


def lift_panel(ax: Axes, at, units: str = "si") -> None:
    """Lift of the valves of one cylinder; ``at`` from ``chosen``."""
    lines(ax, at, units, "valve lift", (("intake_lift", INTAKE, "intake"), ("exhaust_lift", EXHAUST, "exhaust")))


def flow_panel(ax: Axes, at, units: str = "si") -> None:
    """Flow at the valves of one cylinder."""
    lines(ax, at, units, "flow at the valves", (("intake_mass_flow", INTAKE, "into the cylinder"),
                                                ("exhaust_mass_flow", EXHAUST, "out of the cylinder")))
    ax.axhline(0.0, color=look.GREY, linewidth=0.8)


def crank_axis(ax: Axes) -> None:
    """Crank angle from firing to firing, dead centres named."""
    ax.set_xticks([a for a, _ in MARKS], [f"{a % 720 if a != 720 else 0}°\n{name}" for a, name in MARKS])
    ax.set_xlim(FIRST, FIRST + 720)


def chosen(curve: Curve, rpm: float, cylinder: int):
    """The traces of one cylinder at the nearest speed that converged."""
    d = curve.dataset
    if "cylinder_pressure" not in d:
        msg = "this curve holds no traces: predict with traces=True (--traces)"
        raise InputError(msg)
    if cylinder not in d["cylinder"].values:
        msg = f"there is no cylinder {cylinder}: this engine has 1 to {d.sizes['cylinder']}"
        raise InputError(msg)
    good = d.isel(speed=np.flatnonzero(d["converged"].values))
    if not good.sizes["speed"]:
        msg = "no speed of this curve converged: there is no cycle to show"
        raise InputError(msg)
    return good.sel(speed=rpm, method="nearest").sel(cylinder=cylinder)


def lines(ax: Axes, at, units: str, label: str, parts: tuple[tuple[str, str, str], ...]) -> None:
    """Traces that share a unit, named above the panel."""
    for (name, colour, text), dash in zip(parts, look.DASHES, strict=False):
        v = variable(name)
        ax.plot(*unrolled(at[name].values, v, units), color=colour, linestyle=dash, linewidth=1.5, label=text)
    look.quiet(ax)
    for angle, _ in MARKS:
        ax.axvline(angle, color=look.FAINT, linewidth=0.7, zorder=0)
    ax.set_ylabel(f"{label}, {variable(parts[0][0]).shown(units).label}")
    ax.legend(frameon=False, fontsize=8, loc="lower right", bbox_to_anchor=(1.0, 0.97), ncols=3, handlelength=2.6)


def pressures(ax: Axes, at, units: str, outside: float) -> None:
    """Port pressures, and the cylinder pressure where it is in their range (gas exchange)."""
    ports = [at[n].values for n in ("intake_port_pressure", "exhaust_port_pressure")]
    lines(ax, at, units, "pressure", (("intake_port_pressure", INTAKE, "intake port"),
                                      ("exhaust_port_pressure", EXHAUST, "exhaust port"),
                                      ("cylinder_pressure", CYLINDER, "cylinder")))
    v = variable("intake_port_pressure")
    low, high = (float(v.convert(x, units)) for x in (min(map(np.min, ports)), max(map(np.max, ports))))
    room = 0.12 * (high - low) + 1e-9
    ax.set_ylim(low - room, high + 3 * room)
    ax.axhline(float(v.convert(outside, units)), color=look.GREY, linewidth=0.8)
    ax.annotate("outside", (1.0, float(v.convert(outside, units))), xycoords=("axes fraction", "data"),
                xytext=(4, 0), textcoords="offset points", fontsize=8, color=look.GREY, va="center")


def unrolled(values: np.ndarray, v, units: str) -> tuple[np.ndarray, np.ndarray]:
    """Angle from firing to firing (360 to 1080 deg) and the values in that order, as shown."""
    angle = np.arange(FIRST, FIRST + values.size + 1)
    return angle, np.asarray(v.convert(values, units))[angle % values.size]
