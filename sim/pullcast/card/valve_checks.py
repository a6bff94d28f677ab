"""Checks on cams, flow sheets, valves and ports."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from pullcast.card import bench
from pullcast.card.cam import IN_050
from pullcast.card.classes import CLASSES, EngineClass
from pullcast.card.engine import Engine, Finding, Lobe, ValveSide

INCH_WATER = 249.08891


def cams(engine: Engine) -> Iterator[Finding]:
    """Durations against class and against each other; lifts, rockers, lash."""
    c = CLASSES[engine.engine_class]
    for side, lobe, valves in (("intake", engine.cam.intake, engine.head.intake),
                               ("exhaust", engine.cam.exhaust, engine.head.exhaust)):
        key = f"cam.{side}"
        yield from _duration(lobe, key, c)
        yield from _flanks(lobe, key)
        yield from _nested(lobe, key)
        yield from _lift(lobe, key, valves, c, side)
        if not 88.0 <= lobe.centreline_deg <= 128.0:
            yield Finding("doubt", f"{key}.centreline", f"a centreline of {lobe.centreline_deg:g} deg; 95 to 122 is "
                          f"usual",
                          "Check events, separation and advance.")
    seat = [max((d.duration_deg for d in lobe.durations), default=0.0) for lobe in (engine.cam.intake,
                                                                                    engine.cam.exhaust)]
    if seat[0] and seat[1] and not 0.85 <= seat[1] / seat[0] <= 1.2:
        yield Finding("doubt", "cam.exhaust", f"durations of {seat[0]:g} (intake) and {seat[1]:g} deg (exhaust) "
                      f"differ a lot",
                      "Are they counted at the same lift?")


def _duration(lobe: Lobe, key: str, c: EngineClass) -> Iterator[Finding]:
    lift, side = (IN_050, "tappet") if c.duration_at == "0p050in" else (0.001, "valve")
    row = c.rows["cam.intake.duration"]
    for d in lobe.durations:
        if d.side != side or abs(d.lift - lift) > 2e-6:
            continue
        over = d.duration_deg - (row.high * (1.06 if key == "cam.exhaust" else 1.0) + 12.0)
        if over > 0 or d.duration_deg < row.low - 12.0:
            remedy = "Is it the advertised duration?" if over > 0 else "Is it counted at more lift than stated?"
            yield Finding("doubt", key, f"{d.duration_deg:g} deg at {lift * 1e3:.2f} mm is outside what is usual for "
                          f"a {c.title} "
                          f"({row.low:g} to {row.high:g})", remedy)


def _flanks(lobe: Lobe, key: str) -> Iterator[Finding]:
    """Advertised less 0.050 in duration: 32 to 57 deg (common practice, no source); less where counted higher up."""
    at = {round(d.lift / 0.0254, 4): d.duration_deg for d in lobe.durations if d.side == "tappet"}
    core = at.get(0.05)
    for lift, duration in at.items():
        if core is None or not 0.002 <= lift <= 0.03:
            continue
        low, high = (28.0, 66.0) if lift <= 0.009 else (16.0, 52.0)
        if not low <= duration - core <= high:
            yield Finding("doubt", key, f"advertised ({duration:g} deg at {lift:.3f} in) less 0.050 in duration "
                          f"({core:g}) is "
                          f"{duration - core:g} deg; {low:g} to {high:g} can be",
                          "Is the advertised duration counted at another lift, or is one of another lobe?")


def _nested(lobe: Lobe, key: str) -> Iterator[Finding]:
    """A duration counted at less lift is longer, whichever side it is counted on."""
    at_valve = sorted(((d.lift if d.side == "valve" else max(0.0, d.lift * lobe.rocker_ratio - lobe.lash)), d)
                      for d in lobe.durations)
    for (low, long), (high, short) in pairwise(at_valve):
        if high - low > 2e-4 and long.duration_deg < short.duration_deg + 4.0:
            yield Finding("doubt", key, f"{long.duration_deg:g} deg at {long.lift * 1e3:.2f} mm {long.side} lift and "
                          f"{short.duration_deg:g} deg at {short.lift * 1e3:.2f} mm {short.side} lift: at less lift "
                          "the duration must be longer",
                          "Is the checked duration written as the advertised one, or a check lift wrong?")
            return


def _lift(lobe: Lobe, key: str, valves: ValveSide, c: EngineClass, side: str) -> Iterator[Finding]:
    row = c.rows[f"cam.{side}.valve_lift"]
    if not 0.85 * row.low <= lobe.lift <= 1.15 * row.high:
        yield Finding("doubt", f"{key}.valve_lift", f"a valve lift of {lobe.lift * 1e3:.2f} mm is outside what is "
                      f"usual for a "
                      f"{c.title} ({row.low * 1e3:g} to {row.high * 1e3:g})",
                      "Is it the lobe lift, or another rocker ratio, or another unit?")
    if not 0.12 <= lobe.lift / valves.diameter <= 0.56:
        yield Finding("doubt", f"{key}.valve_lift", f"lift / valve diameter is {lobe.lift / valves.diameter:.2f}",
                      "0.2 to 0.35 is usual: check both.")
    ratio = c.rows[f"{key}.rocker_ratio"]
    pivot = ratio.high > 1.05 or lobe.rocker_ratio > 1.05
    low, high = (0.88 * ratio.low, 1.12 * ratio.high) if ratio.high > 1.05 else (0.95, 2.1)
    if pivot and not low <= lobe.rocker_ratio <= high:
        yield Finding("doubt", f"{key}.rocker_ratio", f"a rocker ratio of {lobe.rocker_ratio:g}; {low:.2g} to "
                      f"{high:.2g} is usual",
                      "Valve lift over lobe lift is meant.")
    if lobe.lash > c.rows[f"{key}.lash"].high + 0.00025:
        yield Finding("doubt", f"{key}.lash", f"a lash of {lobe.lash * 1e3:.2f} mm",
                      "Is it in thousandths of an inch?")


def sheets(engine: Engine) -> Iterator[Finding]:
    """Flow sheets against the ideal flow of the bench, usual coefficients, and each other."""
    for side, valves, lobe in (("intake", engine.head.intake, engine.cam.intake),
                               ("exhaust", engine.head.exhaust, engine.cam.exhaust)):
        key = f"head.{side}.flow"
        if valves.flow is None:
            yield Finding("note", key, f"no {side} flow sheet: coefficients from the literature are used (±10 %)",
                          "A sheet from any bench, with its depression, is better.")
            continue
        ideal = _above_ideal(valves, key)
        if ideal is not None:
            yield ideal
            continue
        yield from _coefficients(valves, key, side)
        if valves.flow.lifts[0] > 0.36 * lobe.lift:
            yield Finding("doubt", f"{key}.lifts", f"the sheet begins at {valves.flow.lifts[0] * 1e3:.1f} mm, "
                          f"{valves.flow.lifts[0] / lobe.lift:.2f} of the valve lift",
                          "Low lifts fix where the engine begins to breathe: flow them too, or take them from a "
                          "like head.")
        if valves.flow.lifts[-1] < 0.8 * lobe.lift:
            yield Finding("note", f"{key}.lifts", f"the sheet ends at {valves.flow.lifts[-1] * 1e3:.1f} mm, the "
                          f"valve lifts "
                          f"{lobe.lift * 1e3:.1f} mm", "Beyond the sheet the last coefficient is held.")
    yield from _balance(engine)


def _above_ideal(valves: ValveSide, key: str) -> Finding | None:
    """A flow above what the smaller of curtain and throat passes ideally: 146 CFM/in2 at 28 inH2O."""
    sheet = valves.flow
    per_area = bench.limit_velocity(sheet.depression, sheet.temperature, sheet.pressure)
    for lift, flow in zip(sheet.lifts, sheet.flows, strict=True):
        smallest = min(bench.curtain_area(valves, lift), bench.throat_area(valves))
        if flow > 1.002 * per_area * smallest:
            return Finding("contradiction", f"{key}.flows", f"{flow * 2118.88:.0f} CFM at {lift * 1e3:.2f} mm is "
                           f"more than an ideal "
                           f"valve passes ({per_area * smallest * 2118.88:.0f} CFM "
                           f"at {sheet.depression / INCH_WATER:.0f} inH2O)",
                           "Check valve size, number of valves, lift unit, flow unit and depression.")
    return None


def _coefficients(valves: ValveSide, key: str, side: str) -> Iterator[Finding]:
    pairs = [(lift / valves.diameter, c)
             for lift, c in zip(valves.flow.lifts, bench.curtain_coefficients(valves), strict=True)]
    odd = [(x, c) for x, c in pairs if x >= 0.04 and not 0.30 <= c <= 0.95]
    middle = [c for x, c in pairs if 0.08 <= x <= 0.26]
    mean = sum(middle) / len(middle) if middle else 0.0
    if odd:
        x, c = odd[0]
        yield Finding("doubt", f"{key}.flows", f"a coefficient of {c:.2f} on the curtain at lift / diameter {x:.2f} "
                      "(0.3 to 0.95 can be)", _other_depression(valves, mean))
        return
    if middle and not 0.50 <= mean <= 0.82:
        yield Finding("doubt", f"{key}.depression", f"coefficients of {mean:.2f} on the curtain at medium lift; "
                      f"0.55 to 0.75 "
                      "is usual", _other_depression(valves, mean))


def _other_depression(valves: ValveSide, mean: float) -> str:
    """Which usual bench depression would make the sheet usual."""
    stated = valves.flow.depression / INCH_WATER
    for usual in (28.0, 25.0, 20.0, 15.0, 10.0, 5.0, 3.0):
        if abs(usual - stated) > 1.0 and 0.55 <= mean * (stated / usual) ** 0.5 <= 0.74:
            return f"Was it flowed at {usual:g} inH2O? {stated:.3g} is stated."
    return "Check valve size, number of valves, lifts, units and depression."


def _balance(engine: Engine) -> Iterator[Finding]:
    one, two = engine.head.intake, engine.head.exhaust
    if one.flow is not None and two.flow is not None:
        share = bench.effective_areas(two.flow)[-1] / bench.effective_areas(one.flow)[-1]
        if not 0.5 <= share <= 1.02:
            yield Finding("doubt", "head.exhaust.flow", f"the exhaust passes {share:.2f} of the intake at the "
                          f"sheets' last lifts; "
                          "0.6 to 0.9 is usual", "Are they from one bench, at the stated depressions?")


def ports(engine: Engine) -> Iterator[Finding]:
    """Valve and port sizes against class and against each other."""
    c, bore = CLASSES[engine.engine_class], engine.block.bore
    if engine.head.exhaust.diameter > 1.01 * engine.head.intake.diameter and (
            engine.head.exhaust.count == engine.head.intake.count):
        yield Finding("doubt", "head.exhaust.valve_diameter", "the exhaust valve is larger than the intake valve",
                      "Are the two swapped?")
    for side, valves in (("intake", engine.head.intake), ("exhaust", engine.head.exhaust)):
        key = f"head.{side}"
        row = c.rows[f"{key}.valve_diameter"]
        share = valves.diameter / bore
        if valves.count == c.valves[side == "exhaust"] and not 0.85 * row.low <= share <= 1.12 * row.high:
            yield Finding("doubt", f"{key}.valve_diameter", f"a valve of {valves.diameter * 1e3:.1f} mm is "
                          f"{share:.2f} of the bore; "
                          f"{row.low:g} to {row.high:g} is usual", "Check valve, bore and number of valves.")
        if not 0.78 <= valves.throat_diameter / valves.diameter <= 0.96:
            yield Finding("doubt", f"{key}.throat_diameter", f"the throat is "
                          f"{valves.throat_diameter / valves.diameter:.2f} of the "
                          "valve; 0.85 to 0.92 is usual", "The throat is the bore under the seat.")
        flange = valves.port[-1].area_end / bench.throat_area(valves)
        if not 0.5 <= flange <= 1.8:
            yield Finding("doubt", f"{key}.port_area", f"the port's flange has {flange:.2f} of the throat area",
                          "Check the area and its unit; area of one cylinder's port is meant.")
        length, row = sum(s.length for s in valves.port), c.rows[f"{key}.port_length"]
        if not 0.55 * row.low <= length <= 1.6 * row.high:
            yield Finding("doubt", f"{key}.port_length", f"a head port of {length * 1e3:.0f} mm is outside what is "
                          f"usual for a "
                          f"{c.title} ({row.low * 1e3:.0f} to {row.high * 1e3:.0f} mm)",
                          "Measure along its middle, valve to flange.")
