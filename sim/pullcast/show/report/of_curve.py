"""What a predicted curve, and the review of its card, give to a report."""

from __future__ import annotations

import json
import math

import numpy as np

from pullcast.answers.check import Review
from pullcast.answers.comparison import reach
from pullcast.answers.forecast import FITTED
from pullcast.answers.spread import spread_in
from pullcast.card.engine import Assumed
from pullcast.results.curve import Curve
from pullcast.results.variables import variable
from pullcast.show import findings, plots, tables
from pullcast.show.report.blocks import Block, Listing, Para, Picture, grid, lines, panels
from pullcast.show.report.chapter import Share

LEVEL = 0.80
UNSURE = ("How sure this is was not worked out for this curve (predict --interval does): expect the level within "
          "about 10 %, and differences between parts of one engine to be better known than that.")


def share(curve: Curve, units: str) -> Share:
    """The share of a curve."""
    from pullcast.results.variables import VARIABLES

    a = curve.dataset.attrs
    shown = panels(
        f"Torque and power, volumetric efficiency and mean effective pressures of {a['engine']}.",
        (2.7, lambda ax: plots.torque_power(curve, ax, units)),
        (1.75, lambda ax: plots.volumetric_efficiency(curve, ax, units)),
        (2.0, lambda ax: _bottom(plots.mean_pressures(curve, ax, units))))
    curves: list[Block] = [shown, grid(tables.columns(curve, tables.SHORT, units), curve.name)]
    if any(VARIABLES[n].trace for n in curve.dataset) and curve.peak_torque is not None:
        curves.append(_cycle(curve, units))
    more = [n for n in (*tables.BESIDE, *tables.LIMITS) if n not in tables.SHORT]
    beside = [grid(tables.columns(curve, some, units), f"{curve.name}: {what}") for what, some in (
        ("in the cylinder and the port", more[:5]), ("limits and flows", more[5:]))]
    return Share(
        f"What does {curve.name} give at full load, before the pulls?", _verdicts(curve, units), 10,
        f"Forecast of {curve.name}", tuple(curves),
        inputs=tuple(_inputs(curve, units)), method=(*beside, *lines(_method(curve))), origin=_origin(curve))


def _bottom(ax) -> None:
    ax.set_xlabel("engine speed, rpm")


def _cycle(curve: Curve, units: str) -> Picture:
    from pullcast.show import cycle_plots as cycle

    at = cycle.chosen(curve, curve.peak_torque.rpm, 1)

    def flow(ax) -> None:
        cycle.flow_panel(ax, at, units)
        cycle.crank_axis(ax)

    return panels(f"{curve.name}: valve lift, pressures and flows of cylinder 1 at {curve.peak_torque.rpm:.0f} rpm, "
                  "the speed of the highest torque.", (1.4, lambda ax: cycle.lift_panel(ax, at, units)),
                  (2.2, lambda ax: cycle.pressures(ax, at, units, curve.dataset.attrs["pressure"])), (1.9, flow))


def _verdicts(curve: Curve, units: str) -> tuple[str, ...]:
    return tuple(t for t in (curve.sentence(units), interval(curve, units), tables.knocking(curve)) if t)


def interval(curve: Curve, units: str) -> str:
    """How sure the highest torque and power are, in a sentence."""
    spread = spread_in(curve)
    if spread is None or curve.peak_torque is None:
        return UNSURE
    told = []
    for name, peak in (("torque", curve.peak_torque), ("power", curve.peak_power)):
        sd = math.hypot(float(np.linalg.norm(spread.on(np.array([peak.rpm]))[0])), spread.model)
        v = variable(name)
        low, high = (float(v.convert(peak.value * (1 + s * reach(LEVEL) * sd), units)) for s in (-1, 1))
        told.append(f"{name} {low:.0f} to {high:.0f} {v.shown(units).label}")
    return f"{LEVEL:.0%} interval of the peaks: {', '.join(told)} (from the ranges of what was assumed)."


def _inputs(curve: Curve, units: str) -> list[Block]:
    a = curve.dataset.attrs
    source = a["source"].rstrip(".") or "none"
    blocks: list[Block] = [Para(f"{curve.name}: {curve.conditions(units)}. Source of the card: {source}.")]
    rows = tuple(Assumed(**row) for row in json.loads(a.get("assumed") or "[]"))
    if rows:
        blocks.append(grid(findings.assumed_table(rows, units), assumed_title(curve.name)))
    else:
        blocks.append(Para("The saved curve does not say what was assumed; pullcast check CARD lists it."))
    return [*blocks, Listing(f"Card of {curve.name}, as read", a["card"])]


def _method(curve: Curve) -> list[str]:
    a = curve.dataset.attrs
    cells = f", duct cells of {1e3 * a['cell']:.3g} mm" if math.isfinite(a["cell"]) else ""
    bad = [f"{rpm:.0f} rpm is left out: {status}." for rpm, status in curve.failures]
    fitted = str(a.get(FITTED, "")).split()
    return [f"{curve.name}: {a['fidelity']} model{cells}; {curve.speeds.size} speeds, "
            f"{curve.speeds.size - len(bad)} converged.", *bad, tables.books(curve), tables.note(curve),
            f"Volumetric efficiency refers to air of {a['reference_density']:.4f} kg/m3." if a["reference_density"]
            else "", f"Fitted to {len(fitted)} pulls, which never score it." if fitted else ""]


def _origin(curve: Curve) -> tuple[tuple[str, str], ...]:
    a = curve.dataset.attrs
    made = f", {a['created']}" if a.get("created") else ""
    return ((f"{curve.name}: card values, SHA-256", a["sha256"]),
            (f"{curve.name}: forecast by", f"pullcast {a['version']}{made}"))


def assumed_title(name: str) -> str:
    """Title of the table of what was assumed."""
    return f"{name}: assumed or uncertain, with ranges"


def review_share(review: Review, units: str) -> Share:
    """The share of a card's review: what was assumed, what follows, what does not fit together."""
    e = review.engine
    assumed = [grid(findings.assumed_table(review.assumed, units), assumed_title(e.name))] if review.assumed else []
    told = [f"{f.level}: {f.key}: {f.text} {f.remedy}" for f in review.findings] or [
        "Nothing on the card contradicts itself or stands outside what is usual."]
    return Share(
        f"Does the card of {e.name} hold together?", (repr(review),), 1, f"Card of {e.name}",
        inputs=(*lines(told), *assumed,
                grid(findings.derived_table(review.derived, units), f"{e.name}: follows from the card")))
