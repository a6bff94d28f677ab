"""Whether a document read from a file has the shape it should: the first misfit in words. For what is not trusted."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

TEXT, NUMBER, MAYBE, TRUTH, COUNT, ANY = "a text", "a number", "a number or null", "true or false", "a count", ""


def misfit(value: Any, shape: Any, where: str = "") -> str:
    """What does not fit, "" when all does.

    ``shape`` is one of the words above, a list of one shape (a list of any length), a mapping of key to shape (all
    keys needed, others allowed), or a tuple of shapes and None of which one fits.

    >>> misfit({"a": [1, "x"]}, {"a": [NUMBER]})
    'a, 2: not a number'
    >>> misfit({"a": None}, {"a": (None, TEXT)})
    ''
    """
    if isinstance(shape, tuple):
        found = [misfit(value, s, where) for s in shape if s is not None]
        return "" if (value is None and None in shape) or "" in found else found[0]
    if isinstance(shape, str):
        return "" if _fits(value, shape) else f"{where or 'it'}: not {shape}"
    if isinstance(shape, list):
        if not isinstance(value, list):
            return f"{where or 'it'}: not a list"
        return _first((v, shape[0], f"{where}, {k}") for k, v in enumerate(value, 1))
    if not isinstance(value, Mapping):
        return f"{where or 'it'}: not a table"
    missing = [k for k in shape if k not in value]
    if missing:
        return f"{where or 'it'}: no {missing[0]}"
    return _first((value[k], s, f"{where}, {k}") for k, s in shape.items())


def _first(parts: Iterable[tuple[Any, Any, str]]) -> str:
    """The first misfit of (value, shape, where)."""
    return next((m for value, shape, where in parts if (m := misfit(value, shape, where.strip(", ")))), "")


def _fits(value: Any, word: str) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e300
    return {
        TEXT: isinstance(value, str), NUMBER: number and math.isfinite(value), TRUTH: isinstance(value, bool),
        MAYBE: value is None or (number and math.isfinite(value)), ANY: True,
        COUNT: number and isinstance(value, int) and value >= 0,
    }[word]
