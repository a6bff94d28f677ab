"""Contradictions and doubts on a card that can be read: what is unusual enough to look at twice.

Ranges are common practice, no source, unless a check names one; they are widened before anything is said, since
a false alarm on a good card costs as much as a slip that is missed.
"""

from __future__ import annotations

from collections.abc import Iterator

from pullcast.card import valve_checks
from pullcast.card.classes import CLASSES, EngineClass, Range
from pullcast.card.derived import inlet_mach_index, piston_speed
from pullcast.card.engine import Engine, Finding
from pullcast.card.section import circle
from pullcast.units import show

DISPLACEMENT = {  # L, usual range of each class
    "street_2v_v8": (3.4, 9.0), "race_2v_v8": (3.4, 11.0), "car_four_4v": (0.9, 3.0), "car_six_4v": (1.6, 5.0),
    "bike_four_4v": (0.35, 1.5), "restricted_600": (0.35, 0.75), "single_4v": (0.12, 0.75), "lab_single": (0.15, 1.3),
    "twin": (0.3, 2.5),
}
# usual outside sizes of header tube, m: eighths of an inch and metric tube
TUBE_SIZES = (*(0.0254 * n / 8 for n in range(10, 25)), 0.0424, 0.0483, 0.0603)
STOICHIOMETRIC = {"petrol": 14.5, "e10": 13.9, "e85": 9.9, "e85_winter": 11.4, "ethanol": 9.0, "methanol": 6.5,
                  "propane": 15.7, "methane": 17.2, "isooctane": 15.1}
AIR = 1.18  # kg/m3, for estimates


def checks(engine: Engine) -> tuple[Finding, ...]:
    """Every finding on an engine: contradictions first, then doubts, then notes."""
    found = list(engine.findings)
    for check in (_block, _cam, valve_checks.cams, valve_checks.sheets, valve_checks.ports, _intake, _throttle,
                  _exhaust,
                  _tubes, _running, _limits):
        found += check(engine)
    order = {"contradiction": 0, "doubt": 1, "note": 2}
    return tuple(sorted(dict.fromkeys(found), key=lambda f: order[f.level]))


def outside(value: float, row: Range, slack: float) -> str:
    """How ``value`` stands outside a row widened by ``slack`` of its middle: "below", "above" or nothing."""
    room = slack * abs(row.value)
    return "below" if value < row.low - room else "above" if value > row.high + room else ""


def usual(row: Range) -> str:
    """The row's range as text."""
    return f"{show(row.low, row.kind)} to {show(row.high, row.kind)}"


def _doubt(key: str, what: str, value: float, row: Range, engine_class: EngineClass, remedy: str) -> Finding:
    return Finding("doubt", key, f"{what} {show(value, row.kind)} is outside what is usual for a "
                   f"{engine_class.title} "
                   f"({usual(row)})", remedy)


def _block(engine: Engine) -> Iterator[Finding]:
    b, c = engine.block, CLASSES[engine.engine_class]
    low, high = DISPLACEMENT[c.name]
    litres = b.displacement * 1e3
    if not low <= litres <= high:
        yield Finding("doubt", "block.bore", f"a displacement of {litres:.3g} L is outside what is usual for a "
                      f"{c.title} "
                      f"({low:g} to {high:g} L)", "Check the units of bore and stroke, or choose another class.")
    if not 0.65 <= b.bore / b.stroke <= 1.75:
        yield Finding("doubt", "block.stroke", f"bore / stroke is {b.bore / b.stroke:.2f}",
                      "Is one of them in another unit?")
    if not 1.3 <= b.rod / b.stroke <= 2.4:
        yield Finding("doubt", "block.rod", f"rod / stroke is {b.rod / b.stroke:.2f}; 1.4 to 2.2 is usual",
                      "The rod is measured between centres.")
    row = c.rows["block.compression_ratio"]
    if outside(b.compression_ratio, row, 0.08):
        yield _doubt("block.compression_ratio", "compression ratio", b.compression_ratio, row, c,
                     "1 cc of chamber moves a ratio of ten by about 0.1: check the volumes.")
    if b.layout == "v" and b.cylinders == 8 and len(b.banks) == 2 and abs(len(b.banks[0]) - 4) > 0:
        yield Finding("doubt", "block.banks", f"the banks hold {len(b.banks[0])} and {len(b.banks[1])} cylinders")
    if engine.limits.rpm and (where := outside(engine.limits.rpm, c.rows["limits.rpm"], 0.15)):
        yield _doubt("limits.rpm", "a limit of", engine.limits.rpm, c.rows["limits.rpm"], c,
                     "Is the class right?" if where == "above" else "Is a digit missing?")


def _cam(engine: Engine) -> Iterator[Finding]:
    c, i, e = CLASSES[engine.engine_class], engine.cam.intake, engine.cam.exhaust
    separation = (i.centreline_deg + e.centreline_deg) / 2
    row = c.rows["cam.lobe_separation"]
    if outside(separation, row, 0.03):
        yield _doubt("cam.lobe_separation", "a lobe separation of", separation, row, c,
                     "Is a centreline written where the separation belongs?")
    advance = separation - i.centreline_deg
    row = c.rows["cam.advance"]
    slack = 1.5 if c.layout == "v" else 5.0
    if not row.low - slack <= advance <= row.high + slack + 2.5:
        remedy = ("Is advanced written where retarded is meant?" if abs(advance) < 12 else
                  "Is a separation written as centreline?")
        yield Finding("doubt", "cam.advance", f"the cam stands {abs(advance):g} deg "
                      f"{'advanced' if advance > 0 else 'retarded'} (intake centreline "
                      f"{i.centreline_deg:g}, separation {separation:g})", remedy)


def _intake(engine: Engine) -> Iterator[Finding]:
    facts, c = engine.intake.facts, CLASSES[engine.engine_class]
    yield from _runner(engine, c)
    for name in ("plenum", "airbox"):
        row = c.limits["plenum"]
        boxed = "airbox_volume" in facts and "intake.airbox.volume" in c.rows
        if f"{name}_volume" in facts and (name == "airbox") == boxed and row.high > 0:
            share = facts[f"{name}_volume"] / engine.block.displacement
            if not 0.4 * row.low <= share <= 2.0 * row.high:
                yield Finding("doubt", f"intake.{name}.volume",
                              f"{name} / displacement is {share:.3g}; {row.low:g} to "
                              f"{row.high:g} is usual for a {c.title}", "Is the volume in another unit (cc, L)?")


def _runner(engine: Engine, c: EngineClass) -> Iterator[Finding]:
    facts, head = engine.intake.facts, engine.head.intake
    if "runner_length" not in facts:
        return
    port = sum(s.length for s in head.port)
    tract, row = facts["runner_length"] + port, c.limits["tract"]
    where = outside(tract, row, 0.15)
    yield from _head_port(facts, tract, port, c, far=bool(where))
    if where:
        remedy = "Check the length and its unit."
        if where == "below" and facts["measured_from_valve"]:
            remedy = 'Was the length measured on the manifold alone? Then measured_from = "flange".'
        elif where == "above" and not facts["measured_from_valve"] and not outside(tract - port, row, 0.15):
            remedy = 'Does the length include the head port? Then measured_from = "valve".'
        yield _doubt("intake.runner.length", "a tract from valve to plenum of", tract, row, c, remedy)
    if any(a.key == "head.intake.port_length" for a in engine.assumed):
        yield Finding("note", "head.intake.port_length", f"the head port's length is assumed "
                      f"({show(port, 'length')})",
                      "Left out, tuning is off by 20 to 45 %; measure from the valve to the flange.")
    step = facts["runner_area"] / head.port[-1].area_end
    if not 0.85 <= step <= 1.18:
        level = "doubt" if not 0.6 <= step <= 1.6 else "note"
        yield Finding(level, "intake.runner.area", f"the runner has {step:.2f} of the port's area where they meet",
                      "A step makes a loss of its own; check the gasket window and the units.")
    if not facts.get("throttle_in_runner") and not 0.85 <= facts["runner_area_plenum"] / facts["runner_area"] <= 2.0:
        yield Finding("doubt", "intake.runner.taper", "the runner's plenum end has "
                      f"{facts['runner_area_plenum'] / facts['runner_area']:.2f} of its area at the head",
                      "A runner narrows towards the head.")


def _head_port(facts: dict, tract: float, port: float, c: EngineClass, *, far: bool) -> Iterator[Finding]:
    """A length that would be usual if the head port were left out or counted once: said within the wider bounds."""
    row, runners = c.limits["tract"], c.rows["intake.runner.length"]
    if far:
        return
    if facts["measured_from_valve"] and facts["runner_length"] < runners.low:
        yield Finding("doubt", "intake.runner.length", f"less the head port of {show(port, 'length')} the runner is "
                      f"{show(facts['runner_length'], 'length')}; {usual(runners)} is usual for a {c.title}",
                      'Was the length measured on the manifold alone? Then measured_from = "flange".')
    elif not facts["measured_from_valve"] and outside(tract, row, 0.06) == "above" and tract - port <= row.high:
        yield _doubt("intake.runner.length", "a tract from valve to plenum of", tract, row, c,
                     'Does the length include the head port? Then measured_from = "valve".')


def _throttle(engine: Engine) -> Iterator[Finding]:
    facts, b = engine.intake.facts, engine.block
    if "throttle_area" not in facts:
        return
    volume = b.swept_volume if facts.get("throttle_in_runner") else b.displacement
    velocity = volume * engine.limits.rpm / 120.0 / facts["throttle_area"]
    ceiling = 90.0 if facts.get("throttle_in_runner") else 150.0
    ceiling = 400.0 if "restrictor_area" in facts else ceiling
    if velocity > ceiling or velocity < 7.0:
        size = "small" if velocity > ceiling else "large"
        yield Finding("doubt", "intake.throttle.diameter", f"the throttle is very {size}: {velocity:.0f} m/s mean "
                      f"air speed at "
                      f"{engine.limits.rpm:.0f} rpm (15 to 120 is usual)",
                      "Check the number of bores, their size and unit.")


def _exhaust(engine: Engine) -> Iterator[Finding]:
    facts, c = engine.exhaust.facts, CLASSES[engine.engine_class]
    if "primary_id" not in facts or any(p.name.startswith("log run") for p in engine.exhaust.pipes):
        return
    share = circle(facts["primary_id"]) / engine.head.exhaust.port[-1].area_end
    if not 0.80 <= share <= 2.0:
        yield Finding("doubt", "exhaust.primary.id", f"the primary has {share:.2f} of the exhaust port's area; 1.0 "
                      f"to 1.5 is usual",
                      "Is the tube's outside size, or the port, in another unit?")
    row = c.rows["exhaust.primary.length"]
    length = facts["primary_length"] + facts.get("secondary_length", 0.0) * (c.exhaust_style != "4-2-1")
    widest = row.low * 0.6, row.high * 1.6
    if "secondary_length" not in facts and c.exhaust_style == "4-2-1":
        widest = row.low * 0.7, row.high * 2.2
    if not widest[0] <= length <= widest[1]:
        yield _doubt("exhaust.primary.length", "a primary of", length, row, c, "Is the length in another unit?")


def _tubes(engine: Engine) -> Iterator[Finding]:
    facts = engine.exhaust.facts
    bore = facts.get("primary_id")
    if bore and facts.get("primary_bore_stated") and any(abs(bore - size) < 1.5e-4 for size in TUBE_SIZES):
        yield Finding("doubt", "exhaust.primary.id", f"an inside diameter of {show(bore, 'length')} "
                      f"({show(bore, 'length', 'us')}) is a usual outside size of tube",
                      "If it was measured outside, write od and wall: 1.75 in tube flows 2.14 in2, not 2.41.")
    if bore and "collector_id" in facts:
        count = sum(1 for p in engine.exhaust.pipes if p.end.node in ("collector 1 merge", "collector 1 pair 1"))
        share = (facts["collector_id"] / bore) ** 2
        if not 0.7 <= share <= max(2.0, 1.6 * count):
            yield Finding("doubt", "exhaust.collector.id", f"the collector has {share:.2f} times the area of one "
                          f"primary",
                          "Check its size and unit.")


def _running(engine: Engine) -> Iterator[Finding]:
    c, m = CLASSES[engine.engine_class], engine.mixture
    row = c.rows["mixture.lambda"]
    if outside(m.lambda_, row, 0.08):
        yield _doubt("mixture.lambda", "a full-load lambda of", m.lambda_, row, c,
                     "Is it lambda, not phi?")
    values = [v for _, v in engine.burn.table]
    if engine.burn.timing == "spark" and (outside(max(values), c.rows["burn.spark"], 0.35) or min(values) < 0.0):
        yield _doubt("burn.spark", "a spark of", min(values) if min(values) < 0.0 else max(values),
                     c.rows["burn.spark"], c, "Total advance is meant, deg before firing TDC.")
    if engine.burn.timing == "ca50" and not all(0.0 <= v <= 30.0 for v in values):
        yield Finding("doubt", "burn.ca50", f"CA50 at {min(values):g} to {max(values):g} deg; 6 to 12 after TDC is "
                      f"usual",
                      "CA50 counts after firing TDC, spark before it.")
    day = engine.day
    if not 263.0 <= day.temperature <= 318.0:
        yield Finding("doubt", "day.temperature", f"{day.temperature - 273.15:.0f} °C at the inlet",
                      "Is it °F read as °C?")
    if 0.0 < day.humidity < 0.02:
        yield Finding("doubt", "day.humidity", f"a humidity of {100 * day.humidity:.2g} %",
                      f'Is it a share written as %? "{100 * day.humidity:.2g}" without the sign is one.')
    if not 75e3 <= day.pressure <= 105e3:
        yield Finding("doubt", "day.station_pressure", f"{day.pressure / 100:.0f} hPa", "Station pressure is meant.")
    if engine.speeds[-1] > 1.05 * engine.limits.rpm:
        yield Finding("doubt", "run.speeds", f"the speeds reach {engine.speeds[-1]:.0f} rpm, the limit is "
                      f"{engine.limits.rpm:.0f}", "Raise limits.rpm if that is meant.")
    if engine.fuel.key.startswith("e85"):
        yield Finding("note", "fuel.key", "E85 holds 51 to 83 % ethanol by season",
                      "e85 is the summer grade, e85_winter the other.")


def _limits(engine: Engine) -> Iterator[Finding]:
    limits, b, c = engine.limits, engine.block, CLASSES[engine.engine_class]
    ceiling = limits.piston_speed or 1.12 * c.limits["piston_speed"].high
    speed = piston_speed(engine, limits.rpm)
    if speed > ceiling:
        yield Finding("doubt", "limits.rpm", f"mean piston speed {speed:.1f} m/s at {limits.rpm:.0f} rpm is above "
                      f"{ceiling:.1f} m/s", "Check stroke and limit.")
    index = inlet_mach_index(engine, limits.rpm)
    if index > 1.05:
        yield Finding("doubt", "head.intake.valve_diameter", f"the inlet Mach index is {index:.2f} at the limit; "
                      f"volumetric "
                      "efficiency falls beyond 0.6 (Taylor 1985, ch. 6, from memory)",
                      "Check valves, lift and flow sheet.")
    if limits.injector_flow is not None:
        count = limits.injectors or b.cylinders
        air = AIR * 0.9 * b.displacement * limits.rpm / 120
        need = air / (STOICHIOMETRIC[engine.fuel.key] * engine.mixture.lambda_)
        share = need / (count * limits.injector_flow)
        if share > 1.0 or share < 0.08:
            yield Finding("doubt", "limits.injector_flow", f"at a volumetric efficiency of 0.9 the injectors would "
                          f"be open "
                          f"{share:.0%} of the time at {limits.rpm:.0f} rpm", "Check flow, number and unit.")


