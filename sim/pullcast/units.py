"""Units at the border: text with a unit in, SI out, and back for display.

Common units are read by a table of exact factors, so that a card reads fast; any other
unit goes to pint, which is imported only then. Angles are degrees and rotational speeds
rev/min inside pullcast; all else is SI. This is the only module that may import pint.

>>> round(to_si("4.000 in", "length"), 7)
0.1016
>>> to_si("10.5 mm", "mass")
Traceback (most recent call last):
...
pullcast.errors.InputError: "10.5 mm" is a length; a mass fits: kg, g, lb
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

from pullcast.errors import InputError

IN, LB, GRAVITY = 0.0254, 0.45359237, 9.80665  # NIST SP 811 (2008), exact
LBF = LB * GRAVITY
PSI = LBF / IN**2
HP = 550.0 * LBF * 12.0 * IN  # mechanical horsepower
WATER_INCH = 249.08891  # inch of water at 4 C, NIST SP 811 (2008), app. B.8
MERCURY_INCH = 3386.389  # inch of mercury at 0 C, NIST SP 811 (2008), app. B.8


@dataclass(frozen=True)
class Quantity:
    """A kind of quantity: its internal unit, the units offered in messages, and its units for display."""

    name: str
    internal: str
    fits: tuple[str, ...]
    si: str
    us: str


_Q = Quantity
QUANTITIES = {
    q.name: q
    for q in (
        _Q("length", "m", ("mm", "cm", "in"), "mm", "in"),
        _Q("area", "m**2", ("mm2", "cm2", "in2"), "cm2", "in2"),
        _Q("volume", "m**3", ("cc", "L", "in3"), "cc", "in3"),
        _Q("displacement", "m**3", ("L", "cc", "in3"), "L", "in3"),
        _Q("angle", "deg", ("deg", "rad"), "deg", "deg"),
        _Q("temperature", "K", ("C", "F", "K"), "°C", "°F"),
        _Q("temperature difference", "K", ("K", "C", "F"), "K", "°F"),
        _Q("pressure", "Pa", ("kPa", "bar", "psi", "inHg"), "kPa", "psi"),
        _Q("high pressure", "Pa", ("bar", "kPa", "psi"), "bar", "psi"),
        _Q("depression", "Pa", ("inH2O", "mmH2O", "kPa"), "kPa", "inH2O"),
        _Q("weather pressure", "Pa", ("hPa", "kPa", "inHg"), "hPa", "inHg"),
        _Q("mass", "kg", ("kg", "g", "lb"), "g", "lb"),
        _Q("mass flow", "kg/s", ("kg/s", "g/s", "kg/h", "lb/h"), "kg/h", "lb/h"),
        _Q("volume flow", "m**3/s", ("cfm", "L/s", "m3/h", "cc/min"), "L/s", "cfm"),
        _Q("speed", "m/s", ("m/s", "km/h", "ft/min", "mph"), "m/s", "ft/min"),
        _Q("rotational speed", "rpm", ("rpm",), "rpm", "rpm"),
        _Q("torque", "N*m", ("N m", "lb-ft"), "N m", "lb-ft"),
        _Q("power", "W", ("kW", "hp", "PS"), "kW", "hp"),
        _Q("energy", "J", ("J", "kJ"), "J", "J"),
        _Q("specific consumption", "kg/J", ("g/kWh", "lb/hp-h"), "g/kWh", "lb/hp-h"),
        _Q("specific energy", "J/kg", ("MJ/kg", "kJ/kg"), "MJ/kg", "MJ/kg"),
        _Q("density", "kg/m**3", ("kg/m3", "g/cc", "kg/L"), "kg/m3", "kg/m3"),
        _Q("inertia", "kg*m**2", ("kg m2", "lb ft2"), "kg m2", "lb ft2"),
        _Q("force", "N", ("N", "lbf"), "N", "lbf"),
        _Q("stiffness", "N/m", ("N/mm", "lbf/in"), "N/mm", "lbf/in"),
        _Q("time", "s", ("s", "min", "h"), "s", "s"),
        _Q("acceleration of speed", "rpm/s", ("rpm/s",), "rpm/s", "rpm/s"),
        _Q("fraction", "", ("a plain number", "%"), "-", "-"),
        _Q("percentage", "", ("%", "a plain number"), "%", "%"),
    )
}
ALIASES = {"mass_flow": "mass flow", "volume_flow": "volume flow", "rotational_speed": "rotational speed",
           "rpm": "rotational speed", "dimensionless": "fraction", "ratio": "fraction", "count": "fraction",
           "temperature_difference": "temperature difference", "bsfc": "specific consumption"}

_SAME = {"displacement": "volume", "high pressure": "pressure", "depression": "pressure",
         "weather pressure": "pressure", "percentage": "fraction"}

# unit text -> (kind, factor to the internal unit, offset added before the factor)
_TABLE: dict[str, tuple[str, float, float]] = {}


def _units(kind: str, **factors: float) -> None:
    for unit, factor in factors.items():
        _TABLE[unit] = (kind, factor, 0.0)


_units("length", m=1.0, mm=1e-3, cm=1e-2, um=1e-6, inch=IN, ft=12 * IN, thou=IN / 1000)
_TABLE["in"] = ("length", IN, 0.0)
_units("area", m2=1.0, mm2=1e-6, cm2=1e-4, in2=IN**2, sqin=IN**2)
_units("volume", m3=1.0, mm3=1e-9, cc=1e-6, cm3=1e-6, ml=1e-6, mL=1e-6, L=1e-3, l=1e-3, litre=1e-3, liter=1e-3,
       in3=IN**3, cuin=IN**3, ft3=(12 * IN) ** 3)
_units("angle", deg=1.0, rad=180.0 / math.pi)
_TABLE["°"] = ("angle", 1.0, 0.0)
for _name in ("C", "°C", "degC"):
    _TABLE[_name] = ("temperature", 1.0, 273.15)
for _name in ("F", "°F", "degF"):
    _TABLE[_name] = ("temperature", 5.0 / 9.0, 459.67)
_units("temperature", K=1.0)
_units("pressure", Pa=1.0, hPa=100.0, kPa=1e3, MPa=1e6, bar=1e5, mbar=100.0, psi=PSI, inHg=MERCURY_INCH,
       mmHg=MERCURY_INCH / 25.4, inH2O=WATER_INCH, mmH2O=WATER_INCH / 25.4, cmH2O=WATER_INCH / 2.54, atm=101325.0)
_units("mass", kg=1.0, g=1e-3, mg=1e-6, lb=LB, oz=LB / 16)
_units("mass flow", **{"kg/s": 1.0, "g/s": 1e-3, "kg/h": 1 / 3600, "g/min": 1e-3 / 60, "lb/h": LB / 3600,
                       "lb/hr": LB / 3600, "lb/min": LB / 60, "kg/min": 1 / 60})
_units("volume flow", **{"m3/s": 1.0, "L/s": 1e-3, "l/s": 1e-3, "m3/h": 1 / 3600, "L/min": 1e-3 / 60,
                         "cc/min": 1e-6 / 60, "cfm": (12 * IN) ** 3 / 60, "CFM": (12 * IN) ** 3 / 60,
                         "ft3/min": (12 * IN) ** 3 / 60})
_units("speed", **{"m/s": 1.0, "km/h": 1 / 3.6, "ft/min": 12 * IN / 60, "ft/s": 12 * IN,
                   "mph": 5280 * 12 * IN / 3600})
_units("rotational speed", **{"rpm": 1.0, "1/min": 1.0, "rev/min": 1.0})
_units("torque", **{"N m": 1.0, "Nm": 1.0, "N*m": 1.0, "lb-ft": LBF * 12 * IN, "lb ft": LBF * 12 * IN,
                    "lbf ft": LBF * 12 * IN, "ft-lb": LBF * 12 * IN, "lbf-ft": LBF * 12 * IN, "kN m": 1e3})
_units("power", W=1.0, kW=1e3, hp=HP, bhp=HP, PS=75 * GRAVITY)
_units("energy", J=1.0, kJ=1e3, MJ=1e6, kWh=3.6e6)
_units("specific consumption", **{"kg/J": 1.0, "g/kWh": 1e-3 / 3.6e6, "g/kW/h": 1e-3 / 3.6e6,
                                  "lb/hp-h": LB / (HP * 3600), "lb/hp/h": LB / (HP * 3600), "kg/kWh": 1 / 3.6e6})
_units("specific energy", **{"J/kg": 1.0, "kJ/kg": 1e3, "MJ/kg": 1e6})
_units("density", **{"kg/m3": 1.0, "g/cc": 1e3, "g/cm3": 1e3, "kg/L": 1e3, "kg/l": 1e3, "g/mL": 1e3,
                     "lb/ft3": LB / (12 * IN) ** 3})
_units("inertia", **{"kg m2": 1.0, "kg*m2": 1.0, "kgm2": 1.0, "lb ft2": LB * (12 * IN) ** 2,
                     "lb-ft2": LB * (12 * IN) ** 2, "lb in2": LB * IN**2})
_units("force", N=1.0, kN=1e3, lbf=LBF)
_units("stiffness", **{"N/m": 1.0, "N/mm": 1e3, "lbf/in": LBF / IN, "lb/in": LBF / IN})
_units("time", s=1.0, ms=1e-3, min=60.0, h=3600.0, hr=3600.0)
_units("acceleration of speed", **{"rpm/s": 1.0})
_units("fraction", **{"": 1.0, "%": 0.01, ":1": 1.0, "to 1": 1.0})

LONGEST = 200  # characters of one value with its unit
_NUMBER = re.compile(r"\s*([+-]?(?:\d[\d_]*\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*\Z", re.S)
# "5 1/2 in", "5-1/2 in", "7/8 in": not "6500 1/min", whose bar has no digit behind it
_SHARES = re.compile(r"\s*([+-]?)(?:(\d{1,4})[ -])?(\d{1,3})/(\d{1,3})(?![\d./])\s*(.*)\Z", re.S)
_POWERS = str.maketrans({"²": "2", "³": "3", "·": " ", "⋅": " "})


def quantity(name: str) -> Quantity:
    """The quantity of a name (or alias); InputError with the known names if there is none."""
    found = QUANTITIES.get(ALIASES.get(name, name))
    if found is None:
        msg = f"no quantity {name!r}. Known: {', '.join(QUANTITIES)}"
        raise InputError(msg)
    return found


def to_si(text: str | float, kind: str) -> float:
    """The value of ``text`` ("86.0 mm") as quantity ``kind`` in internal units (SI; deg; rpm).

    Raises InputError for a missing number, a missing or unknown unit, or a unit of another quantity; the
    message names the units that fit. Plain numbers are taken only for a fraction.
    """
    want = quantity(kind)
    number, unit = split(text)
    base = _SAME.get(want.name, want.name)
    if unit == "" and base != "fraction":
        msg = f"{shown(text)} has no unit; {_fits(want)}"
        raise InputError(msg)
    found, factor, offset = _lookup(unit)
    if found is None and re.search(r"\d,\d", str(text)):
        msg = f"{shown(text)}: a decimal takes a point, not a comma; numbers of a list are set apart by blanks"
        raise InputError(msg)
    if found is None:
        msg = f"{shown(text)}: unit {unit!r} is not known; {_fits(want)}"
        raise InputError(msg)
    if base == "temperature difference" and found == "temperature":
        found, offset = base, 0.0
    if found != base:
        msg = f"{shown(text)} is {_a(found)}; {_fits(want)}"
        raise InputError(msg)
    return (number + offset) * factor


def kind_of(unit: str) -> str:
    """The quantity a unit text belongs to ("mm" -> "length"); InputError for an unknown unit."""
    found = _lookup(unit)[0]
    if found is None:
        msg = f"unit {unit!r} is not known"
        raise InputError(msg)
    return found


def split(text: str | float) -> tuple[float, str]:
    """Number and unit text of a value; InputError when there is no (finite) number in front."""
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        msg = f"{text!r} is not a value; write a number with its unit as text, such as \"86.0 mm\""
        raise InputError(msg)
    if isinstance(text, str) and len(text) > LONGEST:
        msg = f"{shown(text)} is too long for one value ({len(text)} characters)"
        raise InputError(msg)
    if not isinstance(text, str):
        number, unit = (math.inf if abs(text) > 1e308 else float(text)), ""
    else:
        plain = text.replace("\N{MINUS SIGN}", "-")
        match = _NUMBER.match(_decimal(plain) if "/" in plain else plain)
        if match is None:
            msg = f"{shown(text)} does not start with a number; write a number and its unit, such as \"86.0 mm\""
            raise InputError(msg)
        number, unit = float(match[1]), " ".join(match[2].translate(_POWERS).split())
    if not math.isfinite(number):
        msg = f"{shown(text)} is not a finite number"
        raise InputError(msg)
    return number, unit


def _decimal(text: str) -> str:
    """A text that starts with a mixed number or a fraction with that number as a decimal; other texts as they are.

    >>> _decimal("5 1/2 in"), _decimal("7/8 in"), _decimal("6500 1/min")
    ('5.5 in', '0.875 in', '6500 1/min')
    """
    match = _SHARES.match(text)
    if match is None:
        return text
    sign, whole, over, under, unit = match.groups()
    if int(under) == 0 or (whole and int(over) >= int(under)):
        return text
    return f"{sign}{int(whole or 0) + int(over) / int(under):.12g} {unit}"


def series_to_si(value: object, kind: str) -> tuple[float, ...]:
    """Several values: a list of texts, one text "0.1 0.2 0.3 in", or a table {unit, values}."""
    if isinstance(value, dict) and set(value) == {"unit", "values"} and isinstance(value["values"], list):
        return tuple(to_si(f"{v} {value['unit']}", kind) for v in value["values"])
    if isinstance(value, str):
        words = value.replace(";", " ").replace(", ", " ").split()
        count = sum(1 for _ in _leading_numbers(words))
        unit = " ".join(words[count:])
        if count == 0 or re.search(r"\d,\d", value):
            to_si(value, kind)
        return tuple(to_si(f"{w} {unit}", kind) for w in words[:count])
    if isinstance(value, list | tuple):
        return tuple(to_si(v, kind) for v in value)
    msg = f"{value!r} is not a series; write one text such as \"0.1 0.2 0.3 in\" or a list of values with units"
    raise InputError(msg)


def from_si(value: float, kind: str, system: str = "si") -> float:
    """An internal value in the display unit of ``kind`` in ``system`` ("si" or "us"); arrays pass through too."""
    label = unit_label(kind, system)
    if label == "-":
        return value
    if quantity(kind).name == "temperature difference" and label == "°F":
        return value * 1.8
    _, factor, offset = _lookup(label)
    return value / factor - offset


def unit_label(kind: str, system: str = "si") -> str:
    """The display unit of ``kind`` in ``system``: "si" (mm, kPa, N m, kW) or "us" (in, psi, lb-ft, hp)."""
    if system not in ("si", "us"):
        msg = f"no unit system {system!r}: si or us"
        raise InputError(msg)
    return getattr(quantity(kind), system)


def internal_unit(kind: str) -> str:
    """The unit text of internal values, readable by :func:`to_si` (empty for a fraction)."""
    text = quantity(kind).internal
    return {"m**2": "m2", "m**3": "m3", "kg/m**3": "kg/m3", "m**3/s": "m3/s", "N*m": "N m",
            "kg*m**2": "kg m2"}.get(text, text)


def show(value: float, kind: str, system: str = "si", digits: int = 4) -> str:
    """An internal value as text with its display unit, ``digits`` significant digits.

    >>> show(0.1016, "length", "us")
    '4 in'
    """
    label = unit_label(kind, system)
    number = f"{from_si(value, kind, system):.{digits}g}"
    return number if label == "-" else f"{number} {label}"


def _leading_numbers(words: list[str]):
    for word in words:
        match = _NUMBER.match(word)
        if match is None or match[2]:
            return
        yield word


def shown(text: object) -> str:
    """Card text in quotes, a number plain: as messages show a value."""
    told = text if len(str(text)) <= LONGEST else str(text)[:60] + " ..."
    return f'"{told}"' if isinstance(text, str) else f"{told}"


def _a(name: str) -> str:
    return f"an {name}" if name[0] in "aeiou" else f"a {name}"


def _fits(want: Quantity) -> str:
    name = _SAME.get(want.name, want.name)
    return f"{_a(name)} fits: {', '.join(want.fits)}"


@lru_cache(maxsize=512)
def _lookup(unit: str) -> tuple[str | None, float, float]:
    """Kind, factor and offset of a unit text: from the table, else from pint; kind None if unknown."""
    found = _TABLE.get(unit)
    return found if found is not None else _from_pint(unit)


# names with a power of one digit, joined by product or division: free numbers (10**10**10) would be worked out
_NAME = r"\(*[^\W\d°%]*[°%]?[^\W\d]+(?:(?:\*\*|\^)?-?\d)?\)*"
_UNIT = re.compile(rf"{_NAME}(?: ?[/*. -] ?{_NAME})*")


@lru_cache(maxsize=1)
def _registry():
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def _from_pint(unit: str) -> tuple[str | None, float, float]:
    if len(unit) > 60 or not _UNIT.fullmatch(unit):
        return None, 1.0, 0.0
    registry = _registry()
    try:
        one = registry.Quantity(1.0, unit)
    except Exception:  # pint raises many kinds for text it cannot read; all mean: unknown unit
        return None, 1.0, 0.0
    for kind in dict.fromkeys(_SAME.get(n, n) for n in QUANTITIES):
        internal = QUANTITIES[kind].internal or "dimensionless"
        if kind in ("temperature", "temperature difference") or not one.is_compatible_with(internal):
            continue
        return kind, float(one.to(internal).magnitude), 0.0
    return "quantity of another kind", 1.0, 0.0
