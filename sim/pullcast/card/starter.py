"""Commented starter cards: fifteen keys to fill from a cam card, a flow sheet and a tape measure."""

from __future__ import annotations

import math

from pullcast.card import bench
from pullcast.card.block import ORDERS
from pullcast.card.classes import CLASSES, EngineClass, Range
from pullcast.errors import InputError
from pullcast.units import show

# a bore and stroke to begin with, mm: invented
SIZES = {
    "street_2v_v8": (101.6, 88.4), "race_2v_v8": (106.0, 95.0), "car_four_4v": (86.0, 86.0),
    "car_six_4v": (84.0, 90.0), "bike_four_4v": (67.0, 42.5), "restricted_600": (67.0, 42.5),
    "single_4v": (95.0, 63.0), "lab_single": (82.0, 92.0), "twin": (90.0, 90.0),
}
OPTIONAL = (  # keys offered as comments with the value that will be assumed
    ("mixture", ("lambda", "evaporated")), ("burn", ("ca50", "duration_10_90", "delay")),
    ("walls", ("piston", "head", "liner")), ("friction", ("factor", "accessory_torque")), ("limits", ("rpm",)),
)


def starter(engine_class: str) -> str:
    """The text of a commented card for a class of engine; it reads as it stands.

    Raises InputError naming the classes if ``engine_class`` is none of them.
    """
    if engine_class not in CLASSES:
        from pullcast.card.free_form import nearest

        msg = f'"{engine_class}" is not a class of engine. {nearest(engine_class, list(CLASSES))}'
        raise InputError(msg)
    c = CLASSES[engine_class]
    bore, stroke = SIZES[engine_class]
    return "\n".join([*_top(c), *_block(c, bore, stroke), *_head(c, bore), *_cam(c), *_tracts(c), *_rest(c, stroke)])


def _top(c: EngineClass) -> list[str]:
    return [
        f"# Starter card: {c.title}.",
        "# Replace the fifteen values that are not commented out by your own; each is text with its unit.",
        '# A value may carry its uncertainty: runner length = { value = "10.5 in", within = "0.3 in" }.',
        "# Whatever is left out is filled from the class, shown as assumed with its range, and widens every answer.",
        'name = "my engine"', f'class = "{c.name}"', "",
    ]


def _block(c: EngineClass, bore: float, stroke: float) -> list[str]:
    row = c.rows["block.compression_ratio"]
    return [
        "[block]", f'bore = "{bore:g} mm"', f'stroke = "{stroke:g} mm"',
        f"# usual {row.low:g} to {row.high:g}; better: chamber, piston_dish, gasket_thickness, deck_clearance",
        f"compression_ratio = {row.value:g}",
        f"# cylinders = {c.cylinders}", f'# layout = "{c.layout}"',
        f"# firing_order = {list(ORDERS[c.layout, c.cylinders])}",
        f"# rod = {_text(c.rows['block.rod'], stroke)}", "",
    ]


def _head(c: EngineClass, bore: float) -> list[str]:
    valve = round(bore * c.rows["head.intake.valve_diameter"].value, 1)
    lifts, flows = _sheet(c, valve)
    window = c.valves[0] * math.pi / 400 * valve**2 * c.rows["head.intake.port_area"].value
    return [
        "[head.intake]", f"# each of {c.valves[0]}; the head of the valve", f'valve_diameter = "{valve:g} mm"',
        "# along the middle of the port from valve to flange, and its window at the flange",
        f'# port_length = "{show(c.rows["head.intake.port_length"].value, "length")}"',
        f'# port_area = "{window:.1f} cm2"', "",
        "# the flow sheet of one intake port, all its valves open; the depression of the bench must be stated",
        "[head.intake.flow]", f'lifts = "{lifts} mm"', f'flows = "{flows} L/s"', 'depression = "28 inH2O"', "",
        "# The exhaust side takes the same keys: [head.exhaust] and [head.exhaust.flow].", "",
    ]


def _sheet(c: EngineClass, valve: float) -> tuple[str, str]:
    """A sheet from literature coefficients (Heywood 1988, fig. 6-18, from memory) for the text to start with."""
    top = c.rows["cam.intake.valve_lift"].value * 1e3
    step = 2.0 if top > 7.5 else 1.0
    lifts = [step * i for i in range(1, int(top / step) + 1)]
    throat = c.valves[0] * math.pi / 4 * ((0.88 * valve) ** 2 - (0.14 * valve) ** 2)
    flows = []
    for lift in lifts:
        share = bench.interpolate(lift / valve, list(bench.CURTAIN["intake"]))
        area = share * c.valves[0] * math.pi * valve * lift
        area = area / (1.0 + (area / (0.9 * throat)) ** 6) ** (1 / 6)
        flows.append(area * 1e-6 * bench.ideal_velocity(28 * 249.08891) * 1e3)
    return " ".join(f"{v:g}" for v in lifts), " ".join(f"{q:.1f}" for q in flows)


def _cam(c: EngineClass) -> list[str]:
    inch = c.duration_at == "0p050in"
    key = "duration_at_0p050in" if inch else "duration_at_1mm"
    where = "0.050 in at the tappet" if inch else "1 mm at the valve"
    one, lsa = c.rows["cam.intake.duration"], c.rows["cam.lobe_separation"]
    two = one.value * c.rows["cam.exhaust.duration"].value
    lines = ["[cam]", f"# usual {lsa.low:g} to {lsa.high:g}", f'lobe_separation = "{lsa.value:g} deg"', ""]
    for side, duration in (("intake", one.value), ("exhaust", round(two))):
        lift = c.rows[f"cam.{side}.valve_lift"]
        lines += [f"[cam.{side}]", f"# counted at {where}; usual {one.low:g} to {one.high:g} deg",
                  f'{key} = "{duration:g} deg"', "# as on the cam card, before lash",
                  f'valve_lift = "{lift.value * 1e3:g} mm"']
        if side == "intake":
            lines += ["# after top dead centre, as installed",
                      f'centreline = "{lsa.value - c.rows["cam.advance"].value:g} deg"']
        lines += [f'# advertised_duration = "{duration + 46:g} deg"', '# advertised_at = "0.006 in"',
                  f'# lash = "{c.rows[f"cam.{side}.lash"].value * 1e3:g} mm"',
                  f"# rocker_ratio = {c.rows[f'cam.{side}.rocker_ratio'].value:g}", ""]
    return lines


def _tracts(c: EngineClass) -> list[str]:
    runner, pipe = c.rows["intake.runner.length"], c.rows["exhaust.primary.length"]
    return [
        "[intake]", "# plenum_runners, individual or dual_plane; or a list of [[pipe]], [[volume]], [[junction]]",
        f'# style = "{c.intake_style}"', "",
        "[intake.throttle]", "# bores and their size; a carburettor: rating and rated_at",
        f'# diameter = "{_throttle(c)}"', "",
        "[intake.runner]", "# from the plenum (or open end) to the head's flange",
        f'length = "{runner.value * 1e3:g} mm"',
        '# measured_from = "flange"     # "valve" if the head port is included', "",
        "[exhaust]", "# 4-1, 4-2-1, 3-1, 2-1, 6-2, single, log; or a list of [[pipe]], [[volume]], [[junction]]",
        f'# style = "{c.exhaust_style}"', "",
        "[exhaust.primary]", "# the tube's outside size and wall, or id if the bore was measured",
        f'od = "{_tube(c)}"', f'# length = "{pipe.value * 1e3:g} mm"', "",
    ]


def _throttle(c: EngineClass) -> str:
    row = c.rows["intake.throttle.diameter"]
    return f"{row.value * (SIZES[c.name][0] if row.per == 'bore' else 1e3):.1f} mm"


def _tube(c: EngineClass) -> str:
    """Outside size of a tube that suits the class's exhaust port (1.4 mm wall)."""
    valve = SIZES[c.name][0] * c.rows["head.exhaust.valve_diameter"].value
    port = valve * math.sqrt(c.valves[1] * c.rows["head.exhaust.port_area"].value)
    return f"{port * c.rows['exhaust.primary.id'].value + 2.8:.1f} mm"


def _rest(c: EngineClass, stroke: float) -> list[str]:
    lines = ["# Below: what will be assumed. Take the # away and correct what you know.", "",
             '# [fuel]', '# key = "petrol"', "# octane = 95", "",
             "# [day]", '# station_pressure = "100 kPa"     # not the weather report\'s sea-level barometer',
             '# temperature = "25 C"', '# humidity = "40 %"', ""]
    for table, keys in OPTIONAL:
        lines.append(f"# [{table}]")
        lines += [f"# {key} = {_text(c.rows[f'{table}.{key}'], stroke)}" for key in keys]
        lines.append("")
    return [*lines, "# [run]", f'# from = "{c.speeds[0]:g} rpm"', f'# to = "{c.speeds[-1]:g} rpm"',
            f"# points = {len(c.speeds)}", "", "[source]", 'text = "where these numbers come from"', ""]


def _text(row: Range, stroke: float) -> str:
    """A row's usual value as it would stand in a card, its range behind."""
    scale = stroke * 1e-3 if row.per == "stroke" else 1.0
    if row.kind == "fraction":
        return f"{row.value:g}     # {row.low:g} to {row.high:g}"
    low, value, high = (show(v * scale, row.kind) for v in (row.low, row.value, row.high))
    return f'"{value}"     # {low} to {high}'
