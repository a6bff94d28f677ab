"""A card's table of tables as TOML text again: parts in place, so that one file holds the whole engine."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pullcast.card.keeping import kept_text
from pullcast.card.tree import Tree
from pullcast.card.written import table_lines

FIRST = ("name", "class", "block", "head", "cam", "intake", "exhaust", "fuel", "day", "mixture", "burn")


def engine_text(tree: Tree) -> str:
    """The card of a planted tree with its changes, as one file that reads to the same engine.

    It is in the words of the files it came from, remarks and all, the changes in place; where a change has no place
    in them, the bare keys are written. Keys without a value (None) are left out.
    """
    kept = kept_text(tree)
    if kept is not None:
        return kept
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
    return "\n".join(table_lines(data, ())).lstrip("\n") + "\n"
