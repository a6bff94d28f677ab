"""Slips by rule, continued: intake, header, block, fuel, weather, running, and plain typing."""

from __future__ import annotations

from slip_cards import get, number, text_of, times, with_unit
from slip_rules import rule

TRACT = r"^(intake|head)"


def _runner(card) -> str | None:
    return get(card, "intake.runner.length")


@rule(TRACT, r"port|length|valve|flange|tract")
def runner_length_without_the_head_port(card, rng):
    return {"intake.runner.measured_from": "valve"} if _runner(card) else None


@rule(TRACT, r"port|length|valve|flange|tract")
def head_port_counted_twice(card, rng):
    if not _runner(card):
        return None
    (length, unit), (port, port_unit) = number(_runner(card)), number(get(card, "head.intake.port_length"))
    assert unit == port_unit
    return {"intake.runner.length": text_of(length + port, unit)}


@rule(TRACT, r"length|unit|mm|in")
def runner_length_with_the_other_unit(card, rng):
    if not _runner(card):
        return None
    return {"intake.runner.length": with_unit(_runner(card), "in" if _runner(card).endswith("mm") else "mm")}


@rule(TRACT, r"volume|area")
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


@rule(TRACT, r"area|volume")
def port_area_against_port_volume(card, rng):
    area, length = get(card, "head.intake.port_area"), get(card, "head.intake.port_length")
    cm2 = number(area)[0] * (6.4516 if area.endswith("in2") else 1)
    cm = number(length)[0] * (2.54 if length.endswith("in") else 0.1)
    return {"head.intake.port_volume": f"{cm2 * cm * 1.05:.4g} cc",
            "head.intake.port_area": text_of(number(area)[0] * rng.choice([0.6, 1.7]), number(area)[1])}


@rule(TRACT, r"area|in2|cm2|unit")
def port_area_with_the_other_unit(card, rng):
    area = get(card, "head.intake.port_area")
    return {"head.intake.port_area": with_unit(area, "cm2" if area.endswith("in2") else "in2")}


@rule(TRACT, r"plenum|volume")
def plenum_cc_for_litres(card, rng):
    volume = get(card, "intake.plenum.volume")
    return {"intake.plenum.volume": with_unit(volume, "cc")} if volume else None


@rule(TRACT, r"throttle|diameter|bore")
def throttle_radius_for_diameter(card, rng):
    diameter = get(card, "intake.throttle.diameter")
    return {"intake.throttle.diameter": times(diameter, 0.5)} if diameter else None


@rule(TRACT, r"throttle|diameter|unit")
def throttle_with_the_other_unit(card, rng):
    diameter = get(card, "intake.throttle.diameter")
    return {"intake.throttle.diameter": with_unit(diameter, "in" if diameter.endswith("mm") else "mm")} \
        if diameter else None


@rule(TRACT, r"opening|throttle|open")
def throttle_opening_a_digit_lost(card, rng):
    return {"intake.throttle.opening": "9 deg"} if get(card, "intake.throttle.diameter") else None


@rule(TRACT, r"rat(ed|ing)")
def carburettor_rating_without_its_depression(card, rng):
    return {"intake.throttle.rated_at": None} if get(card, "intake.throttle.rating") else None


HEADER = r"^exhaust"


@rule(HEADER, r"outside|\bod\b|tube|wall")
def outside_diameter_taken_as_inside(card, rng):
    return {"exhaust.primary.id": get(card, "exhaust.primary.od"), "exhaust.primary.od": None,
            "exhaust.primary.wall": None}


@rule(HEADER, r"wall")
def wall_with_the_other_unit(card, rng):
    wall = get(card, "exhaust.primary.wall")
    return {"exhaust.primary.wall": with_unit(wall, "in" if wall.endswith("mm") else "mm")}


@rule(HEADER, r"length")
def primary_length_with_the_other_unit(card, rng):
    length = get(card, "exhaust.primary.length")
    return {"exhaust.primary.length": with_unit(length, "in" if length.endswith("mm") else "mm")}


@rule(HEADER, r"diameter|\bod\b|\bid\b|primary|tube|pipe")
def primary_diameter_with_digits_swapped(card, rng):
    value, unit = number(get(card, "exhaust.primary.od"))
    other = {42.4: 24.4, 42.0: 24.0, 44.5: 64.5, 34.0: 43.0, 1.75: 7.15}[value]
    return {"exhaust.primary.od": text_of(other, unit)}


@rule(HEADER, r"collector|primary|merge")
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


@rule(BLOCK, r"ratio|chamber")
def advertised_ratio_against_chamber(card, rng):
    changes = _volumes(card)
    advertised = changes["block.compression_ratio"] + rng.choice([0.7, 1.0])
    return {**changes, "block.compression_ratio": round(advertised, 2)}


@rule(BLOCK, r"ratio|dish|chamber")
def dish_with_the_wrong_sign(card, rng):
    changes = _volumes(card)
    return {**changes, "block.chamber": times(changes["block.chamber"], 0.9), "block.piston_dish": text_of(
        -number(changes["block.chamber"])[0] * 0.1, "cc")}


@rule(BLOCK, r"ratio|gasket")
def gasket_inches_for_millimetres(card, rng):
    return {**_volumes(card), "block.gasket_thickness": "1.0 in", "block.compression_ratio": None}


@rule(BLOCK, r"ratio|chamber")
def chamber_with_digits_swapped(card, rng):
    changes = _volumes(card)
    tens, ones = divmod(round(number(changes["block.chamber"])[0]), 10)
    if tens == ones or tens > 9:
        return None
    return {**changes, "block.chamber": f"{ones}{tens} cc", "block.compression_ratio": None}


@rule(BLOCK, r"ratio")
def ratio_with_its_point_lost(card, rng):
    ratio = _parts_of_ratio(card)[0]
    return {**dict.fromkeys(list(_volumes(card))), "block.compression_ratio": round(ratio * 10)}


@rule(BLOCK, r"bore")
def bore_with_the_other_unit(card, rng):
    bore = get(card, "block.bore")
    return {"block.bore": with_unit(bore, "in" if bore.endswith("mm") else "mm")}


@rule(BLOCK, r"bore|valve")
def bore_with_digits_swapped(card, rng):
    value, unit = number(get(card, "block.bore"))
    other = {85.0: 58.0, 84.0: 48.0, 4.04: 0.44}.get(value)
    return {"block.bore": text_of(other, unit)} if other else None


@rule(BLOCK, r"stroke|rod")
def rod_and_stroke_swapped(card, rng):
    return {"block.rod": get(card, "block.stroke"), "block.stroke": get(card, "block.rod")}


@rule(BLOCK, r"stroke|rod|throw|radius")
def crank_throw_for_stroke(card, rng):
    return {"block.stroke": times(get(card, "block.stroke"), 0.5)}


@rule(BLOCK, r"firing|order|twice|missing|cylinder")
def firing_order_with_a_cylinder_twice(card, rng):
    order = get(card, "block.firing_order")
    if not order or len(order) < 4:
        return None
    return {"block.firing_order": [*order[:-1], order[0]]}


@rule(BLOCK, r"firing|order|cylinder")
def firing_order_with_a_cylinder_left_out(card, rng):
    order = get(card, "block.firing_order")
    return {"block.firing_order": order[:-1]} if order and len(order) > 1 else None


@rule(r"^(block|intake|exhaust|fuel|mixture)", r"lambda|air.fuel|ratio")
def air_fuel_ratio_for_lambda(card, rng):
    return {"mixture.lambda": round(14.7 * get(card, "mixture.lambda"), 1)}


@rule(r"^(fuel|mixture)", r"lambda|lean|air.fuel")
def petrol_air_fuel_ratio_used_for_alcohol(card, rng):
    return {"fuel": {"name": "club alcohol", "key": "e85"}, "mixture.lambda": round(12.7 / 9.8, 2)}


@rule(r"^(fuel)", r"known|petrol|octane|one of")
def fuel_named_by_its_pump(card, rng):
    return {"fuel.key": rng.choice(["93", "98", "super"])}


@rule(r"^(fuel)", r"octane")
def octane_with_its_point_wrong(card, rng):
    return {"fuel.octane": rng.choice([9.8, 980])}


DAY = r"^day"


@rule(DAY, r"station|sea|altitude")
def sea_level_barometer_for_station_pressure(card, rng):
    altitude = rng.choice([350, 600, 900])
    return {"day.station_pressure": f"{rng.uniform(101.0, 102.0):.1f} kPa", "day.altitude": f"{altitude} m"}


@rule(DAY, r"written as")
def pressure_with_the_wrong_unit(card, rng):
    return {"day.station_pressure": rng.choice(["1002 kPa", "100.2 hPa", "29.6 kPa"])}


@rule(DAY, r"F written as C")
def fahrenheit_for_celsius(card, rng):
    return {"day.temperature": f"{rng.randint(58, 95)} C"}


@rule(DAY, r"% sign")
def humidity_percent_as_fraction(card, rng):
    return {"day.humidity": rng.choice([55, 40, 62, "50"])}


@rule(DAY, r"share")
def humidity_fraction_as_percent(card, rng):
    return {"day.humidity": rng.choice(["0.5 %", "0.62 %"])}


@rule(r"compression_ratio", r"decimal point")
def compression_ratio_without_its_point(card, rng):
    ratio = get(card, "block.compression_ratio")
    return None if ratio is None else {"block.compression_ratio": round(10 * number(ratio)[0])}


@rule(r"^burn", r"spark")
def spark_with_a_digit_lost(card, rng):
    return {"burn.spark": "3 deg"}


@rule(r"^burn", r"spark")
def spark_with_the_wrong_sign(card, rng):
    return {"burn.spark": f"-{rng.randint(22, 34)} deg"}


@rule(r"^(limits|run)", r"speed|rpm|limit")
def speed_limit_with_a_zero_too_many(card, rng):
    return {"limits.rpm": times(get(card, "limits.rpm"), 10)}


@rule(r"^run", r"from|to|rise|speed")
def run_from_and_to_swapped(card, rng):
    return {"run.from": get(card, "run.to"), "run.to": get(card, "run.from")}


@rule(r"^limits", r"injector")
def injector_flow_litres_for_cc(card, rng):
    flow = get(card, "limits.injector_flow")
    return {"limits.injector_flow": flow.replace("cc/min", "L/min")} if flow else None


@rule(r"^limits", r"injector")
def injector_flow_a_digit_lost(card, rng):
    flow = get(card, "limits.injector_flow")
    return {"limits.injector_flow": times(flow, 0.1)} if flow else None


_LENGTHS = ("block.bore", "block.rod", "head.intake.valve_diameter", "head.exhaust.valve_diameter",
            "exhaust.primary.od", "exhaust.primary.wall", "head.intake.port_length", "head.exhaust.throat_diameter")


@rule(r".", r"unit|mm|in")
def unit_left_out(card, rng):
    key = rng.choice(_LENGTHS)
    return {key: number(get(card, key))[0]}


@rule(r".", r"unit|fits|mm|kPa")
def unit_of_something_else(card, rng):
    key = rng.choice(_LENGTHS)
    return {key: with_unit(get(card, key), rng.choice(["kPa", "deg", "cc", "rpm"]))}


@rule(r".", r"comma|point|number|decimal")
def decimal_comma(card, rng):
    key = rng.choice(_LENGTHS)
    value, unit = number(get(card, key))
    return {key: f"{value:.1f} {unit}".replace(".", ",")}


@rule(r".", r"number|digit|unit")
def letter_for_a_digit(card, rng):
    key = rng.choice(_LENGTHS)
    return {key: "1O.5 " + number(get(card, key))[1]}


@rule(r".", r"Did you mean")
def key_misspelt(card, rng):
    key = rng.choice(_LENGTHS)
    head, _, last = key.rpartition(".")
    i = rng.randrange(1, len(last) - 1) if len(last) > 2 else 0
    wrong = last[:i] + last[i + 1] + last[i] + last[i + 2:]
    wrong = last + "s" if wrong == last or len(last) < 3 else wrong
    return {key: None, f"{head}.{wrong}": get(card, key)}


@rule(r".", r"negative|above|more than 0|positive|between|range|least|outside|small")
def length_with_a_minus(card, rng):
    key = rng.choice(_LENGTHS)
    return {key: f"-{get(card, key)}"}


@rule(r".", r"mm|in|large|small|range|usual|between|outside|more|less|diameter|bore|length|wall|ratio")
def point_moved_by_one(card, rng):
    key = rng.choice(_LENGTHS)
    return {key: times(get(card, key), rng.choice([10, 0.1]))}
