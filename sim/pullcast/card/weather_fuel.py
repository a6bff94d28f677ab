"""Fuel and day cards."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import Field, PlainValidator, field_validator

from pullcast.air import humidity_ratio
from pullcast.card import fields as f
from pullcast.card.book import Book
from pullcast.card.classes import FUEL_FACTS, octane_range
from pullcast.card.engine import Day, Fuel
from pullcast.card.free_form import nearest

PUMP = 4.5  # research number less the mean with the motor number, of pump petrol (common practice, no source)
PUMP_SPREAD = 1.0
PUMP_NUMBERS = (85.0, 94.0)  # in which a plain number may be either (common practice, no source)
OCTANE = (40.0, 140.0)
WETTEST = 0.035  # kg of water per kg of dry air: end of the gas tables
FUEL_NAMES = {"gasoline": "petrol", "e0": "petrol", "e85_summer": "e85", "e100": "ethanol", "m100": "methanol"}


def fuel_key(text: str) -> str:
    """The key of a fuel's gas table; ValueError names the nearest."""
    plain = text.strip().lower().replace("-", "_").replace(" ", "_")
    plain = FUEL_NAMES.get(plain, plain)
    if re.fullmatch(r"\d{2,3}", plain):
        msg = f'"{text}" is an octane number, not a fuel; write key = "petrol" and octane = {plain}'
        raise ValueError(msg)
    if plain not in FUEL_FACTS:
        msg = f'there is no fuel "{text}". {nearest(plain, list(FUEL_FACTS))}'
        raise ValueError(msg)
    return plain


def read_octane(raw: Any) -> f.Given:
    """Research octane number: plain ("95", "95 RON"), or of a pump that shows the mean with the motor number.

    "91 AKI" and "91 (R+M)/2" become 95.5 within 1. ValueError says what fits.
    """
    inner = raw["value"] if isinstance(raw, dict) and "value" in raw else raw
    rated = re.fullmatch(r"\s*([\d.]+)\s*(RON|AKI|\(?\s*R\s*\+\s*M\s*\)?\s*/\s*2|MON)\s*", str(inner), re.I)
    if rated is None:
        return f.read_value(raw, "fraction", *OCTANE)
    number, scale = rated[1], rated[2].upper()
    if scale == "MON":
        msg = f'"{inner}" is a motor number; give the research number ("95 RON") or the pump\'s mean ("91 AKI")'
        raise ValueError(msg)
    if scale == "RON":
        return f.read_value(raw | {"value": number} if isinstance(raw, dict) else number, "fraction", *OCTANE)
    given = f.Given(f.read_value(number, "fraction", *OCTANE) + PUMP)
    given.within = PUMP_SPREAD
    return given


class FuelCard(f.Table):
    """A fuel card."""

    name: str = ""
    key: str = "petrol"
    octane: Annotated[float, PlainValidator(read_octane), f.described("fraction", *OCTANE)] | None = None  # research
    density: f.quantity("density", 300.0, 1100.0) | None = None
    temperature: f.GasT | None = None
    source: dict[str, str] = Field(default_factory=dict)

    @field_validator("key")
    @classmethod
    def _known(cls, key: str) -> str:
        return fuel_key(key)


class DayCard(f.Table):
    """A day card: station pressure, or a sea-level barometer with the altitude."""

    name: str = ""
    station_pressure: f.Weather | None = None
    sea_level_pressure: f.Weather | None = None
    altitude: f.quantity("length", -450.0, 5000.0) | None = None
    temperature: f.quantity("temperature", 233.0, 328.0) | None = None
    humidity: f.Share | None = None
    source: dict[str, str] = Field(default_factory=dict)


def resolve_fuel(card: FuelCard, book: Book) -> Fuel:
    """The fuel of a card."""
    octane = book.take(card.octane, "fuel.octane", octane_range(card.key))
    if card.octane is not None and card.octane.within is None and card.key in ("petrol", "e10") and (
            PUMP_NUMBERS[0] <= octane <= PUMP_NUMBERS[1]):
        book.found("note", "fuel.octane", f"{octane:g} is taken as a research number",
                   f'A pump that shows (R+M)/2 {octane:g} has about {octane + PUMP:g}: then write "{octane:g} AKI".')
    density = float(card.density) if card.density is not None else FUEL_FACTS[card.key][1]
    return Fuel(card.key, octane, density, book.take(card.temperature, "fuel.temperature"))


def station_pressure(sea_level: float, altitude: float) -> float:
    """Station pressure (Pa) from a sea-level barometer (Pa) and altitude (m): ICAO standard atmosphere lapse.

    >>> round(station_pressure(101325.0, 300.0))
    97773
    """
    return sea_level * (1.0 - 0.0065 * altitude / 288.15) ** 5.25588


def resolve_day(card: DayCard, book: Book) -> Day:
    """The weather of a card."""
    pressure = card.station_pressure
    if pressure is None and card.altitude is not None:
        pressure = station_pressure(card.sea_level_pressure or 101325.0, card.altitude)
        if card.sea_level_pressure is None:
            book.assume("day.station_pressure", pressure, pressure - 2000.0, pressure + 2000.0, "pressure",
                        "standard atmosphere at the card's altitude")
    elif pressure is None and card.sea_level_pressure is not None:
        book.problem("day.altitude", "a sea-level barometer needs the altitude to give the station's pressure",
                     'At 300 m it reads 3.5 % too much. Give altitude = "300 m", or station_pressure.')
        pressure = card.sea_level_pressure
    elif pressure is not None and card.altitude is not None:
        expect = station_pressure(card.sea_level_pressure or 101325.0, card.altitude)
        if abs(pressure - expect) > 4000.0:
            book.found("contradiction", "day.station_pressure",
                       f"{pressure / 100:.0f} hPa at {card.altitude:.0f} m: about "
                       f"{expect / 100:.0f} hPa is usual there", "Is it the sea-level barometer of a weather report?")
    day = Day(book.take(pressure, "day.station_pressure"), book.take(card.temperature, "day.temperature"),
              book.take(card.humidity, "day.humidity"))
    water = humidity_ratio(day.pressure, day.temperature, day.humidity)
    if water > WETTEST:
        book.problem("day.humidity", f"{day.humidity:.0%} at {day.temperature - 273.15:.0f} °C is {1e3 * water:.0f} "
                     f"g of water per kg of dry air; the gas tables end at {1e3 * WETTEST:.0f}, a dew point of 34 °C",
                     "Check humidity and temperature: both are read at one place and time.")
    return day
