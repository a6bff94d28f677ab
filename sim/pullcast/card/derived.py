"""Numbers that follow from a card without simulating."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pullcast.card import bench
from pullcast.card.engine import Duration, Engine, ValveSide
from pullcast.card.section import circle

MEAN_OPEN = 0.85  # injector duty taken as full (common practice, no source)


@dataclass(frozen=True)
class Derived:
    """A derived number in internal units of ``unit_quantity`` (empty: none), or a text; and what to know about it."""

    name: str
    value: float | str
    unit_quantity: str = ""
    note: str = ""


def derived(engine: Engine) -> tuple[Derived, ...]:
    """All derived numbers of an engine, in the order in which a builder looks for them."""
    return (*_block(engine), *_cam(engine), *_valves(engine), *_intake(engine), *_exhaust(engine), *_limits(engine))


def event_text(side: str, duration: float, centreline: float) -> str:
    """Opening and closing in the trade's words ("12 BTDC to 52 ABDC"), symmetric about the centreline (deg).

    >>> event_text("intake", 244, 110)
    '12 BTDC to 52 ABDC'
    """
    inner, outer = duration / 2 - centreline, duration / 2 + centreline - 180.0
    near = _side_of(inner, "BTDC" if side == "intake" else "ATDC", "ATDC" if side == "intake" else "BTDC")
    far = _side_of(outer, "ABDC" if side == "intake" else "BBDC", "BBDC" if side == "intake" else "ABDC")
    return f"{near} to {far}" if side == "intake" else f"{far} to {near}"


def _side_of(angle: float, positive: str, negative: str) -> str:
    return f"{abs(angle):.4g} {positive if angle >= 0 else negative}"


def overlap(engine: Engine, lift: float, side: str) -> float | None:
    """Overlap (deg) counted at ``lift`` (m) on ``side`` of both lobes, None if one has no duration there."""
    found = [next((d.duration_deg for d in lobe.durations if d.side == side and abs(d.lift - lift) < 2e-6), None)
             for lobe in (engine.cam.intake, engine.cam.exhaust)]
    if None in found:
        return None
    return sum(found) / 2 - engine.cam.intake.centreline_deg - engine.cam.exhaust.centreline_deg


def piston_speed(engine: Engine, rpm: float) -> float:
    """Mean piston speed, m/s."""
    return 2.0 * engine.block.stroke * rpm / 60.0


def inlet_mach_index(engine: Engine, rpm: float) -> float:
    """Taylor's inlet Mach index Z = (piston area x mean piston speed) / (Ci x valve area x sound speed).

    Taylor 1985, vol. 1, ch. 6 (from memory): volumetric efficiency holds to about 0.5 and falls beyond 0.6.
    """
    side = engine.head.intake
    coefficient = bench.mean_coefficient(side, "intake", engine.cam.intake.lift)
    sound = math.sqrt(bench.GAMMA * bench.R * engine.day.temperature)
    return circle(engine.block.bore) * piston_speed(engine, rpm) / (
        coefficient * side.count * circle(side.diameter) * sound)


def tuning_speed(engine: Engine) -> float | None:
    """Speed (rpm) of the lumped intake resonance: Engelman 1973, N = (162/K) c sqrt(A/(L V) (r-1)/(r+1)), K 2.1.

    c ft/s, A in2 and L in of runner and port, V in3 of one cylinder (from memory). None for a free-form intake.
    """
    facts = engine.intake.facts
    if "runner_length" not in facts:
        return None
    length = facts["runner_length"] + sum(s.length for s in engine.head.intake.port)
    area = facts["runner_volume"] / _first_runner(engine)
    sound = math.sqrt(bench.GAMMA * bench.R * engine.day.temperature) / 0.3048
    r = engine.block.compression_ratio
    form = (area / 0.0254**2) / (length / 0.0254 * engine.block.swept_volume / 0.0254**3)
    return 162 / 2.1 * sound * math.sqrt(form * (r - 1) / (r + 1))


def _first_runner(engine: Engine) -> float:
    pipe = next(p for p in engine.intake.pipes if p.name == "runner 1")
    throttle = 1 if engine.intake.facts.get("throttle_in_runner") else 0
    return sum(s.length for s in pipe.segments[throttle:])


def choked_air(engine: Engine) -> tuple[float, str] | None:
    """Choked air flow (kg/s) of the smallest common inlet section and its name, None if there is none."""
    facts = engine.intake.facts
    name = "restrictor" if "restrictor_area" in facts else "throttle"
    area = facts.get(f"{name}_area")
    if area is None:
        return None
    area *= engine.block.cylinders if facts.get("throttle_in_runner") else 1
    g = bench.GAMMA
    psi = math.sqrt(g) * (2 / (g + 1)) ** ((g + 1) / (2 * (g - 1)))
    return area * engine.day.pressure * psi / math.sqrt(bench.R * engine.day.temperature), name


def _block(engine: Engine) -> list[Derived]:
    b = engine.block
    return [
        Derived("displacement", b.displacement, "displacement", f"{b.cylinders} cylinders"),
        Derived("swept volume of a cylinder", b.swept_volume, "volume"),
        Derived("compression ratio", b.compression_ratio, "", ""),
        Derived("clearance volume", b.clearance_volume, "volume"),
        Derived("bore / stroke", b.bore / b.stroke),
        Derived("rod / stroke", b.rod / b.stroke),
        Derived("mean piston speed at the limit", piston_speed(engine, engine.limits.rpm), "speed",
                f"{engine.limits.rpm:.0f} rpm"),
    ]


def _cam(engine: Engine) -> list[Derived]:
    i, e = engine.cam.intake, engine.cam.exhaust
    rows = []
    for side, lobe in (("intake", i), ("exhaust", e)):
        for d in sorted(lobe.durations, key=lambda d: (d.side, d.lift)):
            rows.append(Derived(f"{side} events {_counted(d)}", event_text(side, d.duration_deg, lobe.centreline_deg),
                                "",
                                f"{d.duration_deg:g} deg, flanks taken as even"))
    for d in sorted(i.durations, key=lambda d: (d.side, d.lift)):
        both = overlap(engine, d.lift, d.side)
        if both is not None:
            rows.append(Derived(f"overlap {_counted(d)}", both, "angle"))
    separation = (i.centreline_deg + e.centreline_deg) / 2
    rows += [Derived("lobe separation", separation, "angle"), Derived("intake centreline", i.centreline_deg, "angle"),
             Derived("exhaust centreline", e.centreline_deg, "angle"),
             Derived("advance", separation - i.centreline_deg, "angle", "lobe separation less intake centreline")]
    return rows


def _counted(d: Duration) -> str:
    return f"at {d.lift * 1e3:.2f} mm ({d.lift / 0.0254:.3f} in) {d.side} lift"


def _valves(engine: Engine) -> list[Derived]:
    rows = []
    for kind, side, lobe in (("intake", engine.head.intake, engine.cam.intake),
                             ("exhaust", engine.head.exhaust, engine.cam.exhaust)):
        rows += [
            Derived(f"{kind} valve lift", lobe.lift, "length", "after lash"),
            Derived(f"{kind} lift / valve diameter", lobe.lift / side.diameter),
            Derived(f"{kind} curtain at full lift", bench.curtain_area(side, lobe.lift), "area"),
            Derived(f"{kind} throat", bench.throat_area(side), "area", "less the stems"),
            Derived(f"{kind} port at the flange", side.port[-1].area_end, "area"),
            Derived(f"{kind} port length", sum(s.length for s in side.port), "length"),
            *_sheet(kind, side),
        ]
    ratio = bench.effective_area(engine.head.exhaust, "exhaust", engine.cam.exhaust.lift) / bench.effective_area(
        engine.head.intake, "intake", engine.cam.intake.lift)
    rows.append(Derived("exhaust / intake flow capacity", ratio, "", "at full lift"))
    rows.append(Derived("inlet Mach index at the limit", inlet_mach_index(engine, engine.limits.rpm), "",
                        "Taylor: falls off past 0.5 to 0.6"))
    return rows


def _sheet(kind: str, side: ValveSide) -> list[Derived]:
    if side.flow is None:
        return [Derived(f"{kind} flow sheet", "none", "", "coefficients from the literature, ±0.06")]
    text = " ".join(f"{c:.2f}" for c in bench.curtain_coefficients(side))
    best = side.flow.flows[-1] / bench.ideal_velocity(side.flow.depression, side.flow.temperature, side.flow.pressure)
    return [Derived(f"{kind} coefficients on curtain", text, "", "lift by lift of the sheet"),
            Derived(f"{kind} flow / ideal through the throat", best / bench.throat_area(side), "",
                    "at the sheet's last lift")]


def _intake(engine: Engine) -> list[Derived]:
    facts, rows = engine.intake.facts, []
    if "runner_length" in facts:
        port = sum(s.length for s in engine.head.intake.port)
        rows += [Derived("intake tract from the valve", facts["runner_length"] + port, "length",
                         "runner and head port"),
                 Derived("runner at the plenum", facts["runner_area_plenum"], "area"),
                 Derived("runner at the head", facts["runner_area"], "area"),
                 Derived("runner volume", facts["runner_volume"], "volume", "one runner"),
                 Derived("lumped intake tuning speed", tuning_speed(engine) or 0.0, "rotational speed",
                         "Engelman; a guide, the solver knows better")]
    for name in ("plenum", "airbox"):
        if f"{name}_volume" in facts:
            rows += [Derived(f"{name} volume", facts[f"{name}_volume"], "displacement"),
                     Derived(f"{name} / displacement", facts[f"{name}_volume"] / engine.block.displacement)]
    if "throttle_area" in facts:
        rows.append(Derived("throttle, effective", facts["throttle_area"], "area",
                            "one cylinder's" if facts.get("throttle_in_runner") else "all bores"))
    ceiling = choked_air(engine)
    if ceiling is not None:
        rows.append(Derived("air at the choked " + ceiling[1], ceiling[0], "mass flow", "no engine passes more"))
    return rows


def _exhaust(engine: Engine) -> list[Derived]:
    facts, rows = engine.exhaust.facts, []
    if "primary_id" in facts:
        bore = circle(facts["primary_id"])
        rows += [Derived("primary, inside", facts["primary_id"], "length"), Derived("primary area", bore, "area"),
                 Derived("primary length", facts["primary_length"], "length", "from the flange"),
                 Derived("primary / exhaust port area", bore / engine.head.exhaust.port[-1].area_end)]
    if "collector_id" in facts:
        rows += [Derived("collector, inside", facts["collector_id"], "length"),
                 Derived("collector length", facts["collector_length"], "length")]
    return rows


def _limits(engine: Engine) -> list[Derived]:
    limits, rows = engine.limits, []
    if limits.injector_flow is not None:
        count = limits.injectors or engine.block.cylinders
        rows.append(Derived("fuel the injectors pass", count * limits.injector_flow * MEAN_OPEN, "mass flow",
                            f"{count} at {MEAN_OPEN:.0%} duty"))
    if limits.driveline_torque is not None:
        mean = limits.driveline_torque * 4 * math.pi / engine.block.displacement
        rows.append(Derived("BMEP at the driveline's limit", mean, "high pressure",
                            f"{limits.driveline_torque:.0f} N m"))
    return rows
