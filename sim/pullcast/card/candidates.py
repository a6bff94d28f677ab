"""Candidates of a shortlist as sets of swaps: listed one by one, a grid of values, or ranges to search."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from pullcast import units
from pullcast.errors import InputError

MOST = 2000  # candidates of one shortlist
Place = tuple[str | int, ...]  # where a key stands in the card
Problem = Callable[[Place, str, str], None]


@dataclass(frozen=True)
class Swaps:
    """A named set of swaps (``pullcast.card.with_changes``) and where on the card each stands."""

    name: str
    values: dict[str, Any]
    places: dict[str, Place]


@dataclass(frozen=True)
class Span:
    """A range to search: ``key`` from ``low`` to ``high``, numbers in ``unit``."""

    key: str
    low: float
    high: float
    unit: str

    def text(self, value: float) -> str:
        """The card text of a value of the range, to seven digits."""
        return f"{value:.7g} {self.unit}".strip()


def flat(table: Mapping[str, Any], place: Place, leaf: Callable[[Any], bool]) -> dict[str, tuple[Place, Any]]:
    """Dotted keys of a table of tables to (place, value), down to values that are ``leaf`` or no table."""
    found: dict[str, tuple[Place, Any]] = {}
    for key, value in table.items():
        if isinstance(value, Mapping) and value and not leaf(value):
            for inner, pair in flat(value, (*place, key), leaf).items():
                found[f"{key}.{inner}"] = pair
        else:
            found[key] = ((*place, key), value)
    return found


def _uncertain(value: Mapping[str, Any]) -> bool:
    return "value" in value and set(value) <= {"value", "within"}


def listed(rows: list[Mapping[str, Any]], problem: Problem) -> list[Swaps]:
    """The [[candidate]] tables of a card."""
    made, names = [], {}
    for i, row in enumerate(rows):
        place = ("candidate", i)
        name = row.get("name")
        pairs = flat({k: v for k, v in row.items() if k != "name"}, place, _uncertain)
        if not isinstance(name, str) or not name.strip():
            problem((*place, "name"), "a candidate needs a name", 'Write name = "long runners".')
            continue
        if name in names:
            problem((*place, "name"), f'"{name}" is candidate {names[name] + 1} already', "Name each once.")
        names.setdefault(name, i)
        if not pairs:
            problem(place, f'"{name}" changes nothing', 'Write a part or a value, such as cam = "cams/warm.toml".')
            continue
        made.append(Swaps(name, {k: v for k, (_, v) in pairs.items()}, {k: p for k, (p, _) in pairs.items()}))
    return made


def grid(table: Mapping[str, Any], problem: Problem) -> list[Swaps]:
    """Every combination of the values of the table [grid]."""
    pairs = flat(table, ("grid",), _uncertain)
    good = True
    for key, (place, values) in pairs.items():
        if not isinstance(values, list) or not values:
            problem(place, f"{key} is not a list of values", f'Write {key} = ["...", "..."].')
            good = False
        elif any(values.count(v) > 1 for v in values):
            problem(place, f"a value of {key} is listed twice", "List each once.")
            good = False
    if not pairs:
        problem(("grid",), "the grid is empty", "Write a key and a list of values.")
    if not good or not pairs:
        return []
    count = math.prod(len(values) for _, values in pairs.values())
    if count > MOST:
        problem(("grid",), f"the grid makes {count} candidates, more than {MOST}", "List fewer values.")
        return []
    places = {key: place for key, (place, _) in pairs.items()}
    made = []
    for combination in itertools.product(*(values for _, values in pairs.values())):
        values = dict(zip(pairs, combination, strict=True))
        made.append(Swaps(", ".join(f"{k} {_short(v)}" for k, v in values.items()), values, places))
    return made


def _short(value: Any) -> str:
    if isinstance(value, Mapping):
        value = value.get("value", value)
    return PurePosixPath(value).stem if isinstance(value, str) and value.endswith(".toml") else str(value)


def spans(table: Mapping[str, Any], problem: Problem) -> list[Span]:
    """The ranges of the table [search]."""
    pairs = flat(table, ("search",), lambda v: bool(set(v) & {"from", "to"}))
    if not pairs:
        problem(("search",), "there is no range to search", 'Write cam.advance = { from = "-4 deg", to = "4 deg" }.')
    made = [_span(key, place, value, problem) for key, (place, value) in pairs.items()]
    return [span for span in made if span is not None]


def _span(key: str, place: Place, value: Any, problem: Problem) -> Span | None:
    if not isinstance(value, Mapping) or set(value) != {"from", "to"}:
        problem(place, f"{key} is not a range", 'Write { from = "200 mm", to = "400 mm" }.')
        return None
    try:
        (low, unit), (high, other) = units.split(value["from"]), units.split(value["to"])
    except InputError as error:
        problem(place, str(error), "")
        return None
    if unit != other:
        problem(place, f"the range of {key} starts in {unit or 'no unit'} and ends in {other or 'no unit'}",
                "Write both in one unit.")
    elif not low < high:
        problem(place, f"the range of {key} runs from {low:g} down to {high:g}", "Give from below to.")
    else:
        return Span(key, low, high, unit)
    return None
