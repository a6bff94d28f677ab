"""Controls of how the engine is run: timing of the burn, mixture, weather."""

from __future__ import annotations

from functools import partial

from pullcast.card.engine import Engine
from pullcast.card.tree import get_path
from pullcast.show.lab.knob import Data, Knob, Swaps, fixed, text

RUN, DAY = "Spark and mixture", "Weather"


def _timing(which: str, engine: Engine, data: Data) -> float | None:
    """The one value, or that of the first speed of a table, if the burn is timed by ``which``."""
    return engine.burn.table[0][1] if engine.burn.timing == which else None


def _set_timing(which: str, value: float, engine: Engine, data: Data) -> Swaps:
    """A table over speed is moved as a whole."""
    if len(engine.burn.table) == 1:
        return {f"burn.{which}": text(value, "deg")}
    more = value - engine.burn.table[0][1]
    return {f"burn.{which}_at_speeds": " ".join(f"{v + more:.6g}" for _, v in engine.burn.table) + " deg"}


def _timing_note(which: str, engine: Engine, data: Data) -> str:
    if len(engine.burn.table) > 1:
        return f"at {engine.burn.table[0][0]:.0f} rpm; the whole table moves"
    return "before firing top dead centre" if which == "spark" else "half burned, after firing top dead centre"


def _card(key: str, scale: float, unit: str, value: float, engine: Engine, data: Data) -> Swaps:
    return {key: text(value * scale, unit)}


def _by_altitude(engine: Engine, data: Data) -> str:
    return "as read at the engine, not the weather report's" if get_path(data, "day.altitude") is None else (
        "takes the place of the altitude on the card")


RUNNING = (
    Knob("spark", "burn", RUN, "spark", "deg", "angle", 0.5, partial(_timing, "spark"),
         partial(_set_timing, "spark"), fixed(5.0, 50.0), partial(_timing_note, "spark")),
    Knob("ca50", "burn", RUN, "burn's middle, CA50", "deg", "angle", 0.5, partial(_timing, "ca50"),
         partial(_set_timing, "ca50"), fixed(-5.0, 35.0), partial(_timing_note, "ca50")),
    Knob("lambda", "mixture", RUN, "lambda", "", "fraction", 0.005, lambda engine, data: engine.mixture.lambda_,
         partial(_card, "mixture.lambda", 1.0, ""), fixed(0.75, 1.15)),
    Knob("pressure", "day", DAY, "station pressure", "hPa", "pressure", 1.0, lambda engine, data: engine.day.pressure,
         partial(_card, "day.station_pressure", 0.01, "hPa"), fixed(850.0, 1040.0), _by_altitude),
    Knob("temperature", "day", DAY, "air temperature", "C", "temperature", 0.5,
         lambda engine, data: engine.day.temperature,
         lambda value, engine, data: {"day.temperature": text(value - 273.15, "C")}, fixed(-5.0, 45.0)),
    Knob("humidity", "day", DAY, "humidity", "%", "percentage", 1.0, lambda engine, data: engine.day.humidity,
         partial(_card, "day.humidity", 100.0, "%"), fixed(0.0, 100.0)),
)
