"""The values a card may hold: text with a unit, optionally with its uncertainty, checked and brought to SI."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, PlainValidator

from pullcast import units
from pullcast.errors import InputError

# units that are taken for one another, likeliest first
OTHER_UNITS = {"pressure": ("hPa", "inHg", "kPa", "mmHg", "psi"), "temperature": ("F", "K", "C"),
               "volume flow": ("L/s", "cfm", "m3/h")}


class Table(BaseModel):
    """A table of a card: unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class Given(float):
    """A value read from a card, in internal units; ``within`` is its half range if the card states one."""

    within: float | None = None


def _one(raw: Any, kind: str) -> float:
    try:
        return units.to_si(raw, kind)
    except InputError as e:
        raise ValueError(str(e)) from None


def _half_range(raw: Any, kind: str) -> float:
    wide = "temperature difference" if kind == "temperature" else kind
    half = _one(raw, wide)
    if half < 0:
        msg = f"within = {raw!r} is negative; give the half range as a positive number"
        raise ValueError(msg)
    return half


def _slip(value: float, low: float, high: float, kind: str, raw: Any = None) -> str:
    """A hint when the value would fit in another unit, or with its point or its % sign in place."""
    if kind == "length":
        for factor, was, meant in ((25.4, "mm", "in"), (1 / 25.4, "in", "mm"), (10.0, "mm", "cm"), (0.1, "cm", "mm")):
            if low <= value * factor <= high:
                return f"; is it {meant} written as {was}?"
    elif kind in OTHER_UNITS and raw is not None:
        number, unit = units.split(raw)
        for meant in OTHER_UNITS[kind]:
            if meant != unit and low <= units.to_si(f"{number!r} {meant}", kind) <= high:
                return f"; is it {meant} written as {unit}?"
    elif kind == "fraction" and low <= value / 100 <= high <= 1.0:
        return f'; is the % sign missing ("{value:g} %")?'
    elif kind == "fraction" and high > 1.0:
        for factor in (0.1, 10.0):
            if low <= value * factor <= high:
                return f"; is the decimal point misplaced ({value * factor:g})?"
    return ""


def read_value(raw: Any, kind: str, low: float, high: float) -> Given:
    """A :class:`Given` from card text, or from a table {value, within}; ValueError says what fits."""
    within = None
    if isinstance(raw, dict):
        extra = sorted(set(raw) - {"value", "within"})
        if extra or "value" not in raw:
            wrong = f"key {extra[0]!r} is not known" if extra else "the key 'value' is missing"
            msg = f'{wrong}; write {{ value = "10.5 in", within = "0.3 in" }}'
            raise ValueError(msg)
        within = None if "within" not in raw else _half_range(raw["within"], kind)
        raw = raw["value"]
    value = _one(raw, kind)
    if not low <= value <= high:
        msg = (f"{units.shown(raw)} is outside what can be ({units.show(low, kind, digits=6)} to "
               f"{units.show(high, kind, digits=6)})"
               + _slip(value, low, high, kind, raw))
        raise ValueError(msg)
    given = Given(value)
    given.within = within
    return given


def described(kind: str, low: float, high: float) -> Any:
    """What the page of keys and messages say of a field: its quantity and bounds (internal units)."""
    return Field(json_schema_extra={"quantity": kind, "low": low, "high": high})


def quantity(kind: str, low: float, high: float) -> Any:
    """The annotated type of a field of quantity ``kind``; ``low`` and ``high`` (internal units) bound what can be."""
    return Annotated[float, PlainValidator(lambda raw: read_value(raw, kind, low, high)), described(kind, low, high)]


def series(kind: str, low: float, high: float) -> Any:
    """The annotated type of a field holding several values of one quantity (see units.series_to_si)."""
    return Annotated[tuple[float, ...], PlainValidator(lambda raw: _read_series(raw, kind, low, high)),
                     described(kind, low, high)]


def _read_series(raw: Any, kind: str, low: float, high: float) -> tuple[float, ...]:
    try:
        values = units.series_to_si(raw, kind)
    except InputError as e:
        raise ValueError(str(e)) from None
    if not values:
        msg = "there is no value in the series"
        raise ValueError(msg)
    for v in values:
        if not low <= v <= high:
            msg = (f"{units.show(v, kind)} is outside what can be ({units.show(low, kind)} to "
                   f"{units.show(high, kind)})"
                   + _slip(v, low, high, kind))
            raise ValueError(msg)
    return values


# bounds are those of what can be at all, not of what is usual: they catch slips of unit
Bore = quantity("length", 0.020, 0.250)
Valve = quantity("length", 0.008, 0.090)
Lift = quantity("length", 0.0005, 0.030)
CheckLift = quantity("length", 0.00002, 0.008)
Lash = quantity("length", 0.0, 0.0015)
Duct = quantity("length", 0.005, 6.0)
Short = quantity("length", 0.0, 0.050)
Signed = quantity("length", -0.030, 0.030)
Diameter = quantity("length", 0.004, 0.300)
Thickness = quantity("length", 0.0003, 0.008)
Roughness = quantity("length", 0.0, 0.002)
Area = quantity("area", 1e-6, 0.08)
Space = quantity("volume", 1e-6, 0.5)
ChamberVolume = quantity("volume", -80e-6, 800e-6)
Angle = quantity("angle", -360.0, 360.0)
Duration = quantity("angle", 60.0, 440.0)
WallT = quantity("temperature", 230.0, 1300.0)
GasT = quantity("temperature", 230.0, 340.0)
Factor = quantity("fraction", 0.0, 10.0)
Loss = quantity("fraction", 0.0, 50.0)
Share = quantity("fraction", 0.0, 1.0)
Speed = quantity("rotational speed", 100.0, 25000.0)
Torque = quantity("torque", 0.0, 10000.0)
AirFlow = quantity("volume flow", 1e-5, 3.0)
Depression = quantity("depression", 100.0, 40000.0)
Weather = quantity("pressure", 50e3, 110e3)
