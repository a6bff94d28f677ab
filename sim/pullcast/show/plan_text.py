"""The sheet of a dyno day as Markdown, plain enough to print as it stands, and as one JSON document."""

from __future__ import annotations

from typing import Any

import numpy as np

from pullcast import units as u
from pullcast.answers.plan import DayPlan, Expected
from pullcast.show import CAUTION
from pullcast.show.rank_tables import limit_text

# common practice, no source
RECORD = (
    "every pull, in order, raw: torque and rpm as the dyno logs them, uncorrected, nothing left out",
    "station pressure (not the sea-level reading), air temperature at the inlet, humidity, before each pull",
    "oil and coolant temperature, fuel pressure, lambda, spark, plenum pressure at full throttle, back pressure",
    "sweep rate or steady time, inertia entered, correction switched on or off",
    "parts by your own names, measured lengths and diameters, lash and centreline as installed, who fitted it when",
    "anything odd: noise, smell, a missed pull, a hand on the throttle",
)
# common practice, no source
RULES = (
    "Fix the band, the basis, the smoothing and the reasons to leave a pull out before the first pull.",
    "Warm up until two pulls agree within the noise, after every change.",
    "One change at a time; the same sweep rate, temperature window, lambda and spark for all, or re-tune each part "
    "as a test of its own.",
    "No best of several pulls: the mean of the band counts.",
    "If a return to A is further off than two standard errors, the comparison is void: find out why before going on.",
)
# common practice, no source
CAUTIONS = (
    "A dyno cell has rotating parts, hot surfaces, fuel, noise and carbon monoxide: follow local codes and licensed "
    "practice.",
    "After a change of cam, head, ratio or gasket prove the clearance of valves and pistons by measurement, cold and "
    "turned by hand, before it runs: at least 2.0 mm intake and 2.5 mm exhaust; no forecast proves it.",
    "Stop for knock, low oil pressure, lean running, or a driveline at its torque limit: the peak may sit at a lower "
    "speed than before.",
)


def plan_markdown(p: DayPlan, units: str = "si") -> str:
    """The whole sheet as Markdown."""
    r = p.ranking
    lines = [f"# {p.title}", "", f"Engine: {r.engine}. Base: A, as it stands. Goal: {r.goal}, {r.band[0]:.0f} to "
             f"{r.band[1]:.0f} rpm. Forecast by the {r.fidelity} model, pullcast {r.version}.", "",
             f"**{length_line(p)}**", "", *_table(*order_rows(p)), "", "## What this can resolve", "",
             *resolve_lines(p), "", "## What to expect", ""]
    for e in p.expected:
        lines += [*expected_lines(e), "", *_table(*curve_rows(e, r.base.torque, units)), ""]
    lines += ["## Limits", "", *(limits_lines(p, units) or ["- none stated on the shortlist"]), ""]
    lines += ["## Rules of the day", "", *(f"- {x}" for x in RULES), "", "## Record", "",
              *(f"- [ ] {x}" for x in RECORD), ""]
    if p.notes:
        lines += ["## Mind", "", *(f"- {x}" for x in p.notes), ""]
    lines += ["## Pulls", "", *_table(*pull_rows(p)), "", "## Cautions", "", *(f"- {x}" for x in CAUTIONS), "",
              f"{CAUTION}", ""]
    return "\n".join(lines)


def length_line(p: DayPlan) -> str:
    """Order, pulls and time, of each day where there are several."""
    hours = [sum(s.minutes for s in day) / 60.0 for day in p.days]
    each = "" if len(hours) == 1 else f" over {len(hours)} days ({', '.join(f'{h:.1f}' for h in hours)})"
    return (f"{p.sequence}, {p.stops[0].pulls} pulls each, {p.total_pulls} in all, about {p.minutes / 60:.1f} "
            f"hours{each}.")


def order_rows(p: DayPlan) -> tuple[list[str], list[list[str]]]:
    """Heads and rows of the order, with the clock of each day running."""
    rows, clock, several = [], 0.0, len(p.days) > 1
    for k, s in enumerate(p.stops, 1):
        new = k > 1 and s.day != p.stops[k - 2].day
        clock = 0.0 if new else clock
        change = "; ".join(s.change) or ("as it stands" if k == 1 or new else "nothing")
        first = [str(s.day)] if several else []
        rows.append([*first, str(k), s.letter, s.name, change, f"{s.wrench_minutes:.0f}", str(s.pulls),
                     f"{s.minutes:.0f}", f"{int(clock // 60)}:{int(clock % 60):02d}"])
        clock += s.minutes
    heads = ["", "part", "name", "change", "wrench min", "pulls", "all min", "starts at"]
    return ["day", *heads] if several else heads, rows


def resolve_lines(p: DayPlan) -> list[str]:
    """What the number of pulls is good for, with the checked chances."""
    refit = "not known to the judge, truly about 0.4 %" if p.refit is None else f"{100 * p.refit:.2f} %"
    lines = [f"- Reckoned with: pull to pull {100 * p.noise:.2f} %, taking off and putting on {refit}, drift "
             f"{100 * p.drift:.1f} % over the day."]
    for e in p.expected:
        lines.append(f"- {e.letter}: a true difference of {100 * e.resolution:.1f} % is resolved on "
                     f"{100 * e.power:.0f} % of such days, the forecast {100 * e.place.gain:+.1f} % on "
                     f"{100 * e.power_at_gain:.0f} % (drawn days, judged as `pullcast judge` judges).")
    lines.append(f"- Identical parts come out as different on {100 * p.false_resolved:.0f} % of such days.")
    return lines


def expected_lines(e: Expected) -> list[str]:
    """A candidate's gain, where it wins and loses, where the curves cross."""
    p, change = e.place, np.array(e.change)
    band = "" if p.low is None else f" (80 % band {100 * p.low:+.1f} to {100 * p.high:+.1f} %)"
    best, worst = int(np.argmax(change)), int(np.argmin(change))
    text = [f"**{e.letter}, {p.name}**: {100 * p.gain:+.1f} %{band} over the band; most at {e.rpm[best]:.0f} rpm "
            f"({100 * change[best]:+.1f} %), least at {e.rpm[worst]:.0f} rpm ({100 * change[worst]:+.1f} %)."]
    if e.crossing:
        text.append("The curves cross near " + ", ".join(f"{x:.0f}" for x in e.crossing) + " rpm: if the pulls cross "
                    "elsewhere or not at all, something else differs than the part.")
    else:
        text.append(f"Forecast on one side of A over the whole band ({'above' if change.mean() > 0 else 'below'}).")
    return text


def curve_rows(e: Expected, base: tuple[float, ...], units: str) -> tuple[list[str], list[list[str]]]:
    """Heads and rows of the expected torque."""
    label = u.unit_label("torque", units)
    heads = ["rpm", f"A {label}", f"{e.letter} {label}", "change %", "80 % band"]
    rows = []
    for k, rpm in enumerate(e.rpm):
        band = f"{100 * e.low[k]:+.1f} to {100 * e.high[k]:+.1f}" if e.low else "–"
        rows.append([f"{rpm:.0f}", *(f"{float(u.from_si(t, 'torque', units)):.1f}" for t in
                                     (base[k], e.place.torque[k])), f"{100 * e.change[k]:+.1f}", band])
    return heads, rows


def limits_lines(p: DayPlan, units: str) -> list[str]:
    """The limits of every engine of the day with their forecast values."""
    return [f"- {letter}: {limit_text(x, units)}{'' if x.kept else ' — BROKEN'}" for letter, place in
            [("A", p.ranking.base), *((e.letter, e.place) for e in p.expected)] for x in place.limits]


def pull_rows(p: DayPlan) -> tuple[list[str], list[list[str]]]:
    """An empty row a pull, to be filled in by hand."""
    heads = ["pull", "part", "time", "air °C", "station hPa", "humidity %", "oil °C", "lambda", "file", "remark"]
    letters = [s.letter for s in p.stops for _ in range(s.pulls)]
    return heads, [[str(k), letter, *[""] * (len(heads) - 2)] for k, letter in enumerate(letters, 1)]


def _table(heads: list[str], rows: list[list[str]]) -> list[str]:
    whole = [heads, *rows]
    width = [max(len(row[k]) for row in whole) for k in range(len(heads))]

    def line(row: list[str]) -> str:
        return "| " + " | ".join(x.ljust(w) for x, w in zip(row, width, strict=True)) + " |"

    return [line(heads), "|" + "|".join("-" * (w + 2) for w in width) + "|", *map(line, rows)]


def plan_document(p: DayPlan) -> dict[str, Any]:
    """The plan as plain values with unit-suffixed keys."""
    return {
        "pullcast_plan": 1, "title": p.title, "sequence": p.sequence, "pulls_per_fit": p.stops[0].pulls,
        "total_pulls": p.total_pulls, "minutes": p.minutes, "day_hours": p.hours, "days": len(p.days),
        "noise_percent": 100 * p.noise,
        "refit_percent": None if p.refit is None else 100 * p.refit, "drift_percent": 100 * p.drift,
        "false_resolved": p.false_resolved, "enough": p.pulls.enough,
        "stops": [{"day": s.day, "part": s.letter, "name": s.name, "change": list(s.change),
                   "wrench_minutes": s.wrench_minutes, "pulls": s.pulls, "minutes": s.minutes} for s in p.stops],
        "expected": [{"part": e.letter, "name": e.place.name, "gain_percent": 100 * e.place.gain,
                      "resolution_percent": 100 * e.resolution, "power": e.power, "power_at_gain": e.power_at_gain,
                      "rpm": list(e.rpm), "change_percent": [100 * x for x in e.change],
                      "crossing_rpm": list(e.crossing)} for e in p.expected],
        "notes": list(p.notes),
    }
