"""The weather of a session card: station pressure or altitude, and moisture said in one of three ways."""

from __future__ import annotations

from typing import Any

from pullcast.air import humidity_from_dew_point, humidity_from_wet_bulb, station_pressure
from pullcast.errors import InputError
from pullcast.pulls.card_text import CardText
from pullcast.pulls.session import Weather

WEATHER = ("pressure", "altitude", "sea_level_pressure", "temperature", "humidity", "dew_point", "wet_bulb")


def read_weather(card: CardText, table: dict[str, Any], *keys: str | int,
                 base: dict[str, Any] | None = None) -> Weather | None:
    """The `Weather` of a table of the card, on top of the session's table ``base``; faults are only noted."""
    if base:
        card.known(table, WEATHER, *keys)
        table = {**_without_rivals(base, table), **table}
    if not table:
        return None
    pressure = card.si(table, "pressure", "pressure", 5e4, 1.1e5, *keys)
    altitude = card.si(table, "altitude", "length", -400.0, 5000.0, *keys)
    sea = card.si(table, "sea_level_pressure", "pressure", 9e4, 1.1e5, *keys)
    temperature = card.si(table, "temperature", "temperature", 233.0, 333.0, *keys)
    if pressure is None and altitude is not None and sea is not None:
        pressure = station_pressure(sea, altitude)
    if pressure is None or temperature is None:
        if not card.problems:
            card.problem(keys, "needs the station pressure and the temperature",
                         "Give pressure, or altitude and sea_level_pressure; and temperature.")
        return None
    humidity = _humidity(card, table, pressure, temperature, *keys)
    return None if humidity is None else Weather(pressure, temperature, humidity)


def _without_rivals(base: dict[str, Any], own: dict[str, Any]) -> dict[str, Any]:
    """The default weather less what the run's own says in another way (dew point for humidity, and so on)."""
    rivals = [("humidity", "dew_point", "wet_bulb"), ("pressure", "altitude", "sea_level_pressure")]
    gone = {k for group in rivals if set(group) & set(own) for k in group}
    return {k: v for k, v in base.items() if k not in gone or k in ("altitude", "sea_level_pressure")}


def _humidity(card: CardText, table: dict[str, Any], pressure: float, temperature: float, *keys: str | int):
    given = [k for k in ("humidity", "dew_point", "wet_bulb") if k in table]
    if len(given) != 1:
        card.problem(keys, f"says the moisture {len(given)} times" if given else "does not say how moist the air is",
                     "Give one of humidity, dew_point, wet_bulb.")
        return None
    if given[0] == "humidity":
        return card.si(table, "humidity", "fraction", 0.0, 1.0, *keys)
    other = card.si(table, given[0], "temperature", 230.0, 320.0, *keys)
    if other is None:
        return None
    try:
        return humidity_from_dew_point(temperature, other) if given[0] == "dew_point" \
            else humidity_from_wet_bulb(pressure, temperature, other)
    except InputError as fault:
        card.problem((*keys, given[0]), str(fault))
        return None
