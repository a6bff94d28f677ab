"""What a tuning can tell beside its loops: what-ifs, an accelerating pull, the motored engine. Tables and JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from rich.console import Group
from rich.table import Table
from rich.text import Text

from pullcast.answers.tune_pull import Pull
from pullcast.answers.tune_what_if import FuelSplit, Tuned
from pullcast.results.variables import variable
from pullcast.show.tune_tables import limit_text, right_table

AS_IS = "as the card has it"


def what_if_table(rows: Sequence[Tuned], units: str = "si") -> Table:
    """One row a case and speed, the first case the engine as it is: spark, knock, octane, knock-limited torque."""
    v = variable("torque")
    table = right_table(("speed\nrpm", "MBT\ndeg", "knock from\ndeg", "octane\nfor MBT",
                         f"torque\n{v.shown(units).label}", "change\n%"), first="what if")
    base = {r.rpm: r for r in rows if r.what == AS_IS}
    for r in rows:
        change = 100.0 * (r.torque / base[r.rpm].torque - 1.0)
        table.add_row(r.what, f"{r.rpm:.0f}", f"{r.mbt:.1f}", limit_text(r.knock_limit), f"{r.octane_needed:.0f}",
                      f"{float(v.convert(r.torque, units)):.1f}", "" if r.what == AS_IS else f"{change:+.1f}")
    return table


def split_lines(splits: dict[str, Sequence[FuelSplit]], units: str = "si") -> list[str]:
    """Why another fuel changes torque, a line a speed."""
    v = variable("torque")
    unit = v.shown(units).label
    return [f"{what} at {s.rpm:.0f} rpm: {float(v.convert(s.total, units)):+.1f} {unit}, of it cooling of the charge "
            f"{float(v.convert(s.cooling, units)):+.1f}, energy per air {float(v.convert(s.energy, units)):+.1f}, "
            f"knock {float(v.convert(s.knock, units)):+.1f}."
            for what, rows in splits.items() for s in rows]


def pull_view(pull: Pull, speeds: Sequence[float], units: str = "si") -> Group:
    """An accelerating pull at the ``speeds`` (rpm) of the loops: time, steady torque, torque at the brake."""
    v = variable("torque")
    unit = v.shown(units).label
    table = right_table(("speed\nrpm", "time\ns", f"steady\n{unit}", f"at the brake\n{unit}"))
    for rpm in speeds:
        row = (float(np.interp(rpm, pull.speed, c)) for c in (pull.time, pull.torque, pull.shown))
        t, steady, shown = row
        table.add_row(f"{rpm:.0f}", f"{t:.1f}", f"{float(v.convert(steady, units)):.1f}",
                      f"{float(v.convert(shown, units)):.1f}")
    text = (f"A pull at {pull.rate:g} rpm/s, {pull.time[-1]:.1f} s, {pull.time.size} cycles a cylinder: what turns "
            f"takes {float(v.convert(pull.hidden, units)):.1f} {unit}. Cycle by cycle as if steady; walls and "
            "exhaust warm as in steady running.")
    return Group(Text(text), table)


def motored_view(rows: Sequence[dict], units: str = "si") -> Group:
    """The motored engine with its throttle closed."""
    names = ("torque", "pmep", "fmep", "plenum_pressure")
    heads = ("torque", "PMEP", "FMEP", "plenum")
    table = right_table(("speed\nrpm", *(f"{h}\n{variable(n).shown(units).label}"
                                         for h, n in zip(heads, names, strict=True))))
    for r in rows:
        table.add_row(f"{r['rpm']:.0f}" + ("" if r["converged"] else "*"),
                      *(f"{float(variable(n).convert(r[n], units)):.{1 if n == 'torque' else 2}f}" for n in names))
    text = "Motored, throttle closed, nothing burned: torque to turn the engine."
    if not all(r["converged"] for r in rows):
        text += " * did not settle."
    return Group(Text(text), table)


def what_if_document(rows: Sequence[Tuned], splits: dict[str, Sequence[FuelSplit]]) -> dict:
    """What-ifs as plain values."""
    return {
        "what_if": [{"what": r.what, "speed_rpm": r.rpm, "mbt_deg": r.mbt, "knock_limit_deg": _plain(r.knock_limit),
                     "octane_needed": _plain(r.octane_needed), "mbt_torque_Nm": r.best_torque,
                     "torque_Nm": r.torque} for r in rows],
        "fuel_split": [{"what": what, "speed_rpm": s.rpm, "cooling_Nm": s.cooling, "energy_Nm": s.energy,
                        "knock_Nm": s.knock} for what, held in splits.items() for s in held],
    }


def pull_document(pull: Pull) -> dict:
    """An accelerating pull as plain values, a row a cycle."""
    return {"pull": {"rate_rpm_per_s": pull.rate, "inertia_kg_m2": pull.inertia, "hidden_torque_Nm": pull.hidden,
                     "time_s": pull.time.tolist(), "speed_rpm": pull.speed.tolist(),
                     "torque_Nm": pull.torque.tolist(), "brake_torque_Nm": pull.shown.tolist()}}


def motored_document(rows: Sequence[dict]) -> dict:
    """The motored engine as plain values."""
    return {"motored": [{"speed_rpm": r["rpm"], "converged": r["converged"], "torque_Nm": r["torque"],
                         "pmep_bar": r["pmep"] / 1e5, "fmep_bar": r["fmep"] / 1e5,
                         "plenum_pressure_kPa": r["plenum_pressure"] / 1e3} for r in rows]}


def _plain(x: float) -> float | None:
    return float(x) if math.isfinite(x) else None
