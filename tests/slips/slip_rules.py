"""Slips by rule: the usual faults of cam cards, flow sheets, tapes, headers, ratios, fuels, weather and typing.

Each rule turns a good card into one with a slip, or does not apply to it (None), and names the keys at which a
catch counts and what its words must speak of. The list was made from the faults people make (common practice, no
source), before the checks of the program were looked at; where a rule depends on chance it draws from ``rng``.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from slip_cards import get, number, text_of, times, with_unit


@dataclass(frozen=True)
class Rule:
    """A slip: its name, what it does to a card, the keys (regex) and words (regex) that count as caught."""

    name: str
    apply: Callable[[dict, random.Random], dict | None]
    keys: str
    words: str


RULES: list[Rule] = []


def rule(keys: str, words: str):
    def add(function):
        RULES.append(Rule(function.__name__, function, keys, words))
        return function
    return add


def _deg(text) -> float:
    return number(text)[0]


def _cam(card: dict) -> dict | None:
    """Intake and exhaust durations, centrelines, separation (deg) of the card's cam."""
    at = "duration_at_0p050in" if get(card, "cam.intake.duration_at_0p050in") else "duration_at_1mm"
    di, de = (_deg(get(card, f"cam.{side}.{at}")) for side in ("intake", "exhaust"))
    lsa, icl, ecl = (get(card, k) for k in ("cam.lobe_separation", "cam.intake.centreline", "cam.exhaust.centreline"))
    advance, ivo = get(card, "cam.advance"), get(card, "cam.intake.ivo")
    lsa = _deg(lsa) if lsa else None
    if icl:
        icl = _deg(icl)
    elif ivo:
        icl = di / 2 - _deg(ivo)
    else:
        icl = lsa - _deg(advance)
    ecl = _deg(ecl) if ecl else 2 * lsa - icl
    return {"at": at, "di": di, "de": de, "icl": icl, "ecl": ecl, "lsa": (icl + ecl) / 2}


def _full(card: dict, **given: float) -> dict:
    """Changes that state separation and both centrelines, with those in ``given`` replaced; events and advance go."""
    c = {**_cam(card), **given}
    return {"cam.lobe_separation": f"{c['lsa']:g} deg", "cam.intake.centreline": f"{c['icl']:g} deg",
            "cam.exhaust.centreline": f"{c['ecl']:g} deg", "cam.advance": None, "cam.intake.ivo": None,
            "cam.intake.ivc": None, "cam.exhaust.evo": None, "cam.exhaust.evc": None, "cam.intake.events_at": None,
            "cam.exhaust.events_at": None}


CAM = r"^cam"


@rule(CAM, r"centreline|separation")
def separation_read_as_intake_centreline(card, rng):
    c = _cam(card)
    return _full(card, lsa=c["lsa"], icl=c["lsa"]) if abs(c["icl"] - c["lsa"]) >= 2 else None


@rule(CAM, r"centreline|separation")
def intake_centreline_read_as_separation(card, rng):
    c = _cam(card)
    return _full(card, lsa=c["icl"]) if abs(c["icl"] - c["lsa"]) >= 2 else None


@rule(CAM, r"advance|retard")
def advanced_and_retarded_swapped(card, rng):
    c = _cam(card)
    advance = c["lsa"] - c["icl"]
    if abs(advance) < 1:
        return None
    return {**_full(card), "cam.exhaust.centreline": None, "cam.advance": f"{-advance:g} deg"}


def _events(card: dict, more: float, at: str) -> dict:
    """Intake events of a duration ``more`` degrees longer, with their check lift."""
    c = _cam(card)
    half = (c["di"] + more) / 2
    return {"cam.intake.ivo": f"{half - c['icl']:g} deg BTDC",
            "cam.intake.ivc": f"{half + c['icl'] - 180:g} deg ABDC",
            "cam.intake.events_at": at, "cam.intake.centreline": None}


@rule(CAM, r"duration|seat|check|lift")
def seat_events_given_as_checked_events(card, rng):
    at = "0.050 in" if "0p050" in _cam(card)["at"] else "1 mm"
    return _events(card, rng.randint(36, 54), at)


@rule(CAM, r"duration|seat|check|lift")
def checked_events_given_as_seat_events(card, rng):
    return {**_events(card, 0, "0.006 in"), "cam.intake.advertised_duration": f"{_cam(card)['di'] + 50:g} deg",
            "cam.intake.advertised_at": "0.006 in"}


@rule(CAM, r"check lift|events_at|lift.*counted|counted")
def events_without_their_check_lift(card, rng):
    return {**_events(card, 0, "1 mm"), "cam.intake.events_at": None}


@rule(CAM, r"advertised_at|check lift|counted|lift")
def advertised_duration_without_its_check_lift(card, rng):
    return {"cam.intake.advertised_duration": f"{_cam(card)['di'] + 50:g} deg", "cam.intake.advertised_at": None}


@rule(CAM, r"duration|BTDC|ATDC|open|clos|event")
def intake_opening_before_for_after(card, rng):
    changes = _events(card, 0, "0.050 in" if "0p050" in _cam(card)["at"] else "1 mm")
    if _deg(changes["cam.intake.ivo"]) < 3:
        return None
    return {**changes, "cam.intake.ivo": changes["cam.intake.ivo"].replace("BTDC", "ATDC")}


@rule(CAM, r"duration|BBDC|ABDC|open|clos|event")
def intake_closing_before_for_after(card, rng):
    changes = _events(card, 0, "0.050 in" if "0p050" in _cam(card)["at"] else "1 mm")
    return {**changes, "cam.intake.ivc": changes["cam.intake.ivc"].replace("ABDC", "BBDC")}


@rule(CAM, r"rocker|ratio")
def other_rocker_ratio(card, rng):
    ratio = get(card, "cam.intake.rocker_ratio")
    lobe = get(card, "cam.intake.lobe_lift")
    if lobe is None:
        value, unit = number(get(card, "cam.intake.valve_lift"))
        lobe = text_of(value / ratio, unit)
    value, unit = number(lobe)
    return {"cam.intake.lobe_lift": lobe, "cam.intake.valve_lift": text_of(value * ratio, unit),
            "cam.intake.rocker_ratio": round(ratio + rng.choice([0.1, 0.15, 0.2]), 2)}


@rule(CAM, r"lift")
def lobe_lift_given_as_valve_lift(card, rng):
    ratio, lobe = get(card, "cam.intake.rocker_ratio"), get(card, "cam.intake.lobe_lift")
    if ratio < 1.3:
        return None
    lobe = lobe or times(get(card, "cam.intake.valve_lift"), 1 / ratio)
    return {"cam.intake.valve_lift": lobe, "cam.intake.lobe_lift": None}


@rule(CAM, r"lift")
def valve_lift_given_as_lobe_lift(card, rng):
    ratio, lobe = get(card, "cam.intake.rocker_ratio"), get(card, "cam.intake.lobe_lift")
    if ratio < 1.3:
        return None
    valve = times(lobe, ratio) if lobe else get(card, "cam.intake.valve_lift")
    return {"cam.intake.lobe_lift": valve, "cam.intake.valve_lift": None}


@rule(CAM, r"duration")
def advertised_given_as_checked_duration(card, rng):
    c = _cam(card)
    return {f"cam.intake.{c['at']}": f"{c['di'] + rng.randint(42, 55):g} deg", "cam.intake.advertised_duration": None,
            "cam.intake.advertised_at": None, "cam.intake.ivo": None, "cam.intake.ivc": None,
            "cam.intake.events_at": None, "cam.intake.centreline": f"{c['icl']:g} deg"}


@rule(CAM, r"duration")
def checked_given_as_advertised_duration(card, rng):
    return {"cam.intake.advertised_duration": f"{_cam(card)['di']:g} deg", "cam.intake.advertised_at": "0.006 in"}


@rule(CAM, r"duration|cam deg|half")
def duration_in_cam_degrees(card, rng):
    c = _cam(card)
    return {f"cam.exhaust.{c['at']}": f"{c['de'] / 2:g} deg", "cam.exhaust.advertised_duration": None,
            "cam.exhaust.advertised_at": None, "cam.exhaust.evo": None, "cam.exhaust.evc": None,
            "cam.exhaust.events_at": None, "cam.exhaust.centreline": f"{c['ecl']:g} deg"}


@rule(CAM, r"lash")
def lash_inches_for_millimetres(card, rng):
    lash = get(card, "cam.intake.lash")
    return {"cam.intake.lash": with_unit(lash, "in")} if _deg(lash) > 0 else None


@rule(CAM, r"lift")
def lift_with_the_other_unit(card, rng):
    side = rng.choice(["intake", "exhaust"])
    key = f"cam.{side}.lobe_lift" if get(card, f"cam.{side}.lobe_lift") else f"cam.{side}.valve_lift"
    value = get(card, key)
    return {key: with_unit(value, "in" if value.endswith("mm") else "mm")}


@rule(CAM, r"separation")
def separation_with_a_digit_lost(card, rng):
    return {"cam.lobe_separation": f"{_cam(card)['lsa'] // 10:g} deg"}


FLOW = r"^head"
_SIDE = r"(lift|flow|depression|coefficient|valve|sheet)"


def _sheet(card, side="intake"):
    return get(card, f"head.{side}.flow.flows")


@rule(FLOW, r"depression|ideal|inH2O|bench|coefficient|flow")
def sheet_of_28_inches_labelled_10(card, rng):
    at = get(card, "head.intake.flow.depression")
    return {"head.intake.flow.depression": "10 inH2O"} if at == "28 inH2O" else None


@rule(FLOW, r"depression|ideal|inH2O|bench|coefficient|flow")
def sheet_of_10_inches_labelled_28(card, rng):
    flows = _sheet(card)
    if flows is None:
        return None
    at = get(card, "head.intake.flow.depression")
    return {"head.intake.flow.depression": "28 inH2O",
            "head.intake.flow.flows": times(flows, (10 / 28) ** 0.5) if at == "28 inH2O" else flows}


@rule(FLOW, r"depression")
def sheet_without_its_depression(card, rng):
    return {"head.intake.flow.depression": None} if _sheet(card) else None


@rule(FLOW, r"L/s|cfm|unit|ideal|coefficient|flow")
def sheet_with_the_other_flow_unit(card, rng):
    flows = _sheet(card)
    if flows is None:
        return None
    return {"head.intake.flow.flows": with_unit(flows, "cfm" if flows.endswith("L/s") else "L/s")}


@rule(FLOW, r"lift")
def sheet_lifts_with_the_other_unit(card, rng):
    lifts = get(card, "head.intake.flow.lifts")
    if lifts is None:
        return None
    return {"head.intake.flow.lifts": with_unit(lifts, "in" if lifts.endswith("mm") else "mm")}


@rule(FLOW, r"low|lift")
def sheet_without_low_lifts(card, rng):
    flows, lifts = _sheet(card), get(card, "head.intake.flow.lifts")
    if flows is None:
        return None
    keep = (len(lifts.split()) - 1) // 2
    return {f"head.intake.flow.{key}": " ".join(text.split()[keep:]) for key, text in
            (("flows", flows), ("lifts", lifts))}


@rule(FLOW, r"coefficient|ideal|low|port|flow")
def port_flow_without_the_valve(card, rng):
    flows = _sheet(card)
    if flows is None:
        return None
    words = flows.split()
    return {"head.intake.flow.flows": " ".join([words[-2]] * (len(words) - 1) + [words[-1]])}


@rule(FLOW, r"valve|coefficient|ideal|flow")
def both_valves_flowed_one_stated(card, rng):
    return {"head.intake.valves": 1} if get(card, "head.intake.valves") == 2 else None


@rule(FLOW, r"valve|coefficient|flow")
def one_valve_flowed_both_stated(card, rng):
    flows = _sheet(card)
    return {"head.intake.flow.flows": times(flows, 0.5)} if get(card, "head.intake.valves") == 2 and flows else None


@rule(FLOW, r"valve|diameter")
def valve_radius_for_diameter(card, rng):
    return {"head.intake.valve_diameter": times(get(card, "head.intake.valve_diameter"), 0.5)}


@rule(FLOW, r"throat|valve|diameter")
def throat_and_valve_swapped(card, rng):
    return {"head.intake.valve_diameter": get(card, "head.intake.throat_diameter"),
            "head.intake.throat_diameter": get(card, "head.intake.valve_diameter")}


@rule(FLOW, r"flow|coefficient|smooth|rise|fall|jump")
def a_flow_with_a_digit_wrong(card, rng):
    flows = _sheet(card)
    if flows is None:
        return None
    words = flows.split()
    i = rng.randrange(1, len(words) - 2)
    words[i] = f"{float(words[i]) * rng.choice([10, 0.1, 0.5]):g}"
    return {"head.intake.flow.flows": " ".join(words)}


@rule(FLOW, r"flow|pair|number|count|as many")
def a_flow_left_out(card, rng):
    flows = _sheet(card)
    if flows is None:
        return None
    words = flows.split()
    del words[rng.randrange(len(words) - 1)]
    return {"head.intake.flow.flows": " ".join(words)}


@rule(FLOW, r"exhaust|intake|swap|flow")
def intake_and_exhaust_sheets_swapped(card, rng):
    if _sheet(card) is None:
        return None
    return {f"head.{a}.flow.{key}": get(card, f"head.{b}.flow.{key}")
            for a, b in (("intake", "exhaust"), ("exhaust", "intake")) for key in ("flows", "lifts", "depression")}
