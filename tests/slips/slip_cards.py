"""Shipped engine cards as plain tables, changed by a slip and written out as one text again."""

from __future__ import annotations

import copy
import re
import tomllib
from pathlib import Path

CONFIGS = Path(__file__).parents[2] / "configs"
ENGINES = tuple(sorted(p.stem for p in (CONFIGS / "engines").glob("*.toml")))
_NUMBER = re.compile(r"\s*([-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)\s*(.*)")


def flat(engine: str) -> dict:
    """The engine card with its parts written into it, values as typed."""
    card = tomllib.loads((CONFIGS / "engines" / f"{engine}.toml").read_text(encoding="utf-8"))
    for kind, reference in card.pop("parts").items():
        card[kind] = tomllib.loads((CONFIGS / reference).read_text(encoding="utf-8"))
    return card


def get(card: dict, key: str):
    """The value at a dotted key, None if absent; the number text of a value with a stated doubt."""
    here = card
    for part in key.split("."):
        if not isinstance(here, dict) or part not in here:
            return None
        here = here[part]
    return here["value"] if isinstance(here, dict) and "value" in here else here


def put(card: dict, key: str, value) -> None:
    """Set, or with None take away, the value at a dotted key."""
    *path, last = key.split(".")
    for part in path:
        card = card.setdefault(part, {})
    if value is None:
        card.pop(last, None)
    else:
        card[last] = value


def changed(card: dict, changes: dict) -> dict:
    """A copy with the changes put in."""
    card = copy.deepcopy(card)
    for key, value in changes.items():
        put(card, key, value)
    return card


def number(text) -> tuple[float, str]:
    """Number and unit of a value."""
    if isinstance(text, int | float):
        return float(text), ""
    value, unit = _NUMBER.fullmatch(text).groups()
    return float(value), unit


def text_of(value: float, unit: str) -> str:
    """A value as typed."""
    return f"{value:.6g} {unit}".strip()


def times(text, factor: float):
    """The value with its number multiplied, unit kept; lists of numbers too."""
    if isinstance(text, int | float):
        return text * factor
    words = text.split()
    return " ".join(f"{float(w) * factor:.6g}" if _is_number(w) else w for w in words)


def with_unit(text: str, unit: str) -> str:
    """The same number with another unit behind it."""
    words = [w for w in text.split() if _is_number(w)]
    return " ".join([*words, unit])


def _is_number(word: str) -> bool:
    return re.fullmatch(r"[-+]?\d+(\.\d+)?", word) is not None


def to_toml(table: dict, path: str = "") -> str:
    """A nested table as TOML text, plain keys first."""
    plain = [f"{k} = {_value(v)}" for k, v in table.items() if not _is_table(v)]
    out = ([f"[{path}]"] if path else []) + plain + [""]
    for key, value in table.items():
        name = f"{path}.{key}" if path else key
        if isinstance(value, list) and value and isinstance(value[0], dict):
            for item in value:
                out += [f"[[{name}]]", *(f"{k} = {_value(v)}" for k, v in item.items()), ""]
        elif _is_table(value):
            out.append(to_toml(value, name))
    return "\n".join(out)


def _is_table(value) -> bool:
    return (isinstance(value, dict) and "value" not in value) or (
        isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def _value(value) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    return f'"{value}"' if isinstance(value, str) else repr(value)
