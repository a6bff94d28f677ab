"""Model faults in the words of cards: every pydantic error becomes a Problem with place, reason and what fits."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from pullcast.errors import Problem

Locate = Callable[[str], tuple[str, int | None]]


def problems_of(error: ValidationError, model: type[BaseModel], prefix: str, locate: Locate) -> list[Problem]:
    """All problems of a validation error; ``prefix`` is the key path of the table validated ("cam")."""
    return [_problem(e, model, prefix, locate) for e in error.errors(include_url=False)]


def _problem(e: dict[str, Any], model: type[BaseModel], prefix: str, locate: Locate) -> Problem:
    loc = [p for p in e["loc"] if not (isinstance(p, str) and p.startswith("function-"))]
    key = ".".join(str(p) for p in ([prefix] if prefix else []) + loc)
    file, line = locate(key)
    text, remedy = _words(e, model, loc)
    return Problem(file, line, key, text, remedy)


def _words(e: dict[str, Any], model: type[BaseModel], loc: list[str | int]) -> tuple[str, str]:
    kind, ctx, got = e["type"], e.get("ctx", {}), e.get("input")
    if kind == "extra_forbidden":
        return _unknown(str(loc[-1]), known_keys(model, loc[:-1]))
    if kind == "missing":
        return "this key is needed but missing", _what_fits(model, loc)
    if kind == "value_error":
        return _question_apart(str(ctx.get("error", e["msg"])))
    if kind == "literal_error":
        names = [n.strip("' ") for n in ctx["expected"].replace(" or ", ", ").split(", ")]
        near = difflib.get_close_matches(str(got), names, n=1, cutoff=0.4)
        return f"{_quoted(got)} is not one of {', '.join(names)}", f"Did you mean {near[0]}?" if near else ""
    if kind in ("model_type", "dict_type"):
        return (f"{_quoted(got)} stands where a table is needed",
                f"Write [{'.'.join(map(str, loc)) or 'table'}] and its keys.")
    if kind in ("int_type", "bool_type", "string_type", "tuple_type"):
        what = {"int": "a whole number", "boo": "true or false", "str": "text in quotes", "tup": "a list"}[kind[:3]]
        return f"{_quoted(got)} is not {what}", f"Write {what}."
    if kind in ("greater_than_equal", "less_than_equal"):
        bound = ctx.get("ge", ctx.get("le"))
        return f"{_quoted(got)} is {'less' if 'ge' in ctx else 'more'} than {bound}", ""
    return e["msg"], ""


def _question_apart(text: str) -> tuple[str, str]:
    """A message that ends in a question, as text and remedy."""
    cut = max(text.rfind("; "), text.rfind(". "))
    if not text.endswith("?") or cut < 0:
        return text, ""
    return text[:cut], text[cut + 2].upper() + text[cut + 3:]


def _unknown(name: str, known: list[str]) -> tuple[str, str]:
    near = difflib.get_close_matches(name, known, n=2, cutoff=0.5) or [k for k in known if name in k or k in name][:2]
    if near:
        return "this key is not known", f"Did you mean {' or '.join(near)}?"
    return "this key is not known", f"Known here: {', '.join(known)}."


def _quoted(got: Any) -> str:
    text = repr(got) if not isinstance(got, str) else f'"{got}"'
    return text if len(text) < 60 else text[:57] + "..."


def known_keys(model: type[BaseModel], loc: list[str | int]) -> list[str]:
    """The keys a card may hold at ``loc`` under ``model``."""
    inner = table_at(model, loc)
    return [] if inner is None else [info.alias or name for name, info in inner.model_fields.items()]


def table_at(model: type[BaseModel], loc: list[str | int]) -> type[BaseModel] | None:
    """The model of the table at ``loc``, None if there is no table there."""
    here: type[BaseModel] | None = model
    for part in loc:
        if isinstance(part, int) or here is None:
            continue
        field = here.model_fields.get(str(part)) or next(
            (i for i in here.model_fields.values() if i.alias == part), None)
        here = None if field is None else _model_in(field.annotation)
    return here


def _model_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for arg in get_args(annotation):
        found = _model_in(arg)
        if found is not None:
            return found
    return None


def _what_fits(model: type[BaseModel], loc: list[str | int]) -> str:
    from pullcast import units

    table = table_at(model, loc[:-1])
    field = None if table is None else next(
        (i for n, i in table.model_fields.items() if loc[-1] in (n, i.alias)), None)
    extra = getattr(field, "json_schema_extra", None) or {}
    if "quantity" not in extra:
        return f"Add {loc[-1]}."
    return f"Add {loc[-1]} with its unit: {', '.join(units.quantity(extra['quantity']).fits)}."
