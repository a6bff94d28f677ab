"""What a candidate must keep to be worth a dyno day: limits stated on a shortlist."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import PlainValidator

from pullcast import units
from pullcast.card import fields as f
from pullcast.card.cam import IN_050, MM_1
from pullcast.card.derived import overlap, piston_speed
from pullcast.card.engine import Engine

_ACCELERATION = re.compile(r"\s*([\d.]+(?:[eE][+-]?\d+)?)\s*m/s(?:2|\^2|²)\s*\Z")


def _acceleration(raw: Any) -> float:
    found = _ACCELERATION.match(raw) if isinstance(raw, str) else None
    try:
        value = float(found[1]) if found else None
    except ValueError:
        value = None
    if value is None:
        msg = f"{units.shown(raw)} is not an acceleration; write it in m/s2, such as \"18000 m/s2\""
        raise ValueError(msg)
    if not 100.0 <= value <= 1e6:
        msg = f"{units.shown(raw)} is outside what can be (100 to 1000000 m/s2)"
        raise ValueError(msg)
    return value


class ConstraintsCard(f.Table):
    """Table [constraints] of a shortlist: each the most there may be, ``knock_margin`` the least."""

    hood_height: f.quantity("length", 0.010, 2.0) | None = None
    overlap_at_0p050in: f.quantity("angle", -60.0, 150.0) | None = None
    overlap_at_1mm: f.quantity("angle", -60.0, 150.0) | None = None
    piston_speed: f.quantity("speed", 2.0, 40.0) | None = None
    valve_acceleration: Annotated[float, PlainValidator(_acceleration)] | None = None
    driveline_torque: f.Torque | None = None
    peak_pressure: f.quantity("high pressure", 5e5, 5e7) | None = None
    knock_margin: f.quantity("fraction", -1.0, 1.0) | None = None
    injector_duty: f.quantity("fraction", 0.05, 2.0) | None = None
    inlet_mach_index: f.quantity("fraction", 0.05, 2.0) | None = None


@dataclass(frozen=True)
class Kind:
    """A kind of constraint. ``at_least``: its value is the least, else the most. ``known_from`` "card" (see
    ``card_value``), "lift" (the valve-lift curve at the top of the band) or "curve" (``variable`` of the results at
    its highest in the band, over cylinders too)."""

    title: str
    quantity: str
    known_from: str
    variable: str = ""
    at_least: bool = False


KINDS = {
    "hood_height": Kind("height of the intake over its flange", "length", "card"),
    "overlap_at_0p050in": Kind("overlap at 0.050 in tappet lift", "angle", "card"),
    "overlap_at_1mm": Kind("overlap at 1 mm valve lift", "angle", "card"),
    "piston_speed": Kind("mean piston speed at the top of the band", "speed", "card"),
    "valve_acceleration": Kind("valve acceleration at the top of the band", "", "lift"),
    "driveline_torque": Kind("brake torque into the driveline", "torque", "curve", "torque"),
    "peak_pressure": Kind("peak cylinder pressure", "high pressure", "curve", "peak_pressure"),
    "knock_margin": Kind("knock margin (1 less the knock integral; below 0 knock is expected)", "fraction", "curve",
                         "knock_integral", at_least=True),
    "injector_duty": Kind("injector duty", "fraction", "curve", "injector_duty"),
    "inlet_mach_index": Kind("inlet Mach index", "fraction", "curve", "inlet_mach_index"),
}


@dataclass(frozen=True)
class Constraint:
    """One limit of a shortlist: the ``name`` of its kind and its ``value`` (SI; deg)."""

    name: str
    value: float

    @property
    def kind(self) -> Kind:
        """What is limited, and where it is known from."""
        return KINDS[self.name]

    def kept(self, value: float) -> bool:
        """Whether ``value`` keeps it; not a number keeps nothing."""
        return value >= self.value if self.kind.at_least else value <= self.value


def constraints_of(card: ConstraintsCard) -> tuple[Constraint, ...]:
    """The constraints a card states."""
    return tuple(Constraint(name, float(getattr(card, name))) for name in KINDS if getattr(card, name) is not None)


def card_value(name: str, engine: Engine, rpm: float) -> float | None:
    """The value of a constraint known from the card alone (SI; deg); None when the card does not tell it.

    ``rpm`` is the highest speed of the band.
    """
    if name == "hood_height":
        return engine.intake.facts.get("hood_height")
    if name == "piston_speed":
        return piston_speed(engine, rpm)
    lift, side = {"overlap_at_0p050in": (IN_050, "tappet"), "overlap_at_1mm": (MM_1, "valve")}[name]
    return overlap(engine, lift, side)
