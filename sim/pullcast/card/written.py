"""Tables, keys and values of a card as TOML text."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+\Z")


def table_lines(data: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    """The lines of a table: plain keys first, then tables, then lists of tables; keys without a value left out."""
    kept = {k: v for k, v in data.items() if v is not None}
    plain = {k: v for k, v in kept.items() if not is_table(v) and not is_tables(v)}
    tables = {k: v for k, v in kept.items() if is_table(v)}
    if path and (plain or not tables):
        yield f"\n[{'.'.join(map(key_text, path))}]"
    yield from (f"{key_text(k)} = {value_text(v)}" for k, v in plain.items())
    for k, inner in tables.items():
        yield from table_lines(inner, (*path, k))
    for k, rows in kept.items():
        if is_tables(rows):
            for row in rows:
                yield f"\n[[{'.'.join(map(key_text, (*path, k)))}]]"
                yield from (f"{key_text(name)} = {value_text(v)}" for name, v in row.items() if v is not None)


def is_table(value: Any) -> bool:
    """Whether a value is a table of its own (a value with its doubt is not)."""
    return isinstance(value, Mapping) and not set(value) <= {"value", "within"}


def is_tables(value: Any) -> bool:
    """Whether a value is a list of tables."""
    return isinstance(value, list | tuple) and len(value) > 0 and all(isinstance(v, Mapping) for v in value)


def key_text(name: str) -> str:
    """A key, in quotes where it must be."""
    return name if _BARE.match(name) else json.dumps(name, ensure_ascii=False)


def value_text(value: Any) -> str:
    """A value; TypeError for one that no card can hold."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(value_text, value))}]"
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key_text(k)} = {value_text(v)}' for k, v in value.items() if v is not None)} }}"
    msg = f"a card cannot hold {value!r}"
    raise TypeError(msg)
