"""The state of the page as a value: which card, which parts, which numbers; and the engine that it makes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from pullcast.card.engine import Engine
from pullcast.card.reading import resolve_tree
from pullcast.card.tree import PARTS, Tree, change
from pullcast.card.writing import engine_text
from pullcast.errors import CardError, InputError
from pullcast.show.lab.knob import Data, Knob, Swaps
from pullcast.show.lab.knobs import KNOBS
from pullcast.show.lab.shelf import Shelf

Pairs = tuple[tuple[str, str], ...]
MOST_KEYS, LONGEST = 60, 300


@dataclass(frozen=True)
class Bench:
    """What is on the bench: a card of the shelf by reference, or (``card`` "") a ``text`` that was typed or opened;
    ``parts`` swapped, single ``keys`` changed (dotted path, card value), and ``knobs`` turned (key, text)."""

    card: str = ""
    text: str = ""
    parts: Pairs = ()
    keys: Pairs = ()
    knobs: Pairs = ()

    def with_part(self, kind: str, reference: str) -> Bench:
        """With a part swapped; what was turned on the old part is forgotten. "" takes the card's own part back."""
        rest = tuple(p for p in self.parts if p[0] != kind)
        knobs = tuple(p for p in self.knobs if KNOBS[p[0]].part != kind)
        keys = tuple(p for p in self.keys if p[0].split(".")[0] != kind)
        return replace(self, parts=(*rest, (kind, reference)) if reference else rest, knobs=knobs, keys=keys)

    def with_knob(self, key: str, text: str) -> Bench:
        """With one control set; "" sets it back to the card's value."""
        if not any(k == key for k, _ in self.knobs):
            return replace(self, knobs=(*self.knobs, (key, text))) if text else self
        pairs = tuple((k, text if k == key else v) for k, v in self.knobs)
        return replace(self, knobs=tuple(p for p in pairs if p[1]))

    def with_keys(self, pairs: Iterable[tuple[str, str]]) -> Bench:
        """With single values of the card set; parts among them go where parts go."""
        made = self
        for key, text in pairs:
            if key in PARTS:
                made = made.with_part(key, text)
            else:
                made = replace(made, keys=(*(p for p in made.keys if p[0] != key), (key, text)))
        return made

    def own(self) -> Bench:
        """The same with no control turned: what the controls go back to."""
        return replace(self, knobs=())


@dataclass(frozen=True)
class Setup:
    """An engine made from a bench. ``own`` and ``data`` are the engine and table before any control was turned;
    ``text`` is the whole as one card file."""

    bench: Bench
    engine: Engine
    own: Engine
    data: Data
    text: str

    @property
    def knobs(self) -> tuple[Knob, ...]:
        """The controls that this engine has."""
        return tuple(k for k in KNOBS.values() if k.read(self.own, self.data) is not None)


class BadKnob(InputError):
    """A control's text that is no value; ``key`` names the control."""

    def __init__(self, key: str, message: str) -> None:
        self.key = key
        super().__init__(message)


def set_up(bench: Bench, shelf: Shelf) -> Setup:
    """The engine of a bench. Raises BadKnob, InputError, or CardError with every problem of the card."""
    tree = _changed(bench, shelf, {})
    own, data = resolve_tree(tree), tree.data
    if bench.knobs:
        tree = _changed(bench, shelf, swaps_of(bench, own, data))
    return Setup(bench, resolve_tree(tree) if bench.knobs else own, own, data, engine_text(tree))


def swaps_of(bench: Bench, own: Engine, data: Data) -> Swaps:
    """The controls that were turned as swaps, the same whatever the order in which they were turned."""
    turned, before, after = dict(bench.knobs), {}, {}
    for knob in KNOBS.values():
        if knob.key in turned and knob.read(own, data) is not None:
            before |= knob.before(own, data)
            after |= knob.write(value_of(knob, turned[knob.key]), own, data)
    return before | after


def value_of(knob: Knob, text: str) -> float:
    """The internal value of a control's text; BadKnob if it is none."""
    try:
        return knob.internal(text)
    except InputError as error:
        raise BadKnob(knob.key, str(error)) from None


def faults(error: InputError, bench: Bench, own: Engine | None,
           data: Data | None) -> tuple[dict[str, str], list[str]]:
    """What is wrong with a bench: by control where a problem is a control's, and the rest.

    ``own`` and ``data`` are those of the bench's ``Setup`` before, None if there is none.
    """
    if isinstance(error, BadKnob):
        return {error.key: str(error)}, []
    if not isinstance(error, CardError):
        return {}, [str(error)]
    homes = _homes(bench, own, data)
    fields, rest = {}, []
    for p in error.problems:
        words = f"{p.text.rstrip('.')}." + (f" {p.remedy}" if p.remedy else "")
        part = p.key.removeprefix("parts.").split(".")[0]
        home = homes.get(p.key) or (part if part in dict(bench.parts) else None)
        if home:
            fields[home] = words
        else:
            rest.append(str(p))
    return fields, rest


def _homes(bench: Bench, own: Engine | None, data: Data | None) -> dict[str, str]:
    """Card keys that a turned control sets, to the control."""
    if own is None:
        return {}
    homes = {}
    for key, text in bench.knobs:
        knob = KNOBS[key]
        if knob.read(own, data) is not None:
            homes |= {k: key for k, v in knob.write(value_of(knob, text), own, data).items() if v is not None}
    return homes


def _changed(bench: Bench, shelf: Shelf, swaps: Swaps) -> Tree:
    for kind, reference in bench.parts:
        if not shelf.has_part(kind, reference):
            msg = f"there is no {kind} {reference!r} on the shelf"
            raise InputError(msg)
    tree = shelf.tree(bench.card) if bench.card else shelf.tree_of_text(bench.text, "the card")
    wanted: dict[str, Any] = dict(bench.parts) | {k: _card_value(v) for k, v in bench.keys} | swaps
    change(tree, wanted)
    return tree


def _card_value(text: str) -> Any:
    """A value as it would stand on a card: numbers plain, all else text."""
    try:
        number = float(text)
    except ValueError:
        return {"true": True, "false": False}.get(text, text)
    return int(number) if number.is_integer() and "." not in text and "e" not in text.lower() else number
