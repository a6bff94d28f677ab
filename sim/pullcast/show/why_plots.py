"""What happens in the cycle of two engines at one speed: port pressure, valve flow, the two waves, the pumping loop,
and pressure over place and crank angle in runner and primary."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from pullcast import units as u
from pullcast.answers.cycle_evidence import Along, Evidence
from pullcast.results.variables import variable
from pullcast.show import look
from pullcast.show.explain_words import alike

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

TURN = np.arange(-180, 541)  # deg: from the exhaust stroke to the expansion stroke, overlap TDC at 0
TICKS = ((-180, "BDC"), (0, "overlap\nTDC"), (180, "BDC"), (360, "firing\nTDC"), (540, "BDC"))
COLOURS, DASHES = (look.BLACK, look.VERMILION), (look.DASHES[0], look.DASHES[1])
NAMES = ("base", "other")


def why_figure(base: Evidence, other: Evidence, units: str = "si") -> Figure:
    """Six panels of both engines at one speed (7.6 x 10.6 in); "base" solid black, "other" dashed red."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    both = (base, other)
    with mpl.rc_context(look.STYLE):
        figure = Figure(figsize=(7.6, 10.6), layout="constrained", facecolor="white")
        axes = figure.subplot_mosaic([["port", "port"], ["flow", "flow"], ["waves", "loop"], ["runner 0", "runner 1"],
                                      ["primary 0", "primary 1"]], height_ratios=[1.2, 0.9, 1.1, 1.0, 1.0])
        trace_panel(axes["port"], both, "intake_pressure", "intake port pressure", units)
        trace_panel(axes["flow"], both, "intake_flow", "flow at intake valve", units)
        wave_panel(axes["waves"], both, units)
        loop_panel(axes["loop"], both, units)
        for kind in ("runner", "primary"):
            wave_diagrams(figure, [axes[f"{kind} 0"], axes[f"{kind} 1"]], both, kind, units)
        height = figure.get_figheight()
        figure.text(0.012, 1 - 0.1 / height, f"The cycle at {base.rpm:.0f} rpm, cylinder {base.cylinder}",
                    fontsize=13, fontweight="bold", va="top")
        figure.text(0.012, 1 - 0.38 / height, f"base: {base.engine}\nother: {other.engine}", fontsize=8.5, va="top",
                    color=look.GREY, linespacing=1.35)
        figure.get_layout_engine().set(rect=(0, 0, 1, 1 - 0.75 / height), hspace=0.05)
    return figure


def trace_panel(ax: Axes, both: tuple[Evidence, Evidence], name: str, label: str, units: str) -> None:
    """One trace of both engines over the gas exchange and compression; the time the intake is open is shaded."""
    v = variable("intake_port_pressure" if "pressure" in name else "intake_mass_flow")
    v_units = "pressure" if "pressure" in name else ""
    for e, colour, dash, who in zip(both, COLOURS, DASHES, NAMES, strict=True):
        values = getattr(e, name)[TURN % 720]
        shown = u.from_si(values, v_units, units) if v_units else v.convert(values, units)
        ax.plot(TURN, shown, color=colour, linestyle=dash, linewidth=1.5, label=who)
    opening, closing = both[0].intake_events
    ax.axvspan(opening, closing, color=look.SKY, alpha=0.15, linewidth=0)
    ax.annotate("intake open", (0.5 * (opening + closing), 1.0), xycoords=("data", "axes fraction"), fontsize=8,
                ha="center", va="bottom", color=look.BLUE)
    if v_units:
        ax.axhline(u.from_si(both[0].outside, v_units, units), color=look.GREY, linewidth=0.8)
    else:
        ax.axhline(0.0, color=look.GREY, linewidth=0.8)
    ax.set_ylabel(f"{label},\n{u.unit_label(v_units, units) if v_units else v.shown(units).label}")
    _crank(ax)
    look.legend(ax, loc="upper right")


def wave_panel(ax: Axes, both: tuple[Evidence, Evidence], units: str) -> None:
    """The wave that runs towards the intake valve and the one that runs away from it, near the valve."""
    for e, colour in zip(both, COLOURS, strict=True):
        if e.runner is None:
            continue
        waves = e.runner.waves(0)
        for p, dash in ((waves.forward, look.DASHES[0]), (waves.backward, look.DASHES[2])):
            rise = u.from_si((p - waves.p0)[TURN % 720], "pressure", units)
            ax.plot(TURN, rise, color=colour, linestyle=dash, linewidth=1.2)
    opening, closing = both[0].intake_events
    ax.axvspan(opening, closing, color=look.SKY, alpha=0.15, linewidth=0)
    ax.axhline(0.0, color=look.GREY, linewidth=0.8)
    ax.set_ylabel(f"wave over the mean, {u.unit_label('pressure', units)}")
    ax.set_title("solid: towards the valve; dotted: away from it", fontsize=8, color=look.GREY, loc="left")
    _crank(ax)


def loop_panel(ax: Axes, both: tuple[Evidence, Evidence], units: str) -> None:
    """Cylinder pressure over volume in the gas exchange: the pumping loop."""
    kind = "pressure"
    for e, colour, dash in zip(both, COLOURS, DASHES, strict=True):
        turn = np.arange(520, 920) % 720
        ax.plot(u.from_si(e.volume[turn], "volume", units), u.from_si(e.cylinder_pressure[turn], kind, units),
                color=colour, linestyle=dash, linewidth=1.3)
    ax.axhline(u.from_si(both[0].outside, kind, units), color=look.GREY, linewidth=0.8)
    lowest = min(float(e.cylinder_pressure.min()) for e in both)
    ax.set_ylim(u.from_si(0.9 * lowest, kind, units), u.from_si(1.8 * both[0].outside, kind, units))
    ax.set_xlabel(f"cylinder volume, {u.unit_label('volume', units)}", labelpad=1)
    ax.set_ylabel(f"cylinder pressure, {u.unit_label(kind, units)}")
    work = " and ".join(alike(both[0].pmep, both[1].pmep, kind, units))
    ax.set_title(f"pumping loop, PMEP {work}", fontsize=8, color=look.GREY, loc="left")
    look.quiet(ax)


def wave_diagrams(figure: Figure, axes: list[Axes], both: tuple[Evidence, Evidence], kind: str, units: str) -> None:
    """Pressure over distance from the valve and crank angle, both engines on one scale; a line where it is that
    outside. Lightness rises with pressure (map of Nuñez, Anderton & Renslow 2018): a print in grey tells it too."""
    pipes: list[Along | None] = [getattr(e, kind) for e in both]
    shown = [u.from_si(p.pressure[:, TURN % 720], "pressure", units) for p in pipes if p is not None]
    low, high = min(map(np.min, shown)), max(map(np.max, shown))
    outside = float(u.from_si(both[0].outside, "pressure", units))
    mesh = None
    for ax, p, who in zip(axes, pipes, NAMES, strict=True):
        if p is None:
            ax.set_axis_off()
            continue
        x = np.asarray(u.from_si(p.x, "length", units))
        p_here = u.from_si(p.pressure[:, TURN % 720], "pressure", units)
        mesh = ax.pcolormesh(TURN, x, p_here, cmap="cividis", vmin=low, vmax=high, shading="nearest", rasterized=True)
        ax.contour(TURN, x, p_here, levels=[outside], colors="white", linewidths=0.6)
        ax.set_ylabel(f"from the valve, {u.unit_label('length', units)}")
        ax.set_title(f"pressure in the {kind}, {who} (line: outside)", fontsize=8, color=look.GREY, loc="left")
        _crank(ax)
        ax.grid(visible=False)
    if mesh is not None:
        figure.colorbar(mesh, ax=axes, pad=0.01, aspect=14).set_label(u.unit_label("pressure", units), fontsize=8)


def _crank(ax: Axes) -> None:
    look.quiet(ax)
    ax.set_xticks([a for a, _ in TICKS], [name for _, name in TICKS], fontsize=7.5)
    ax.set_xlim(TURN[0], TURN[-1])
