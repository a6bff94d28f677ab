"""A control of the page: one number of the engine that can be read off it and set on its card."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from pullcast import units
from pullcast.card.engine import Engine
from pullcast.card.tree import get_path
from pullcast.errors import InputError

Data = Mapping[str, Any]  # an engine card's table of tables, parts in place
Swaps = dict[str, Any]  # dotted keys to card values, as ``pullcast.card.with_changes`` takes; None takes a key out
Read = Callable[[Engine, Data], float | None]
Write = Callable[[float, Engine, Data], Swaps]
# unit and step of a control to those of the "us" display; units that are not here are used in both
US = {("mm", 1.0): ("in", 0.05), ("mm", 5.0): ("in", 0.25), ("mm", 0.1): ("in", 0.005), ("mm", 0.05): ("in", 0.002),
      ("cm2", 0.05): ("in2", 0.01), ("L", 0.05): ("in3", 2.0), ("hPa", 1.0): ("inHg", 0.02), ("C", 0.5): ("F", 1.0)}


@dataclass(frozen=True)
class Knob:
    """One control. Values of ``read`` and ``write`` are internal (SI, deg); the page shows them in ``unit``.

    ``read`` gives None where the engine has no such number. ``span`` gives the ends of the slider (in ``unit``) for
    the card's own value (in ``unit``); the box beside it takes whatever a card may hold. ``note`` is a short remark.
    ``before`` are swaps that make room for it and for its neighbours: those of all controls go before any ``write``.
    """

    key: str
    part: str
    group: str
    label: str
    unit: str
    kind: str
    step: float
    read: Read
    write: Write
    span: Callable[[float], tuple[float, float]]
    note: Callable[[Engine, Data], str] = lambda engine, data: ""
    before: Callable[[Engine, Data], Swaps] = lambda engine, data: {}

    def shown(self, value: float) -> float:
        """An internal value in the control's unit."""
        zero = units.to_si(self._with_unit(0), self.kind)
        return (value - zero) / (units.to_si(self._with_unit(1), self.kind) - zero)

    def internal(self, text: str | float) -> float:
        """The internal value of a text, in the control's unit unless it names another; InputError says what fits."""
        number, unit = units.split(text)
        return units.to_si(f"{number!r} {unit}" if unit else self._with_unit(number), self.kind)

    def told(self, text: str) -> str:
        """A text with the control's unit where it is a bare number, so that it means the same wherever it is read."""
        try:
            unit = units.split(text)[1]
        except InputError:
            return text
        return text if unit or not self.unit else f"{text.strip()} {self.unit}"

    def _with_unit(self, number: float) -> str | float:
        return f"{number!r} {self.unit}" if self.unit else number


def in_system(knob: Knob, system: str) -> Knob:
    """The control as it is shown in "si" or "us"."""
    unit, step = US.get((knob.unit, knob.step), (knob.unit, knob.step)) if system == "us" else (knob.unit, knob.step)
    if unit == knob.unit:
        return knob
    shown = replace(knob, unit=unit, step=step)

    def span(own: float) -> tuple[float, float]:
        ends = knob.span(knob.shown(shown.internal(own)))
        low, high = (shown.shown(knob.internal(end)) for end in ends)
        return math.ceil(low / step - 1e-9) * step, math.floor(high / step + 1e-9) * step

    return replace(shown, span=span)


def around(low: float, high: float, step: float) -> Callable[[float], tuple[float, float]]:
    """A slider from ``low`` times to ``high`` times the card's value, in whole steps."""
    return lambda v: (max(step, math.floor(low * v / step) * step), math.ceil(high * v / step) * step)


def beside(down: float, up: float, step: float) -> Callable[[float], tuple[float, float]]:
    """A slider from ``down`` below to ``up`` above the card's value, in whole steps."""
    return lambda v: (math.floor((v - down) / step) * step, math.ceil((v + up) / step) * step)


def fixed(low: float, high: float) -> Callable[[float], tuple[float, float]]:
    """A slider between two numbers, widened if the card's value is outside."""
    return lambda v: (min(low, v), max(high, v))


def text(value: float, unit: str) -> str | float:
    """An internal value as card text in ``unit`` ("" for a plain number), to eight digits."""
    number = float(f"{value:.8g}")
    return f"{number:.8g} {unit}" if unit else number


def stated(data: Data, key: str, kind: str) -> float | None:
    """The internal value a card states at a key, None if it states none."""
    raw = get_path(data, key)
    raw = raw.get("value") if isinstance(raw, Mapping) else raw
    return None if raw is None else units.to_si(raw, kind)


def has(data: Data, *keys: str) -> bool:
    """Whether the card states any of the keys."""
    return any(get_path(data, key) is not None for key in keys)
