"""Odd but legal engines, drawn at random: any size, layout, tract and cam that a card may state."""

from __future__ import annotations

import json
import math
import random

FUELS = ("petrol", "e10", "e85", "e85_winter", "ethanol", "methanol", "propane", "methane", "isooctane")
CLASSES = ("street_2v_v8", "race_2v_v8", "car_four_4v", "car_six_4v", "bike_four_4v", "single_4v", "lab_single",
           "twin")
HEADERS = {1: ("single",), 2: ("2-1", "single", "log"), 3: ("3-1", "single", "log"),
           4: ("4-1", "4-2-1", "2-1", "log"),
           5: ("5-1", "single"), 6: ("3-1", "6-1", "6-1", "6-2", "log"), 8: ("4-1", "4-2-1", "2-1", "log"),
           10: ("5-1",), 12: ("6-1", "3-1", "6-2")}
MOST_PISTON_SPEED = 32.0  # m/s: beyond what race engines turn (common practice, no source)


CYLINDERS = (1, 1, 2, 2, 3, 4, 4, 4, 5, 6, 6, 8, 8, 10, 12)


def odd_engine(rng: random.Random, most: int = 12) -> tuple[str, float]:
    """Card text and a speed (rpm) of an engine of at most ``most`` cylinders."""
    n = rng.choice([c for c in CYLINDERS if c <= most])
    swept = 10 ** rng.uniform(math.log10(50e-6), math.log10(2e-3))
    ratio = rng.uniform(0.75, 1.5)
    bore = (4 * swept * ratio / math.pi) ** (1 / 3)
    stroke = bore / ratio
    top = min(18000.0, MOST_PISTON_SPEED * 30 / stroke)
    rpm = 10 ** rng.uniform(math.log10(500), math.log10(top))
    card = {"name": "odd engine", "class": rng.choice(CLASSES), "block": _block(n, bore, stroke, rng)}
    card["head"], valves = _head(bore, rng)
    card["cam"] = _cam(valves, rng)
    card["intake"] = _intake(n, swept, bore, rng)
    card["exhaust"] = _exhaust(n if card["block"]["layout"] in ("single", "inline") else n // 2, bore, swept, rng)
    card |= _running(rng)
    card["run"] = {"speeds": f"{rpm:.1f} rpm"}
    return to_toml(card), round(rpm, 1)


def to_toml(table: dict, path: str = "") -> str:
    """Nested tables as TOML."""
    out = [f"[{path}]"] if path else []
    out += [f"{k} = {json.dumps(v, ensure_ascii=False)}" for k, v in table.items() if not isinstance(v, dict)]
    out += [to_toml(v, f"{path}.{k}" if path else k) for k, v in table.items() if isinstance(v, dict)]
    return "\n".join(out)


def _mm(metres: float) -> str:
    return f"{metres * 1e3:.3f} mm"


def _log(rng: random.Random, low: float, high: float) -> float:
    return 10 ** rng.uniform(math.log10(low), math.log10(high))


def _block(n: int, bore: float, stroke: float, rng: random.Random) -> dict:
    layout = "single" if n == 1 else rng.choice(["inline", "v", "flat"] if n % 2 == 0 else ["inline"])
    order = list(range(1, n + 1))
    rng.shuffle(order)
    block = {"bore": _mm(bore), "stroke": _mm(stroke), "rod": _mm(stroke * rng.uniform(1.3, 2.3)), "cylinders": n,
             "layout": layout, "firing_order": order, "compression_ratio": round(rng.uniform(5.0, 17.0), 2)}
    if layout == "v":
        block["bank_angle"] = f"{rng.choice([45, 60, 72, 90])} deg"
    if n > 1 and rng.random() < 0.2:  # uneven firing
        first = rng.uniform(0.5, 1.5) * 720 / n
        block["firing_intervals"] = " ".join([f"{first:.2f}"] + [f"{(720 - round(first, 2)) / (n - 1):.4f}"] * (n - 1)
                                             ) + " deg"
    return block


def _head(bore: float, rng: random.Random) -> tuple[dict, dict[str, float]]:
    head, diameters = {}, {}
    two = rng.random() < 0.5
    for side, small in (("intake", 1.0), ("exhaust", 0.83)):
        valve = bore * small * (rng.uniform(0.32, 0.42) if two else rng.uniform(0.38, 0.53))
        valve = min(max(valve, 0.009), 0.089)
        diameters[side] = valve
        area = (2 if two else 1) * math.pi / 4 * valve**2
        head[side] = {"valves": 2 if two else 1, "valve_diameter": _mm(valve),
                      "throat_diameter": _mm(max(valve * rng.uniform(0.82, 0.92), 0.0081)),
                      "stem_diameter": _mm(max(0.0021, min(valve * rng.uniform(0.12, 0.22), 0.0149))),
                      "port_length": _mm(_log(rng, 0.02, 0.25)),
                      "port_area": f"{area * rng.uniform(0.5, 1.2) * 1e4:.3f} cm2"}
    return head, diameters


def _cam(valves: dict[str, float], rng: random.Random) -> dict:
    cam: dict = {"lobe_separation": f"{rng.uniform(92, 125):.1f} deg", "advance": f"{rng.uniform(-15, 15):.1f} deg"}
    for side, valve in valves.items():
        cam[side] = {"duration_at_1mm": f"{rng.uniform(175, 315):.0f} deg", "rocker_ratio": 1.5,
                     "valve_lift": _mm(min(max(valve * rng.uniform(0.12, 0.42), 0.0022), 0.0295)),
                     "lash": _mm(rng.choice([0.0, rng.uniform(0, 0.0004)]))}
    return cam


def _intake(n: int, swept: float, bore: float, rng: random.Random) -> dict:
    style = rng.choice(["plenum_runners", "plenum_runners", "individual"])
    runner = {"length": _mm(_log(rng, 0.03, 1.5)), "diameter": _mm(bore * rng.uniform(0.3, 0.6)),
              "taper": round(rng.uniform(0.9, 1.8), 2), "entry": rng.choice(["sharp", "rounded", "bellmouth"])}
    intake: dict = {"style": style, "runner": runner}
    if style == "individual":
        intake["throttle"] = {"count": 1, "diameter": _mm(bore * rng.uniform(0.3, 0.6))}
        if rng.random() < 0.3:
            intake["airbox"] = {"volume": f"{min(_log(rng, 0.5, 20) * n * swept, 0.4) * 1e3:.4f} L",
                                "snorkel_diameter": _mm(bore * math.sqrt(n) * rng.uniform(0.3, 0.7))}
        return intake
    across = bore * math.sqrt(n) * rng.uniform(0.2, 0.6)
    intake["throttle"] = {"count": 1, "diameter": _mm(min(max(across, 0.01), 0.29))}
    intake["plenum"] = {"volume": f"{min(_log(rng, 0.05, 20) * n * swept, 0.4) * 1e3:.4f} L"}
    if rng.random() < 0.3:
        intake["plenum"]["length"] = _mm(rng.uniform(0.15, 0.6))
    if rng.random() < 0.25:
        intake["restrictor"] = {"diameter": _mm(rng.uniform(0.010, 0.040))}
    if rng.random() < 0.2:
        intake["throttle"]["opening"] = f"{rng.uniform(20, 90):.0f} deg"
    return intake


def _exhaust(bank: int, bore: float, swept: float, rng: random.Random) -> dict:
    tube = bore * rng.uniform(0.35, 0.65)
    style = rng.choice(HEADERS[bank])
    exhaust: dict = {"style": style, "primary": {"length": _mm(_log(rng, 0.08, 3.0)), "id": _mm(tube)}}
    if style != "single":
        exhaust["collector"] = {"id": _mm(min(tube * rng.uniform(1.0, 2.2), 0.29)),
                                "length": _mm(_log(rng, 0.05, 1.0))}
    if style == "log":
        exhaust["log"] = {"id": _mm(tube * rng.uniform(0.8, 1.5)), "spacing": _mm(bore * 1.1)}
    if rng.random() < 0.5:
        exhaust["tailpipe"] = {"length": _mm(_log(rng, 0.1, 4.0)), "id": _mm(min(tube * rng.uniform(0.9, 1.8), 0.29))}
        if rng.random() < 0.6:
            exhaust["muffler"] = {"volume": f"{min(max(_log(rng, 0.3, 20) * swept, 1e-5), 0.4) * 1e3:.4f} L"}
    return exhaust


def _running(rng: random.Random) -> dict:
    key = rng.choice(FUELS)
    burn = rng.choice([{"ca50": f"{rng.uniform(-5, 35):.1f} deg"}, {"spark": f"{rng.uniform(-5, 50):.1f} deg"}, {}])
    if rng.random() < 0.2:
        burn = {**burn, "law": "flame"}
    celsius = rng.uniform(-25, 45)
    return {"fuel": {"name": "any", "key": key}, "mixture": {"lambda": round(rng.uniform(0.72, 1.3), 3),
                                                            "evaporated": round(rng.random(), 2)},
            "burn": burn, "walls": {"model": rng.choice(["hohenberg", "woschni", "annand"])},
            "friction": {"model": rng.choice(["chen_flynn", "barnes_moss", "patton"])},
            "day": {"station_pressure": f"{rng.uniform(62, 104):.1f} kPa",
                    "temperature": f"{celsius:.1f} C",
                    "humidity": f"{rng.uniform(0, 100 if celsius < 25 else 35):.0f} %"}}
