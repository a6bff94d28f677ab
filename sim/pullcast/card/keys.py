"""Every key a card may hold, from the models that read it, with what it means (``meanings.toml``)."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import NoneType
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from pullcast.card.reading import EngineCard

MEANINGS = Path(__file__).with_name("meanings.toml")


@dataclass(frozen=True)
class Key:
    """One key of a card.

    ``quantity`` names its kind of unit ("": none), ``low`` and ``high`` bound what can be (internal units),
    ``choices`` are the words it takes, ``form`` says how it is written. ``default`` None: by class, or nothing.
    """

    name: str
    meaning: str
    quantity: str
    low: float | None
    high: float | None
    choices: tuple[str, ...]
    form: str
    needed: bool
    default: Any


@dataclass(frozen=True)
class KeyTable:
    """The keys of one kind of table and the places where it stands ("head.intake"; "[[" marks a list of tables)."""

    model: str
    about: str
    places: tuple[str, ...]
    keys: tuple[Key, ...]


@cache
def meanings() -> dict[str, dict[str, str]]:
    """Model name to key to meaning, as the file holds them."""
    return tomllib.loads(MEANINGS.read_text(encoding="utf-8"))


def meaning(place: str) -> str:
    """The meaning of a dotted key such as "cam.intake.lash"; empty for one that is not known.

    >>> meaning("cam.intake.lash")
    'clearance in the valve gear, at the valve'
    """
    table, _, name = place.rpartition(".")
    for found in key_tables():
        if table in (p.strip("[]") for p in found.places):
            return next((k.meaning for k in found.keys if k.name == name), "")
    return ""


@cache
def key_tables() -> tuple[KeyTable, ...]:
    """All tables of an engine card and its parts, in the order of the card."""
    places: dict[type[BaseModel], list[str]] = {}
    for model, place in _walk(EngineCard, ""):
        places.setdefault(model, []).append(place)
    return tuple(KeyTable(m.__name__, (m.__doc__ or "").strip(), tuple(at), tuple(_keys(m)))
                 for m, at in places.items())


def _walk(model: type[BaseModel], place: str) -> Iterator[tuple[type[BaseModel], str]]:
    """Every model below ``model`` with the place it stands at."""
    yield model, place
    for name, info in model.model_fields.items():
        for inner in _models(info.annotation):
            at = f"{place.strip('[]')}.{info.alias or name}".lstrip(".")
            yield from _walk(inner, f"[[{at}]]" if _is_list(info.annotation) else at)


def _keys(model: type[BaseModel]) -> Iterator[Key]:
    told = {key: text for kind in reversed(model.__mro__) for key, text in meanings().get(kind.__name__, {}).items()}
    for name, info in model.model_fields.items():
        if _models(info.annotation):
            continue
        extra, key = _extra(info), info.alias or name
        default = None if info.default is PydanticUndefined else info.default
        yield Key(key, told.get(key, ""), extra.get("quantity", ""), extra.get("low"), extra.get("high"),
                  _choices(info.annotation), _form(info), info.is_required(), default)


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type):
        return [annotation] if issubclass(annotation, BaseModel) else []
    return [m for arg in get_args(annotation) for m in _models(arg)]


def _is_list(annotation: Any) -> bool:
    return get_origin(annotation) is tuple or any(_is_list(a) for a in get_args(annotation))


def _parts(annotation: Any) -> Iterator[Any]:
    """An annotation and everything inside it."""
    yield annotation
    for arg in get_args(annotation):
        yield from _parts(arg)


def _extra(info: FieldInfo) -> dict[str, Any]:
    """Quantity and bounds of a field, also where it is optional."""
    found = [info, *(p for p in _parts(info.annotation) if isinstance(p, FieldInfo))]
    return next((dict(f.json_schema_extra) for f in found if f.json_schema_extra), {})


def _choices(annotation: Any) -> tuple[str, ...]:
    return tuple(c for p in _parts(annotation) if get_origin(p) is Literal for c in get_args(p))


def _form(info: FieldInfo) -> str:
    """How a value without a unit, or a row of values, is written."""
    kinds = list(_parts(info.annotation))
    if _extra(info):
        return "several values and one unit" if tuple in map(get_origin, kinds) else "value and unit"
    if dict in map(get_origin, kinds):
        return "keys with text"
    deep = sum(get_origin(k) is tuple for k in kinds)
    if str in kinds and deep:
        return "value and unit"
    if deep:
        return "list of lists of whole numbers" if deep > 1 else "list of whole numbers"
    base = next((k for k in kinds if k in (bool, int, str)), NoneType)
    return {bool: "true or false", int: "whole number", str: "text", NoneType: "word"}[base]
