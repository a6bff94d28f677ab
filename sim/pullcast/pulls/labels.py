"""What people call the columns and units of a pull file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pullcast import units

# channel: (quantity of pullcast.units, words that name it; a trailing "?" marks a weak hint)
CHANNELS: dict[str, tuple[str, tuple[str, ...]]] = {
    "rpm": ("rotational speed", ("rpm", "engine speed", "revs", "erpm", "engine rpm", "drehzahl", "regime", "giri",
                                 "speed?", "n?")),
    "torque": ("torque", ("torque", "tq", "trq", "tork", "moment", "drehmoment", "couple", "coppia")),
    "power": ("power", ("power", "pwr", "pow", "leistung", "puissance", "potenza", "horsepower")),
    "lambda": ("fraction", ("lambda", "lam", "λ")),
    "air_fuel_ratio": ("fraction", ("afr", "a f", "air fuel", "air fuel ratio", "wideband")),
    "station_pressure": ("pressure", ("baro", "barometer", "barometric", "station pressure", "ambient pressure",
                                      "atm press", "air press")),
    "intake_temperature": ("temperature", ("iat", "air temp", "intake temp", "inlet temp", "cell temp", "ait")),
    "humidity": ("percentage", ("rh", "humidity", "humid")),
    "oil_temperature": ("temperature", ("oil temp", "oil t", "oiltemp", "eot")),
    "oil_pressure": ("pressure", ("oil press", "oil p", "oil pressure")),
    "coolant_temperature": ("temperature", ("coolant", "coolant temp", "water temp", "ect", "clt", "water t")),
    "exhaust_temperature": ("temperature", ("egt", "exhaust temp")),
    "plenum_pressure": ("pressure", ("map", "manifold", "plenum", "boost")),
    "fuel_flow": ("mass flow", ("fuel", "fuel flow")),
    "airflow": ("mass flow", ("airflow", "air flow", "maf")),
    "throttle": ("percentage", ("tps", "throttle")),
    "spark": ("angle", ("spark", "timing", "ign", "ignition", "advance")),
    "time": ("time", ("time", "elapsed", "t?", "clock?")),
}
CORRECTED = ("corr", "corrected", "ctq", "cpwr", "cpower", "ctorque", "chp", "sae", "std", "din", "iso", "stp")
# words of speeds that are not the engine's
ELSEWHERE = ("mph", "kmh", "km", "road", "wheel", "roller", "vehicle", "fan", "turbo")
OBSERVED = ("obs", "observed", "uncorr", "uncorrected", "raw", "measured", "actual")

# unit as written, letters and digits only -> (quantity, unit of pullcast.units, multiplier)
_UNITS: dict[str, tuple[str, str, float]] = {}


def _spell(quantity: str, unit: str, *spellings: str, times: float = 1.0) -> None:
    for text in spellings:
        _UNITS[text] = (quantity, unit, times)


_spell("torque", "lb-ft", "lbft", "ftlb", "ftlbs", "lbfft", "ftlbf", "lbsft", "footpounds", "poundfeet")
_spell("torque", "N m", "nm", "newtonmetre", "newtonmeter", "newtonmetres", "newtonmeters")
_spell("torque", "N m", "kgm", "mkg", "kgfm", "mkp", "kpm", times=9.80665)
_spell("power", "hp", "hp", "bhp", "whp")
_spell("power", "PS", "ps", "cv")
_spell("power", "kW", "kw")
_spell("power", "W", "w", "watt", "watts")
_spell("rotational speed", "rpm", "rpm", "1min", "umin", "revmin", "trmin", "min1", "revsmin")
_spell("rotational speed", "rpm", "krpm", "rpm1000", "x1000rpm", "rpmx1000", times=1000.0)
for _unit in ("inHg", "mmHg", "hPa", "mbar", "kPa", "psi", "bar", "Pa"):
    _spell("pressure", _unit, _unit.lower())
_spell("pressure", "psi", "psia")
_spell("pressure", "mbar", "mb")
_spell("pressure", "kPa", "kpaa")
_spell("temperature", "degC", "c", "degc", "celsius")
_spell("temperature", "degF", "f", "degf", "fahrenheit")
_spell("temperature", "K", "k", "kelvin")
_spell("percentage", "%", "%", "pct", "percent")
_spell("time", "s", "s", "sec", "secs", "seconds")
_spell("time", "ms", "ms", "msec")
_spell("mass flow", "kg/h", "kgh", "kghr")
_spell("mass flow", "lb/h", "lbh", "lbhr", "pph")
_spell("mass flow", "g/s", "gs", "gsec")
_spell("volume flow", "cfm", "cfm", "scfm")
_spell("angle", "deg", "deg", "btdc", "degbtdc")
_spell("fraction", "", "afr", "lambda", "λ")


@dataclass(frozen=True)
class Unit:
    """A unit as a file writes it: ``text``, its quantity, and SI = offset + slope * value."""

    text: str
    quantity: str
    slope: float
    offset: float

    def to_si(self, values: np.ndarray) -> np.ndarray:
        """Values of a column in SI (rpm and degrees stay)."""
        return self.offset + self.slope * values


@lru_cache(maxsize=256)
def unit_named(text: str) -> Unit | None:
    """The unit a label such as "[lb.ft]", "1/min" or "inHg" means; None if it is none of a pull file.

    >>> round(unit_named("(Ft-Lbs)").slope, 6)
    1.355818
    """
    found = _UNITS.get(squeeze(text))
    if found is None:
        return None
    kind, unit, times = found
    offset = units.to_si(f"0 {unit}".strip(), kind)
    slope = (units.to_si(f"1 {unit}".strip(), kind) - offset) * times
    return Unit(text.strip(" ()[]{}"), kind, slope, offset)


def squeeze(text: str) -> str:
    """Letters, digits and % of a label, lower case: how two spellings are held against each other."""
    return re.sub(r"[^a-z0-9%λ]", "", text.replace("²", "").lower().replace("°", "deg" if "°" in text else ""))


def words(label: str) -> tuple[str, ...]:
    """Lower-case words of a column label; camel case and unit brackets are split off."""
    text = re.sub(r"([a-z])([A-Z])", r"\1 \2", label)
    return tuple(re.findall(r"[a-zà-ÿλ]+|%|\d+", text.lower()))


def split_label(label: str) -> tuple[str, Unit | None]:
    """Name and unit of a column label: "Torque [Nm]", "Tq lbft", "power_kW", "Baro inHg", "kW"."""
    bracket = re.search(r"[\[({]([^\])}]*)[\])}]", label)
    if bracket and unit_named(bracket[1]):
        return label[:bracket.start()].strip(" _,-"), unit_named(bracket[1])
    parts = re.split(r"[\s_,/]+", label.strip()) if not unit_named(label) else [label]
    for count in (3, 2, 1):
        tail = " ".join(parts[-count:])
        if len(parts) > count and unit_named(tail):
            return " ".join(parts[:-count]), unit_named(tail)
    return label.strip(), unit_named(label) if len(parts) == 1 else None


def channel_named(label: str) -> tuple[str | None, float]:
    """The channel a label names and how sure that is (0 to 1); (None, 0) when it names none."""
    name, unit = split_label(label)
    if unit is not None and squeeze(name) == squeeze(label):
        owner = {"torque": "torque", "power": "power", "rotational speed": "rpm"}.get(unit.quantity)
        if owner:
            return owner, 0.95
    said = words(name)
    if set(said) & set(ELSEWHERE):
        return None, 0.0
    marks = set(CORRECTED + OBSERVED)
    plain = " ".join(w for w in said if w not in marks and not w.isdigit())
    best: tuple[str | None, float] = (None, 0.0)
    for channel, (_, names) in CHANNELS.items():
        for known in names:
            score = _likeness(plain, said, known.rstrip("?")) * (0.6 if known.endswith("?") else 1.0)
            if score > best[1]:
                best = channel, score
    if best[0] == "rpm" and unit is not None and unit.quantity == "rotational speed":
        return "rpm", 0.95
    return best


def is_corrected(label: str) -> bool:
    """Whether a label says that the column is already corrected for weather."""
    said = set(words(label))
    return bool(said & set(CORRECTED)) and not said & set(OBSERVED)


def _likeness(plain: str, said: tuple[str, ...], known: str) -> float:
    if plain == known:
        return 0.98
    if said and said[0] == f"c{known}":
        return 0.9
    if f" {known} " in f" {plain} " and len(known) > 1:
        return 0.85 + 0.01 * min(len(known), 10)
    return 0.0
