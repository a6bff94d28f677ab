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


def _rule(keys: str, words: str):
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


@_rule(CAM, r"centreline|separation")
def separation_read_as_intake_centreline(card, rng):
    c = _cam(card)
    return _full(card, lsa=c["lsa"], icl=c["lsa"]) if abs(c["icl"] - c["lsa"]) >= 2 else None


@_rule(CAM, r"centreline|separation")
def intake_centreline_read_as_separation(card, rng):
    c = _cam(card)
    return _full(card, lsa=c["icl"]) if abs(c["icl"] - c["lsa"]) >= 2 else None


@_rule(CAM, r"advance|retard")
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


@_rule(CAM, r"duration|seat|check|lift")
def seat_events_given_as_checked_events(card, rng):
    at = "0.050 in" if "0p050" in _cam(card)["at"] else "1 mm"
    return _events(card, rng.randint(36, 54), at)


@_rule(CAM, r"duration|seat|check|lift")
def checked_events_given_as_seat_events(card, rng):
    return {**_events(card, 0, "0.006 in"), "cam.intake.advertised_duration": f"{_cam(card)['di'] + 50:g} deg",
            "cam.intake.advertised_at": "0.006 in"}


@_rule(CAM, r"check lift|events_at|lift.*counted|counted")
def events_without_their_check_lift(card, rng):
    return {**_events(card, 0, "1 mm"), "cam.intake.events_at": None}


@_rule(CAM, r"advertised_at|check lift|counted|lift")
def advertised_duration_without_its_check_lift(card, rng):
    return {"cam.intake.advertised_duration": f"{_cam(card)['di'] + 50:g} deg", "cam.intake.advertised_at": None}


@_rule(CAM, r"duration|BTDC|ATDC|open|clos|event")
def intake_opening_before_for_after(card, rng):
    changes = _events(card, 0, "0.050 in" if "0p050" in _cam(card)["at"] else "1 mm")
    if _deg(changes["cam.intake.ivo"]) < 3:
        return None
    return {**changes, "cam.intake.ivo": changes["cam.intake.ivo"].replace("BTDC", "ATDC")}


@_rule(CAM, r"duration|BBDC|ABDC|open|clos|event")
def intake_closing_before_for_after(card, rng):
    changes = _events(card, 0, "0.050 in" if "0p050" in _cam(card)["at"] else "1 mm")
    return {**changes, "cam.intake.ivc": changes["cam.intake.ivc"].replace("ABDC", "BBDC")}


@_rule(CAM, r"rocker|ratio")
def other_rocker_ratio(card, rng):
    ratio = get(card, "cam.intake.rocker_ratio")
    lobe = get(card, "cam.intake.lobe_lift")
    if lobe is None:
        value, unit = number(get(card, "cam.intake.valve_lift"))
        lobe = text_of(value / ratio, unit)
    value, unit = number(lobe)
    return {"cam.intake.lobe_lift": lobe, "cam.intake.valve_lift": text_of(value * ratio, unit),
            "cam.intake.rocker_ratio": round(ratio + rng.choice([0.1, 0.15, 0.2]), 2)}


@_rule(CAM, r"lift")
def lobe_lift_given_as_valve_lift(card, rng):
    ratio, lobe = get(card, "cam.intake.rocker_ratio"), get(card, "cam.intake.lobe_lift")
    if ratio < 1.3:
        return None
    lobe = lobe or times(get(card, "cam.intake.valve_lift"), 1 / ratio)
    return {"cam.intake.valve_lift": lobe, "cam.intake.lobe_lift": None}


@_rule(CAM, r"lift")
def valve_lift_given_as_lobe_lift(card, rng):
    ratio, lobe = get(card, "cam.intake.rocker_ratio"), get(card, "cam.intake.lobe_lift")
    if ratio < 1.3:
        return None
    valve = times(lobe, ratio) if lobe else get(card, "cam.intake.valve_lift")
    return {"cam.intake.lobe_lift": valve, "cam.intake.valve_lift": None}


@_rule(CAM, r"duration")
def advertised_given_as_checked_duration(card, rng):
    c = _cam(card)
    return {f"cam.intake.{c['at']}": f"{c['di'] + rng.randint(42, 55):g} deg", "cam.intake.advertised_duration": None,
            "cam.intake.advertised_at": None, "cam.intake.ivo": None, "cam.intake.ivc": None,
            "cam.intake.events_at": None, "cam.intake.centreline": f"{c['icl']:g} deg"}


@_rule(CAM, r"duration")
def checked_given_as_advertised_duration(card, rng):
    return {"cam.intake.advertised_duration": f"{_cam(card)['di']:g} deg", "cam.intake.advertised_at": "0.006 in"}


@_rule(CAM, r"duration|cam deg|half")
def duration_in_cam_degrees(card, rng):
    c = _cam(card)
    return {f"cam.exhaust.{c['at']}": f"{c['de'] / 2:g} deg", "cam.exhaust.advertised_duration": None,
            "cam.exhaust.advertised_at": None, "cam.exhaust.evo": None, "cam.exhaust.evc": None,
            "cam.exhaust.events_at": None, "cam.exhaust.centreline": f"{c['ecl']:g} deg"}


@_rule(CAM, r"lash")
def lash_inches_for_millimetres(card, rng):
    lash = get(card, "cam.intake.lash")
    return {"cam.intake.lash": with_unit(lash, "in")} if _deg(lash) > 0 else None


@_rule(CAM, r"lift")
def lift_with_the_other_unit(card, rng):
    side = rng.choice(["intake", "exhaust"])
    key = f"cam.{side}.lobe_lift" if get(card, f"cam.{side}.lobe_lift") else f"cam.{side}.valve_lift"
    value = get(card, key)
    return {key: with_unit(value, "in" if value.endswith("mm") else "mm")}


@_rule(CAM, r"separation")
def separation_with_a_digit_lost(card, rng):
    return {"cam.lobe_separation": f"{_cam(card)['lsa'] // 10:g} deg"}


FLOW = r"^head"
_SIDE = r"(lift|flow|depression|coefficient|valve|sheet)"


def _sheet(card, side="intake"):
    return get(card, f"head.{side}.flow.flows")


@_rule(FLOW, r"depression|ideal|inH2O|bench|coefficient|flow")
def sheet_of_28_inches_labelled_10(card, rng):
    at = get(card, "head.intake.flow.depression")
    return {"head.intake.flow.depression": "10 inH2O"} if at == "28 inH2O" else None


@_rule(FLOW, r"depression|ideal|inH2O|bench|coefficient|flow")
def sheet_of_10_inches_labelled_28(card, rng):
    flows = _sheet(card)
    if flows is None:
        return None
    at = get(card, "head.intake.flow.depression")
    return {"head.intake.flow.depression": "28 inH2O",
            "head.intake.flow.flows": times(flows, (10 / 28) ** 0.5) if at == "28 inH2O" else flows}


@_rule(FLOW, r"depression")
def sheet_without_its_depression(card, rng):
    return {"head.intake.flow.depression": None} if _sheet(card) else None


@_rule(FLOW, r"L/s|cfm|unit|ideal|coefficient|flow")
def sheet_with_the_other_flow_unit(card, rng):
    flows = _sheet(card)
    if flows is None:
        return None
    return {"head.intake.flow.flows": with_unit(flows, "cfm" if flows.endswith("L/s") else "L/s")}


@_rule(FLOW, r"lift")
def sheet_lifts_with_the_other_unit(card, rng):
    lifts = get(card, "head.intake.flow.lifts")
    if lifts is None:
        return None
    return {"head.intake.flow.lifts": with_unit(lifts, "in" if lifts.endswith("mm") else "mm")}


@_rule(FLOW, r"low|lift")
def sheet_without_low_lifts(card, rng):
    flows, lifts = _sheet(card), get(card, "head.intake.flow.lifts")
    if flows is None:
        return None
    keep = (len(lifts.split()) - 1) // 2
    return {f"head.intake.flow.{key}": " ".join(text.split()[keep:]) for key, text in
            (("flows", flows), ("lifts", lifts))}


@_rule(FLOW, r"coefficient|ideal|low|port|flow")
def port_flow_without_the_valve(card, rng):
    flows = _sheet(card)
    if flows is None:
        return None
    words = flows.split()
    return {"head.intake.flow.flows": " ".join([words[-2]] * (len(words) - 1) + [words[-1]])}


@_rule(FLOW, r"valve|coefficient|ideal|flow")
def both_valves_flowed_one_stated(card, rng):
    return {"head.intake.valves": 1} if get(card, "head.intake.valves") == 2 else None


@_rule(FLOW, r"valve|coefficient|flow")
def one_valve_flowed_both_stated(card, rng):
    flows = _sheet(card)
    return {"head.intake.flow.flows": times(flows, 0.5)} if get(card, "head.intake.valves") == 2 and flows else None


@_rule(FLOW, r"valve|diameter")
def valve_radius_for_diameter(card, rng):
    return {"head.intake.valve_diameter": times(get(card, "head.intake.valve_diameter"), 0.5)}


@_rule(FLOW, r"throat|valve|diameter")
def throat_and_valve_swapped(card, rng):
    return {"head.intake.valve_diameter": get(card, "head.intake.throat_diameter"),
            "head.intake.throat_diameter": get(card, "head.intake.valve_diameter")}


@_rule(FLOW, r"flow|coefficient|smooth|rise|fall|jump")
def a_flow_with_a_digit_wrong(card, rng):
    flows = _sheet(card)
    if flows is None:
        return None
    words = flows.split()
    i = rng.randrange(1, len(words) - 2)
    words[i] = f"{float(words[i]) * rng.choice([10, 0.1, 0.5]):g}"
    return {"head.intake.flow.flows": " ".join(words)}


@_rule(FLOW, r"flow|pair|number|count|as many")
def a_flow_left_out(card, rng):
    flows = _sheet(card)
    if flows is None:
        return None
    words = flows.split()
    del words[rng.randrange(len(words) - 1)]
    return {"head.intake.flow.flows": " ".join(words)}


@_rule(FLOW, r"exhaust|intake|swap|flow")
def intake_and_exhaust_sheets_swapped(card, rng):
    if _sheet(card) is None:
        return None
    return {f"head.{a}.flow.{key}": get(card, f"head.{b}.flow.{key}")
            for a, b in (("intake", "exhaust"), ("exhaust", "intake")) for key in ("flows", "lifts", "depression")}


TRACT = r"^(intake|head)"


def _runner(card) -> str | None:
    return get(card, "intake.runner.length")


@_rule(TRACT, r"port|length|valve|flange|tract")
def runner_length_without_the_head_port(card, rng):
    return {"intake.runner.measured_from": "valve"} if _runner(card) else None


@_rule(TRACT, r"port|length|valve|flange|tract")
def head_port_counted_twice(card, rng):
    if not _runner(card):
        return None
    (length, unit), (port, port_unit) = number(_runner(card)), number(get(card, "head.intake.port_length"))
    assert unit == port_unit
    return {"intake.runner.length": text_of(length + port, unit)}


@_rule(TRACT, r"length|unit|mm|in")
def runner_length_with_the_other_unit(card, rng):
    if not _runner(card):
        return None
    return {"intake.runner.length": with_unit(_runner(card), "in" if _runner(card).endswith("mm") else "mm")}


@_rule(TRACT, r"volume|area")
def runner_area_from_the_gasket_window(card, rng):
    if not _runner(card):
        return None
    mm = {"mm": 1.0, "in": 25.4}
    (length, unit), area = number(_runner(card)), get(card, "intake.runner.area")
    diameter = get(card, "intake.runner.diameter")
    cm2 = number(area)[0] * 6.4516 if area else 3.14159 / 4 * (number(diameter)[0] / 10) ** 2
    volume = cm2 * length * mm[unit] / 10
    return {"intake.runner.volume": f"{volume:.4g} cc", "intake.runner.diameter": None,
            "intake.runner.diameter_plenum": None, "intake.runner.area_plenum": None,
            "intake.runner.area": f"{cm2 * rng.uniform(1.25, 1.45):.4g} cm2"}


@_rule(TRACT, r"area|volume")
def port_area_against_port_volume(card, rng):
    area, length = get(card, "head.intake.port_area"), get(card, "head.intake.port_length")
    cm2 = number(area)[0] * (6.4516 if area.endswith("in2") else 1)
    cm = number(length)[0] * (2.54 if length.endswith("in") else 0.1)
    return {"head.intake.port_volume": f"{cm2 * cm * 1.05:.4g} cc",
            "head.intake.port_area": text_of(number(area)[0] * rng.choice([0.6, 1.7]), number(area)[1])}


@_rule(TRACT, r"area|in2|cm2|unit")
def port_area_with_the_other_unit(card, rng):
    area = get(card, "head.intake.port_area")
    return {"head.intake.port_area": with_unit(area, "cm2" if area.endswith("in2") else "in2")}


@_rule(TRACT, r"plenum|volume")
def plenum_cc_for_litres(card, rng):
    volume = get(card, "intake.plenum.volume")
    return {"intake.plenum.volume": with_unit(volume, "cc")} if volume else None


@_rule(TRACT, r"throttle|diameter|bore")
def throttle_radius_for_diameter(card, rng):
    diameter = get(card, "intake.throttle.diameter")
    return {"intake.throttle.diameter": times(diameter, 0.5)} if diameter else None


@_rule(TRACT, r"throttle|diameter|unit")
def throttle_with_the_other_unit(card, rng):
    diameter = get(card, "intake.throttle.diameter")
    return {"intake.throttle.diameter": with_unit(diameter, "in" if diameter.endswith("mm") else "mm")} \
        if diameter else None


@_rule(TRACT, r"opening|throttle|open")
def throttle_opening_a_digit_lost(card, rng):
    return {"intake.throttle.opening": "9 deg"} if get(card, "intake.throttle.diameter") else None


@_rule(TRACT, r"rat(ed|ing)")
def carburettor_rating_without_its_depression(card, rng):
    return {"intake.throttle.rated_at": None} if get(card, "intake.throttle.rating") else None


HEADER = r"^exhaust"


@_rule(HEADER, r"outside|\bod\b|tube|wall")
def outside_diameter_taken_as_inside(card, rng):
    return {"exhaust.primary.id": get(card, "exhaust.primary.od"), "exhaust.primary.od": None,
            "exhaust.primary.wall": None}


@_rule(HEADER, r"wall")
def wall_with_the_other_unit(card, rng):
    wall = get(card, "exhaust.primary.wall")
    return {"exhaust.primary.wall": with_unit(wall, "in" if wall.endswith("mm") else "mm")}


@_rule(HEADER, r"length")
def primary_length_with_the_other_unit(card, rng):
    length = get(card, "exhaust.primary.length")
    return {"exhaust.primary.length": with_unit(length, "in" if length.endswith("mm") else "mm")}


@_rule(HEADER, r"diameter|\bod\b|\bid\b|primary|tube|pipe")
def primary_diameter_with_digits_swapped(card, rng):
    value, unit = number(get(card, "exhaust.primary.od"))
    other = {42.4: 24.4, 42.0: 24.0, 44.5: 64.5, 34.0: 43.0, 1.75: 7.15}[value]
    return {"exhaust.primary.od": text_of(other, unit)}


@_rule(HEADER, r"collector|primary|merge")
def collector_and_primary_swapped(card, rng):
    a, b = get(card, "exhaust.primary.od"), get(card, "exhaust.collector.od")
    return {"exhaust.primary.od": b, "exhaust.collector.od": a} if b else None


BLOCK = r"^(block|head|intake|cam|exhaust)"


def _parts_of_ratio(card) -> tuple[float, float]:
    """Ratio and chamber (cc) with a plain gasket and no dish that give it."""
    def mm(key):
        value, unit = number(get(card, key))
        return value * (25.4 if unit == "in" else 1)
    swept = 3.14159265 / 4 * mm("block.bore") ** 2 * mm("block.stroke") / 1000
    ratio = get(card, "block.compression_ratio") or 10.55
    gasket = 3.14159265 / 4 * (mm("block.bore") + 1) ** 2 * 1.0 / 1000
    return ratio, swept / (ratio - 1) - gasket, mm("block.bore") + 1


def _volumes(card) -> dict:
    ratio, chamber, bore = _parts_of_ratio(card)
    return {"block.chamber": f"{chamber:.3f} cc", "block.piston_dish": "0 cc", "block.gasket_thickness": "1.0 mm",
            "block.gasket_bore": f"{bore:g} mm", "block.deck_clearance": "0 mm", "block.compression_ratio": ratio}


@_rule(BLOCK, r"ratio|chamber")
def advertised_ratio_against_chamber(card, rng):
    changes = _volumes(card)
    advertised = changes["block.compression_ratio"] + rng.choice([0.7, 1.0])
    return {**changes, "block.compression_ratio": round(advertised, 2)}


@_rule(BLOCK, r"ratio|dish|chamber")
def dish_with_the_wrong_sign(card, rng):
    changes = _volumes(card)
    return {**changes, "block.chamber": times(changes["block.chamber"], 0.9), "block.piston_dish": text_of(
        -number(changes["block.chamber"])[0] * 0.1, "cc")}


@_rule(BLOCK, r"ratio|gasket")
def gasket_inches_for_millimetres(card, rng):
    return {**_volumes(card), "block.gasket_thickness": "1.0 in", "block.compression_ratio": None}


@_rule(BLOCK, r"ratio|chamber")
def chamber_with_digits_swapped(card, rng):
    changes = _volumes(card)
    tens, ones = divmod(round(number(changes["block.chamber"])[0]), 10)
    if tens == ones or tens > 9:
        return None
    return {**changes, "block.chamber": f"{ones}{tens} cc", "block.compression_ratio": None}


@_rule(BLOCK, r"ratio")
def ratio_with_its_point_lost(card, rng):
    ratio = _parts_of_ratio(card)[0]
    return {**dict.fromkeys(list(_volumes(card))), "block.compression_ratio": round(ratio * 10)}


@_rule(BLOCK, r"bore")
def bore_with_the_other_unit(card, rng):
    bore = get(card, "block.bore")
    return {"block.bore": with_unit(bore, "in" if bore.endswith("mm") else "mm")}


@_rule(BLOCK, r"bore|valve")
def bore_with_digits_swapped(card, rng):
    value, unit = number(get(card, "block.bore"))
    other = {85.0: 58.0, 84.0: 48.0, 4.04: 0.44}.get(value)
    return {"block.bore": text_of(other, unit)} if other else None


@_rule(BLOCK, r"stroke|rod")
def rod_and_stroke_swapped(card, rng):
    return {"block.rod": get(card, "block.stroke"), "block.stroke": get(card, "block.rod")}


@_rule(BLOCK, r"stroke|rod|throw|radius")
def crank_throw_for_stroke(card, rng):
    return {"block.stroke": times(get(card, "block.stroke"), 0.5)}


@_rule(BLOCK, r"firing|order|twice|missing|cylinder")
def firing_order_with_a_cylinder_twice(card, rng):
    order = get(card, "block.firing_order")
    if not order or len(order) < 4:
        return None
    return {"block.firing_order": [*order[:-1], order[0]]}


@_rule(BLOCK, r"firing|order|cylinder")
def firing_order_with_a_cylinder_left_out(card, rng):
    order = get(card, "block.firing_order")
    return {"block.firing_order": order[:-1]} if order and len(order) > 1 else None


@_rule(r"^(block|intake|exhaust|fuel|mixture)", r"lambda|air.fuel|ratio")
def air_fuel_ratio_for_lambda(card, rng):
    return {"mixture.lambda": round(14.7 * get(card, "mixture.lambda"), 1)}


@_rule(r"^(fuel|mixture)", r"lambda|lean|air.fuel")
def petrol_air_fuel_ratio_used_for_alcohol(card, rng):
    return {"fuel": {"name": "club alcohol", "key": "e85"}, "mixture.lambda": round(12.7 / 9.8, 2)}


@_rule(r"^(fuel)", r"known|petrol|octane|one of")
def fuel_named_by_its_pump(card, rng):
    return {"fuel.key": rng.choice(["93", "98", "super"])}


@_rule(r"^(fuel)", r"octane")
def octane_with_its_point_wrong(card, rng):
    return {"fuel.octane": rng.choice([9.8, 980])}


DAY = r"^day"


@_rule(DAY, r"station|sea|altitude")
def sea_level_barometer_for_station_pressure(card, rng):
    altitude = rng.choice([350, 600, 900])
    return {"day.station_pressure": f"{rng.uniform(101.0, 102.0):.1f} kPa", "day.altitude": f"{altitude} m"}


@_rule(DAY, r"pressure")
def pressure_with_the_wrong_unit(card, rng):
    return {"day.station_pressure": rng.choice(["1002 kPa", "100.2 hPa", "29.6 kPa"])}


@_rule(DAY, r"temperature|°C|°F|warm|hot")
def fahrenheit_for_celsius(card, rng):
    return {"day.temperature": f"{rng.randint(58, 95)} C"}


@_rule(DAY, r"humidity|%|percent")
def humidity_percent_as_fraction(card, rng):
    return {"day.humidity": rng.choice([55, 40, 62])}


@_rule(r"^burn", r"spark")
def spark_with_a_digit_lost(card, rng):
    return {"burn.spark": "3 deg"}


@_rule(r"^burn", r"spark")
def spark_with_the_wrong_sign(card, rng):
    return {"burn.spark": f"-{rng.randint(22, 34)} deg"}


@_rule(r"^(limits|run)", r"speed|rpm|limit")
def speed_limit_with_a_zero_too_many(card, rng):
    return {"limits.rpm": times(get(card, "limits.rpm"), 10)}


@_rule(r"^run", r"from|to|rise|speed")
def run_from_and_to_swapped(card, rng):
    return {"run.from": get(card, "run.to"), "run.to": get(card, "run.from")}


@_rule(r"^limits", r"injector")
def injector_flow_litres_for_cc(card, rng):
    flow = get(card, "limits.injector_flow")
    return {"limits.injector_flow": flow.replace("cc/min", "L/min")} if flow else None


@_rule(r"^limits", r"injector")
def injector_flow_a_digit_lost(card, rng):
    flow = get(card, "limits.injector_flow")
    return {"limits.injector_flow": times(flow, 0.1)} if flow else None


_LENGTHS = ("block.bore", "block.rod", "head.intake.valve_diameter", "head.exhaust.valve_diameter",
            "exhaust.primary.od", "exhaust.primary.wall", "head.intake.port_length", "head.exhaust.throat_diameter")


@_rule(r".", r"unit|mm|in")
def unit_left_out(card, rng):
    key = rng.choice(_LENGTHS)
    return {key: number(get(card, key))[0]}


@_rule(r".", r"unit|fits|mm|kPa")
def unit_of_something_else(card, rng):
    key = rng.choice(_LENGTHS)
    return {key: with_unit(get(card, key), rng.choice(["kPa", "deg", "cc", "rpm"]))}


@_rule(r".", r"comma|point|number|decimal")
def decimal_comma(card, rng):
    key = rng.choice(_LENGTHS)
    value, unit = number(get(card, key))
    return {key: f"{value:.1f} {unit}".replace(".", ",")}


@_rule(r".", r"number|digit|unit")
def letter_for_a_digit(card, rng):
    key = rng.choice(_LENGTHS)
    return {key: "1O.5 " + number(get(card, key))[1]}


@_rule(r".", r"Did you mean")
def key_misspelt(card, rng):
    key = rng.choice(_LENGTHS)
    head, _, last = key.rpartition(".")
    i = rng.randrange(1, len(last) - 1) if len(last) > 2 else 0
    wrong = last[:i] + last[i + 1] + last[i] + last[i + 2:]
    wrong = last + "s" if wrong == last or len(last) < 3 else wrong
    return {key: None, f"{head}.{wrong}": get(card, key)}


@_rule(r".", r"negative|above|more than 0|positive|between|range|least|outside|small")
def length_with_a_minus(card, rng):
    key = rng.choice(_LENGTHS)
    return {key: f"-{get(card, key)}"}


@_rule(r".", r"mm|in|large|small|range|usual|between|outside|more|less|diameter|bore|length|wall|ratio")
def point_moved_by_one(card, rng):
    key = rng.choice(_LENGTHS)
    return {key: times(get(card, key), rng.choice([10, 0.1]))}
