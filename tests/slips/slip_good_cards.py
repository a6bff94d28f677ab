"""Good cards: classes with values drawn from their plausible ranges, and shipped engines a little changed."""

from __future__ import annotations

import math
import random
import tomllib

from slip_cards import ENGINES, changed, flat, get, times

from pullcast.card.classes import CLASSES, EngineClass
from pullcast.card.starter import starter

JITTER = ("block.bore", "block.stroke", "head.intake.valve_diameter", "head.exhaust.valve_diameter",
          "head.intake.port_length", "intake.throttle.diameter", "intake.plenum.volume", "intake.runner.length",
          "exhaust.primary.length", "exhaust.collector.length", "exhaust.tailpipe.length", "mixture.lambda")


def drawn(name: str, rng: random.Random) -> dict:
    """A card of a class: each value drawn evenly from the class's range; sheets scale with the valves."""
    cls, card = CLASSES[name], tomllib.loads(starter(name))
    bore = _m(card["block"]["bore"]) * rng.uniform(0.95, 1.05)
    stroke = _m(card["block"]["stroke"]) * rng.uniform(0.95, 1.05)
    scale = {"bore": bore, "stroke": stroke, "displacement": cls.cylinders * math.pi / 4 * bore**2 * stroke}

    def draw(key: str) -> float:
        row = cls.rows[key]
        return rng.uniform(row.low, row.high) * (scale[row.per] if row.per else 1.0)

    card["block"] = {"bore": f"{bore * 1e3:.2f} mm", "stroke": f"{stroke * 1e3:.2f} mm",
                     "rod": f"{draw('block.rod') * 1e3:.1f} mm",
                     "compression_ratio": round(draw("block.compression_ratio"), 2)}
    card["head"] = {side: _side(cls, side, card, draw, scale, rng) for side in ("intake", "exhaust")}
    card["cam"] = _cam(cls, draw, rng)
    card["intake"] = {"throttle": {"diameter": f"{draw('intake.throttle.diameter') * 1e3:.1f} mm"},
                      "runner": {"length": f"{draw('intake.runner.length') * 1e3:.0f} mm"}}
    if "intake.plenum.volume" in cls.rows and cls.intake_style == "plenum_runners":
        card["intake"]["plenum"] = {"volume": f"{draw('intake.plenum.volume') * 1e3:.3f} L"}
    wall = draw("exhaust.primary.wall")
    card["exhaust"] = {"primary": {"length": f"{draw('exhaust.primary.length') * 1e3:.0f} mm",
                                   "od": f"{(draw('exhaust.primary.id') + 2 * wall) * 1e3:.1f} mm",
                                   "wall": f"{wall * 1e3:.2f} mm"}}
    card["mixture"] = {"lambda": round(draw("mixture.lambda"), 3)}
    card["burn"] = {"spark": f"{draw('burn.spark'):.1f} deg"}
    card["day"] = {"station_pressure": f"{rng.uniform(97, 102.5):.1f} kPa",
                   "temperature": f"{rng.uniform(12, 33):.0f} C", "humidity": f"{rng.uniform(20, 80):.0f} %"}
    card["limits"] = {"rpm": f"{draw('limits.rpm') * 60 if draw('limits.rpm') < 400 else draw('limits.rpm'):.0f} rpm"}
    return card


def _m(text: str) -> float:
    return float(text.split()[0]) / 1e3


def _side(cls: EngineClass, side: str, card: dict, draw, scale: dict, rng: random.Random) -> dict:
    valve = draw(f"head.{side}.valve_diameter")
    n = cls.valves[side == "exhaust"]
    scale[f"{side} valve diameter"] = valve
    scale[f"{side} valve area"] = n * math.pi / 4 * valve**2
    area = draw(f"head.{side}.port_area")
    scale[f"{side} port area"] = area
    scale[f"{side} port diameter"] = math.sqrt(4 * area / math.pi)
    out = {"valve_diameter": f"{valve * 1e3:.2f} mm", "throat_diameter":
           f"{draw(f'head.{side}.throat_diameter') * 1e3:.2f} mm",
           "stem_diameter": f"{draw(f'head.{side}.stem_diameter') * 1e3:.1f} mm",
           "port_length": f"{draw(f'head.{side}.port_length') * 1e3:.0f} mm", "port_area": f"{area * 1e4:.2f} cm2"}
    if side == "intake":
        sheet = card["head"]["intake"]["flow"]
        usual = _m(card["head"]["intake"]["valve_diameter"])
        factor = (valve / usual) ** 1.5 * rng.uniform(0.95, 1.05)
        out["flow"] = {**sheet, "flows": times(sheet["flows"], factor)}
    return out


def _cam(cls: EngineClass, draw, rng: random.Random) -> dict:
    at = f"duration_at_{cls.duration_at}"
    durations = {"intake": draw("cam.intake.duration")}
    row = cls.rows.get("cam.exhaust.duration")
    durations["exhaust"] = durations["intake"] * rng.uniform(row.low, row.high)
    separation, advance = draw("cam.lobe_separation"), draw("cam.advance")
    cam = {"lobe_separation": f"{separation:.1f} deg"}
    for side, duration in durations.items():
        cam[side] = {at: f"{duration:.0f} deg", "valve_lift": f"{draw(f'cam.{side}.valve_lift') * 1e3:.2f} mm",
                     "rocker_ratio": round(draw(f"cam.{side}.rocker_ratio"), 2),
                     "lash": f"{draw(f'cam.{side}.lash') * 1e3:.2f} mm"}
    cam["intake"]["centreline"] = f"{separation - advance:.1f} deg"
    return cam


def varied(engine: str, rng: random.Random) -> dict:
    """A shipped engine with some of its dimensions up to 3 % off and its sheets up to 4 %."""
    card = flat(engine)
    keys = [k for k in JITTER if get(card, k) is not None and (k != "block.bore" or get(card, "block.rod"))]
    changes = {k: _jitter(get(card, k), rng.uniform(0.97, 1.03)) for k in keys if rng.random() < 0.7}
    for side in ("intake", "exhaust"):
        sheet = get(card, f"head.{side}.flow.flows")
        if sheet:
            changes[f"head.{side}.flow.flows"] = times(sheet, rng.uniform(0.97, 1.03))
    return changed(card, changes)


def _jitter(value, factor: float):
    return round(value * factor, 3) if isinstance(value, float) else times(value, factor)


def good_cards(seed: int, per_class: int = 10, per_engine: int = 5) -> list[tuple[str, dict]]:
    """Named good cards: ``per_class`` of each class, ``per_engine`` of each shipped engine, and those as shipped."""
    rng = random.Random(seed)
    cards = [(engine, flat(engine)) for engine in ENGINES]
    cards += [(f"{engine} {i}", varied(engine, rng)) for engine in ENGINES for i in range(per_engine)]
    return cards + [(f"{name} {i}", drawn(name, rng)) for name in CLASSES for i in range(per_class)]
