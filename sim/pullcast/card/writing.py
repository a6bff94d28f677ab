"""A card's table of tables as TOML text again: parts in place, so that one file holds the whole engine."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any

from pullcast.card.tree import Tree

_BARE = re.compile(r"[A-Za-z0-9_-]+\Z")
FIRST = ("name", "class", "block", "head", "cam", "intake", "exhaust", "fuel", "day", "mixture", "burn")


def engine_text(tree: Tree) -> str:
    """The card of a planted tree with its changes, as one file that reads to the same engine.

    Keys without a value (None) are left out; comments are not kept.
    """
    order = {key: i for i, key in enumerate(FIRST)}
    data = dict(sorted(tree.data.items(), key=lambda pair: order.get(pair[0], len(order))))
    return card_text(data)


def card_text(data: Mapping[str, Any]) -> str:
    """A table of tables as TOML: plain keys first, then tables, then lists of tables.

    >>> print(card_text({"name": "a", "cam": {"advance": "4 deg", "lash": None}}), end="")
    name = "a"
    <BLANKLINE>
    [cam]
    advance = "4 deg"
    """
    return "\n".join(_table(data, ())).lstrip("\n") + "\n"


def _table(data: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    kept = {k: v for k, v in data.items() if v is not None}
    plain = {k: v for k, v in kept.items() if not _is_table(v) and not _is_tables(v)}
    tables = {k: v for k, v in kept.items() if _is_table(v)}
    if path and (plain or not tables):
        yield f"\n[{'.'.join(map(_key, path))}]"
    yield from (f"{_key(k)} = {_value(v)}" for k, v in plain.items())
    for k, inner in tables.items():
        yield from _table(inner, (*path, k))
    for k, rows in kept.items():
        if _is_tables(rows):
            for row in rows:
                yield f"\n[[{'.'.join(map(_key, (*path, k)))}]]"
                yield from (f"{_key(name)} = {_value(v)}" for name, v in row.items() if v is not None)


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping) and not set(value) <= {"value", "within"}


def _is_tables(value: Any) -> bool:
    return isinstance(value, list | tuple) and len(value) > 0 and all(isinstance(v, Mapping) for v in value)


def _key(name: str) -> str:
    return name if _BARE.match(name) else json.dumps(name, ensure_ascii=False)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{_key(k)} = {_value(v)}' for k, v in value.items() if v is not None)} }}"
    msg = f"a card cannot hold {value!r}"
    raise TypeError(msg)
