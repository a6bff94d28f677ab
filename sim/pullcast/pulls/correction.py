"""Power correction: observed brake torque to the torque in reference weather, on a named basis.

Each basis is computed from its own formula at the pull's own weather. Two bases never differ by a constant: STD over
J1349 runs from 1.03 (hot and humid) to 1.05 (cold and dry), so a factor is never turned into another by a ratio.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable
from dataclasses import dataclass

from pullcast.air import dry_pressure
from pullcast.errors import InputError

HPA_PER_INHG = 33.86389
LOW, HIGH = 0.93, 1.07


@dataclass(frozen=True)
class Basis:
    """One way of correcting: its name, formula as text, function of (dry hPa, total hPa, deg C), range, source."""

    name: str
    formula: str
    factor: Callable[[float, float, float], float]
    reference: str
    source: str
    own_range: bool


@dataclass(frozen=True)
class Correction:
    """A correction factor with what it rests on.

    ``factor`` multiplies observed torque and power [-]; ``dry_pressure`` in Pa; ``in_range`` is False where the
    formula is used beyond the weather it holds for; ``note`` says why.
    """

    basis: str
    factor: float
    dry_pressure: float
    in_range: bool
    formula: str
    note: str = ""

    def __repr__(self) -> str:
        """One line: basis, factor, dry pressure and whether the formula holds there."""
        state = "" if self.in_range else f", OUT OF RANGE ({self.note})"
        return f"{self.basis}: factor {self.factor:.4f} at {self.dry_pressure / 100:.1f} hPa dry{state}"


def _j1349(dry: float, total: float, celsius: float) -> float:
    return 1.180 * (990.0 / dry) * math.sqrt((celsius + 273.0) / 298.0) - 0.180


def _j607(dry: float, total: float, celsius: float) -> float:
    fahrenheit = 1.8 * celsius + 32.0
    return (29.92 * HPA_PER_INHG / dry) * math.sqrt((fahrenheit + 459.7) / 519.7)


def _iso1585(dry: float, total: float, celsius: float) -> float:
    return (990.0 / dry) ** 1.2 * ((celsius + 273.0) / 298.0) ** 0.6


def _din70020(dry: float, total: float, celsius: float) -> float:
    return (1013.0 / total) * math.sqrt((celsius + 273.0) / 293.0)


BASES = {
    "j1349": Basis("j1349", "1.180 (990 / Pd) sqrt((t + 273) / 298) - 0.180", _j1349, "990 hPa dry, 25 deg C",
                   "SAE J1349, form of June 1990", True),
    "std": Basis("std", "(29.92 / Pd) sqrt((F + 459.7) / 519.7)", _j607, "29.92 inHg dry, 60 deg F",
                 "SAE J607", False),
    "iso1585": Basis("iso1585", "(99 / ps)^1.2 ((t + 273) / 298)^0.6", _iso1585, "99 kPa dry, 25 deg C",
                     "ISO 1585; UN Regulation 85 annex 5 (from memory)", True),
    "din70020": Basis("din70020", "(1013 / p) sqrt((t + 273) / 293), p not dried", _din70020,
                      "1013 hPa total, 20 deg C", "DIN 70020 (from memory)", False),
}


def basis_named(name: str) -> Basis:
    """The `Basis` called ``name``; raises `InputError` naming the nearest one and all that exist."""
    key = str(name).strip().lower()
    if key in BASES:
        return BASES[key]
    near = difflib.get_close_matches(key, BASES, n=1, cutoff=0.5)
    hint = f" Did you mean {near[0]!r}?" if near else ""
    msg = (f"correction basis {name!r} is not known.{hint} Known: {', '.join(BASES)}. Numbers on an unknown "
           "basis can only be compared within one session.")
    raise InputError(msg)


def correction_factor(basis: str, pressure: float, temperature: float, humidity: float) -> Correction:
    """Factor from observed to corrected brake torque and power.

    ``pressure`` is the station pressure (Pa, 30 000 to 120 000; not the sea-level reading of a weather report),
    ``temperature`` that of the intake air (K), ``humidity`` relative (0 to 1). Formulas and sources stand in `BASES`;
    J1349 and ISO 1585 hold for factors .93 to 1.07. STD and DIN 70020 state no range (from memory): they are held to
    the weather in which J1349 stays within its own, as they share its pressure and temperature law.

    >>> correction_factor("j1349", 99000.0, 298.15, 0.0)
    j1349: factor 1.0000 at 990.0 hPa dry
    """
    rule = basis_named(basis)
    dry = dry_pressure(pressure, temperature, humidity)
    state = dry / 100.0, pressure / 100.0, temperature - 273.15
    factor = rule.factor(*state)
    held = factor if rule.own_range else _j1349(*state)
    in_range = LOW <= held <= HIGH
    note = "" if in_range else _why_out(rule, held)
    return Correction(rule.name, factor, dry, in_range, rule.formula, note)


def _why_out(rule: Basis, held: float) -> str:
    whose = "its factor" if rule.own_range else "no range of its own; the J1349 factor here"
    return f"{whose} is {held:.3f}, outside {LOW} to {HIGH}: compare within the session only"
