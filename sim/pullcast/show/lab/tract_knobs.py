"""Controls of the tracts: runner, plenum, throttle, primary."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import partial

from pullcast import units
from pullcast.card.engine import Engine
from pullcast.card.section import circle
from pullcast.card.tree import get_path
from pullcast.show.lab.knob import Data, Knob, Swaps, around, fixed, has, stated, text

SECTION = ("area", "diameter", "width", "height")
TUBE = ("id", "od", "wall")


def own_pipe(data: Data, tract: str) -> int | None:
    """Place in a free list of pipes of the one that every cylinder has at its port, None if there is no such list."""
    for i, pipe in enumerate(get_path(data, f"{tract}.pipe") or ()):
        if isinstance(pipe, Mapping) and pipe.get("each") == "cylinder" and "port" in (pipe.get("from"),
                                                                                      pipe.get("to")):
            return i
    return None


def _scaled_lengths(data: Data, key: str, factor: float) -> Swaps:
    lengths = units.series_to_si(get_path(data, key), "length")
    return {key: " ".join(f"{1e3 * factor * v:.8g}" for v in lengths) + " mm"}


def _runner_length(engine: Engine, data: Data) -> float | None:
    i = own_pipe(data, "intake")
    if i is not None:
        return stated(data, f"intake.pipe.{i}.length", "length")
    facts = engine.intake.facts
    if "runner_length" not in facts:
        return None
    return facts["runner_length"] + (facts["port_length"] if facts["measured_from_valve"] else 0.0)


def _set_runner_length(value: float, engine: Engine, data: Data) -> Swaps:
    i = own_pipe(data, "intake")
    if i is not None:
        return {f"intake.pipe.{i}.length": text(value * 1e3, "mm")}
    if has(data, "intake.runner.lengths"):
        return _scaled_lengths(data, "intake.runner.lengths", value / _runner_length(engine, data))
    return {"intake.runner.length": text(value * 1e3, "mm")}


def _runner_note(engine: Engine, data: Data) -> str:
    if has(data, "intake.runner.lengths"):
        return "mean; all are scaled alike"
    from_valve = engine.intake.facts.get("measured_from_valve")
    return "from the valve" if from_valve else "from the head's flange"


def _stated_section(data: Data, table: str, end: str = "") -> float | None:
    """The area a table states by area or diameter."""
    area = stated(data, f"{table}.area{end}", "area")
    if area is not None:
        return area
    diameter = stated(data, f"{table}.diameter{end}", "length")
    return None if diameter is None else circle(diameter)


def _runner_area(engine: Engine, data: Data) -> float | None:
    i = own_pipe(data, "intake")
    if i is not None:
        return _stated_section(data, f"intake.pipe.{i}")
    return None if has(data, "intake.runner.stations") else engine.intake.facts.get("runner_area")


def _set_runner_area(value: float, engine: Engine, data: Data) -> Swaps:
    """The section at the head set, the other end scaled with it."""
    i = own_pipe(data, "intake")
    table, other = (f"intake.pipe.{i}", "_end") if i is not None else ("intake.runner", "_plenum")
    factor = value / _runner_area(engine, data)
    swaps: Swaps = {f"{table}.{name}": None for name in SECTION[1:]}
    swaps[f"{table}.area"] = text(value * 1e4, "cm2")
    if has(data, *(f"{table}.{name}{other}" for name in SECTION)):
        far = _stated_section(data, table, other) or engine.intake.facts["runner_area_plenum"]
        swaps |= {f"{table}.{name}{other}": None for name in SECTION[1:]}
        swaps[f"{table}.area{other}"] = text(far * factor * 1e4, "cm2")
    return swaps


def _plenum(engine: Engine, data: Data) -> float | None:
    boxes = get_path(data, "intake.volume")
    if boxes:
        return stated(data, "intake.volume.0.volume", "volume")
    return engine.intake.facts.get("plenum_volume")


def _set_plenum(value: float, engine: Engine, data: Data) -> Swaps:
    key = "intake.volume.0.volume" if get_path(data, "intake.volume") else "intake.plenum.volume"
    return {key: text(value * 1e3, "L")}


def _plenum_note(engine: Engine, data: Data) -> str:
    if get_path(data, "intake.volume"):
        return f"the {get_path(data, 'intake.volume.0.name')}"
    return "" if "plenum_length" in engine.intake.facts else "one volume: no waves in it"


def _opening(engine: Engine, data: Data) -> float | None:
    if has(data, "intake.throttle.rating") or "throttle_area" not in engine.intake.facts:
        return None
    given = stated(data, "intake.throttle.opening", "angle")
    if given is not None:
        return given
    return next((a.value for a in engine.assumed if a.key == "intake.throttle.opening"), None)


def _rating(engine: Engine, data: Data) -> float | None:
    return stated(data, "intake.throttle.rating", "volume flow")


def _primary_length(engine: Engine, data: Data) -> float | None:
    i = own_pipe(data, "exhaust")
    if i is not None:
        return stated(data, f"exhaust.pipe.{i}.length", "length")
    return engine.exhaust.facts.get("primary_length")


def _set_primary_length(value: float, engine: Engine, data: Data) -> Swaps:
    i = own_pipe(data, "exhaust")
    if i is not None:
        return {f"exhaust.pipe.{i}.length": text(value * 1e3, "mm")}
    if has(data, "exhaust.primary.lengths"):
        return _scaled_lengths(data, "exhaust.primary.lengths", value / _primary_length(engine, data))
    return {"exhaust.primary.length": text(value * 1e3, "mm")}


def _primary_bore(engine: Engine, data: Data) -> float | None:
    i = own_pipe(data, "exhaust")
    if i is None:
        return engine.exhaust.facts.get("primary_id")
    if any(has(data, f"exhaust.pipe.{i}.{name}_end") for name in (*SECTION, *TUBE)):
        return None
    pipe = next((p for p in engine.exhaust.pipes if p.start.node == "port 1"), None)
    return None if pipe is None else math.sqrt(4 / math.pi * pipe.segments[0].area_start)


def _set_primary_bore(value: float, engine: Engine, data: Data) -> Swaps:
    i = own_pipe(data, "exhaust")
    table = "exhaust.primary" if i is None else f"exhaust.pipe.{i}"
    names = TUBE[1:] if i is None else (*SECTION, *TUBE[1:])
    return {f"{table}.{name}": None for name in names} | {f"{table}.id": text(value * 1e3, "mm")}


def _plain(key: str, scale: float, unit: str, value: float, engine: Engine, data: Data) -> Swaps:
    return {key: text(value * scale, unit)}


TRACTS = (
    Knob("runner_length", "intake", "Intake", "runner length", "mm", "length", 1.0, _runner_length,
         _set_runner_length, around(0.4, 2.6, 10.0), _runner_note),
    Knob("runner_area", "intake", "Intake", "runner area at the head", "cm2", "area", 0.05, _runner_area,
         _set_runner_area, around(0.6, 1.6, 0.1), lambda engine, data: "the plenum end scales with it"),
    Knob("plenum", "intake", "Intake", "plenum volume", "L", "volume", 0.05, _plenum, _set_plenum,
         around(0.25, 4.0, 0.1), _plenum_note),
    Knob("throttle", "intake", "Intake", "throttle opening", "deg", "angle", 1.0, _opening,
         partial(_plain, "intake.throttle.opening", 1.0, "deg"), fixed(12.0, 90.0),
         lambda engine, data: "from the plane across the bore; wide open 85 to 90"),
    Knob("rating", "intake", "Intake", "carburettor rating", "cfm", "volume flow", 5.0, _rating,
         partial(_plain, "intake.throttle.rating", 1 / units.to_si("1 cfm", "volume flow"), "cfm"),
         around(0.4, 1.3, 10.0), lambda engine, data: f"at {get_path(data, 'intake.throttle.rated_at')}"),
    Knob("primary_length", "exhaust", "Exhaust", "primary length", "mm", "length", 5.0, _primary_length,
         _set_primary_length, around(0.4, 2.0, 10.0)),
    Knob("primary_bore", "exhaust", "Exhaust", "primary inside diameter", "mm", "length", 0.1, _primary_bore,
         _set_primary_bore, around(0.7, 1.4, 0.5)),
)
