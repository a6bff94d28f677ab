"""A tuning as tables for a terminal, as a JSON document, and as lines to paste into an engine card."""

from __future__ import annotations

import math
from collections.abc import Sequence

from rich import box
from rich.console import Group
from rich.table import Table
from rich.text import Text

from pullcast.answers.tune import WAYS, Tuning
from pullcast.answers.tune_fuel import Demand, Flow
from pullcast.answers.tune_loop import RESOLUTION
from pullcast.results.variables import variable
from pullcast.show import CAUTION

OFF = (5.0, 10.0)  # deg off MBT that the tables show
NOTHING = "–"


def tuning_view(tuning: Tuning, demand: Demand | None = None, units: str = "si", more: Sequence = ()) -> Group:
    """What ``pullcast tune`` prints; ``more`` goes in before the lines for the card."""
    e = tuning.engine
    head = f"{e.name}: {WAYS[tuning.how]}."
    parts = [Text(head, style="bold"), Text(_method(tuning)), Text(""), sparks_table(tuning, units),
             burns_table(tuning)]
    if any(m is not None for m in tuning.mixtures):
        parts += [mixtures_table(tuning), Text(_mixture_note(e))]
    if demand is not None:
        parts += [Text(""), *(Text(line) for line in fuel_lines(demand))]
    parts += [Text(f"* {rpm:.0f} rpm: {why}") for rpm, why in tuning.failures]
    parts += [part for view in more for part in (Text(""), view)]
    return Group(*parts, Text(""), Text("For the engine card:"), *(Text(f"  {t}") for t in card_lines(tuning)),
                 Text(""), Text(CAUTION, style="dim"))


def _method(tuning: Tuning) -> str:
    law = "predicted flame" if tuning.engine.burn.law == "flame" else "Wiebe law"
    text = f"By the {tuning.fidelity} model, burn by the {law}; loops on the charge each speed trapped. "
    text += f"MBT is the least advance within {100 * RESOLUTION:g} % of the highest torque; late, early: off MBT."
    changes = [s.change for s in tuning.settled if s is not None]
    if changes:
        worst = max(changes, key=abs)
        text += f" Marched again at the spark chosen, torque differs from the loop's by {100 * worst:+.2f} % at most."
    return text


def _mixture_note(engine) -> str:
    return (f"Each lambda at its own best spark; held: at that of the card's lambda {engine.mixture.lambda_:g}. "
            "Marched there, at 1 and at the ends of the loop. Misfire of lean mixtures is not in the model.")


def sparks_table(tuning: Tuning, units: str = "si") -> Table:
    """One row a speed: the spark, what it rests on, and the torque it gives."""
    v = variable("torque")
    table = right_table(("speed\nrpm", "spark\ndeg", "MBT\ndeg", "flat 0.5 %\ndeg", "knock from\ndeg",
                         "octane\nfor MBT", f"torque\n{v.shown(units).label}"))
    for loop in filter(None, tuning.loops):
        spark = loop.best(tuning.how)
        torque = float(v.convert(loop.at("torque", spark), units))
        low, high = loop.flat
        table.add_row(f"{loop.rpm:.0f}", f"{spark:.1f}", f"{loop.mbt:.1f}" + ("" if loop.inside else "+"),
                      f"{low:.0f}–{high:.0f}", limit_text(loop.knock_limit), f"{loop.octane_needed():.0f}",
                      f"{torque:.1f}")
    return table


def burns_table(tuning: Tuning) -> Table:
    """One row a speed: the burn at the chosen spark, and what being off MBT costs."""
    table = right_table(("speed\nrpm", "CA50\ndeg", "10-90 %\ndeg", *(f"{off:g} deg late\n%" for off in OFF),
                         "5 deg early\n%"))
    for loop in filter(None, tuning.loops):
        spark = loop.best(tuning.how)
        table.add_row(f"{loop.rpm:.0f}", _number(loop.at("ca50", spark), 1), _number(loop.at("duration", spark), 1),
                      *(_number(-100 * loop.loss(off), 1) for off in (*OFF, -5.0)))
    return table


def _at_one(m) -> str:
    return _number(-100 * m.loss(1.0), 1) if m.lambdas[0] <= 1.0 <= m.lambdas[-1] else NOTHING


def mixtures_table(tuning: Tuning) -> Table:
    """One row a speed: best lambdas, the flat range, and what lambda 1 costs."""
    table = right_table(("speed\nrpm", "best torque\nlambda", "flat 0.5 %\nlambda", "best economy\nlambda",
                         "lambda 1\n%", "spark held\nlambda", "lambda 1\nheld, %"))
    for m in tuning.mixtures:
        if m is None:
            continue
        low, high = m.flat
        best = m.best_torque_lambda
        table.add_row(f"{m.rpm:.0f}", f"{best:.3f}", f"{low:.2f}–{high:.2f}", f"{m.best_economy_lambda:.2f}",
                      _at_one(m), f"{m.held.best_torque_lambda:.3f}", _at_one(m.held))
    return table


def fuel_lines(need: Demand) -> list[str]:
    """The fuel system in sentences."""
    each = f"Each of {need.injectors} injectors" if need.injectors > 1 else "The injector"
    lines = [f"Fuel at most: {_flow(need.flow)} at {need.rpm:.0f} rpm ({need.fuel}).",
             f"{each} at {100 * need.duty_limit:.0f} % duty: {_flow(need.injector)}.",
             f"Pump with 20 % in hand: {_flow(need.pump)}" + (
                 f"; line bore {1e3 * need.line:.1f} mm or more at 2 m/s." if math.isfinite(need.line) else ".")]
    if math.isfinite(need.duty):
        lines.append(f"The card's injectors would be open {100 * need.duty:.0f} % of the time.")
    return lines


def card_lines(tuning: Tuning) -> list[str]:
    """The spark table as lines of a card's [burn] table."""
    rows = tuning.table()
    return ["[burn]", f'speeds = "{" ".join(f"{rpm:.0f}" for rpm, _ in rows)} rpm"',
            f'spark_at_speeds = "{" ".join(f"{spark:.1f}" for _, spark in rows)} deg"']


def tuning_document(tuning: Tuning, demand: Demand | None = None) -> dict:
    """The tuning as plain values for JSON; keys end in their unit, angles are deg before (spark) or after (CA50)
    firing top dead centre."""
    return {
        "engine": tuning.engine.name, "tune": tuning.how, "fidelity": tuning.fidelity,
        "burn_law": tuning.engine.burn.law, "speeds": [_row(tuning, i) for i in range(len(tuning.speeds))],
        "failures": [{"speed_rpm": rpm, "status": why} for rpm, why in tuning.failures],
        "fuel_system": None if demand is None else _demand(demand),
    }


def _row(tuning: Tuning, i: int) -> dict:
    loop, m, again = tuning.loops[i], tuning.mixtures[i], tuning.settled[i]
    if loop is None:
        return {"speed_rpm": tuning.speeds[i], "spark_deg": None}
    spark = loop.best(tuning.how)
    row = {
        "speed_rpm": loop.rpm, "spark_deg": spark, "mbt_deg": loop.mbt, "mbt_inside_loop": loop.inside,
        "flat_from_deg": loop.flat[0], "flat_to_deg": loop.flat[1], "knock_limit_deg": _plain(loop.knock_limit),
        "octane_needed": _plain(loop.octane_needed()), "ca50_deg": _plain(loop.at("ca50", spark)),
        "duration_10_90_deg": _plain(loop.at("duration", spark)), "torque_Nm": loop.at("torque", spark),
        "mbt_torque_Nm": loop.best_torque, "highest_torque_Nm": loop.highest, "highest_at_deg": loop.peak,
        "loss_pct": {f"{off:g}_deg_late": _plain(100 * loop.loss(off)) for off in (*OFF, -5.0)},
        "loop": {"spark_deg": loop.sparks.tolist(), "torque_Nm": loop.torque.tolist(), "knock": loop.knock.tolist(),
                 "ca50_deg": [_plain(x) for x in loop.ca50]},
    }
    if again is not None:
        row["marched_again"] = {"torque_Nm": again.torque, "change_pct": 100 * again.change,
                                "mbt_moved_deg": again.mbt - again.first_mbt}
    if m is not None:
        row["mixture"] = {"best_torque_lambda": m.best_torque_lambda, "best_economy_lambda": m.best_economy_lambda,
                          "flat_from_lambda": m.flat[0], "flat_to_lambda": m.flat[1],
                          "spark_held_deg": m.held_spark, "spark_held_best_lambda": m.held.best_torque_lambda,
                          "loop": {"lambda": m.lambdas.tolist(), "torque_Nm": m.torque.tolist(),
                                   "spark_deg": m.spark.tolist(),
                                   "spark_held_torque_Nm": [_plain(x) for x in m.held_torque],
                                   "bsfc_g_per_kWh": [_plain(3.6e9 * x) for x in m.bsfc]}}
    return row


def _demand(need: Demand) -> dict:
    return {"fuel": need.fuel, "speed_rpm": need.rpm, "power_kW": need.power / 1e3,
            "bsfc_g_per_kWh": 3.6e9 * need.bsfc, "injectors": need.injectors, "duty_limit_pct": 100 * need.duty_limit,
            "duty_pct": _plain(100 * need.duty), "line_mm": _plain(1e3 * need.line),
            **{name: _flows(getattr(need, name)) for name in ("flow", "injector", "pump")}}


def _flows(flow: Flow) -> dict:
    return {"g_per_s": flow.g_per_s, "lb_per_h": flow.lb_per_h, "cc_per_min": _plain(flow.cc_per_min)}


def _flow(flow: Flow) -> str:
    text = f"{flow.g_per_s:.2f} g/s, {flow.lb_per_h:.1f} lb/h"
    return text + (f", {flow.cc_per_min:.0f} cc/min" if flow.density else "")


def _plain(x: float) -> float | None:
    return float(x) if math.isfinite(x) else None


def _number(x: float, digits: int) -> str:
    return f"{x:.{digits}f}" if math.isfinite(x) else NOTHING


def limit_text(x: float) -> str:
    """A knock limit, deg, or that there is none in the loop."""
    return "never" if x == math.inf else "always" if x == -math.inf else f"{x:.1f}"


def right_table(heads, first: str = "") -> Table:
    """An empty table of right-aligned columns; ``first`` heads one more before them, aligned left."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, collapse_padding=True, header_style="")
    if first:
        table.add_column(first, no_wrap=True)
    for head in heads:
        table.add_column(head, justify="right", no_wrap=True)
    return table
