"""TOML text of a session card: read whole, with the line of every key, and problems gathered rather than thrown."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import Any

from pullcast import units
from pullcast.errors import InputError, Problem
from pullcast.sheets.files import project_root, read_sheet
from pullcast.sheets.lines import find_line


class CardText:
    """A TOML card: ``data`` as parsed, `line` of a key, and the `problems` found so far."""

    def __init__(self, path: str | Path) -> None:
        """Read the card at ``path``; raises `CardError` when it is no TOML text at all."""
        self.path = Path(path)
        self.problems: list[Problem] = []
        sheet = read_sheet(self.path, str(self.path))
        self.data: dict[str, Any] = sheet.data
        self._lines = sheet.lines

    def line(self, *keys: str | int) -> int | None:
        """Line of a key path such as ("run", 2, "file"), or of the nearest table around it."""
        return find_line(self._lines, keys)

    def problem(self, keys: tuple, text: str, remedy: str = "") -> None:
        """Note a fault at a key path."""
        name = ".".join(str(k + 1) if isinstance(k, int) else k for k in keys)
        self.problems.append(Problem(str(self.path), self.line(*keys), name, text, remedy))

    def table(self, name: str, allowed: tuple[str, ...]) -> dict[str, Any]:
        """A top-level table, its keys held against ``allowed``; empty when it is not there."""
        found = self.data.get(name, {})
        if not isinstance(found, dict):
            self.problem((name,), "must be a table", f"Write [{name}] on a line of its own.")
            return {}
        self.known(found, allowed, name)
        return found

    def known(self, found: dict[str, Any], allowed: tuple[str, ...], *keys: str | int) -> None:
        """Note every key that is none of ``allowed``, with the nearest one that is."""
        for key in found:
            if key not in allowed:
                near = difflib.get_close_matches(key, allowed, n=1, cutoff=0.5)
                self.problem((*keys, key), "is not a key of a session card",
                             f"Did you mean {near[0]!r}?" if near else f"Known here: {', '.join(allowed)}.")

    def si(self, found: dict[str, Any], key: str, quantity: str, low: float, high: float, *keys: str | int):
        """A value in SI within ``low`` to ``high``; None when absent or faulty (the fault is noted)."""
        if key not in found:
            return None
        try:
            value = units.to_si(found[key], quantity)
        except InputError as fault:
            self.problem((*keys, key), str(fault))
            return None
        if not low <= value <= high:
            unit = units.internal_unit(quantity)
            self.problem((*keys, key), f"{found[key]!r} is outside {low:g} to {high:g} {unit}".rstrip(),
                         "Check the value and its unit.")
            return None
        return value

    def text(self, found: dict[str, Any], key: str, default: str, *keys: str | int) -> str:
        """A text value; anything else is noted."""
        value = found.get(key, default)
        if not isinstance(value, str):
            self.problem((*keys, key), f"{value!r} is not text", "Put it in quotes.")
            return default
        return value

    def choice(self, found: dict[str, Any], key: str, options: tuple[str, ...], default: str,
               *keys: str | int) -> str:
        """A text value out of ``options``; anything else is noted with the nearest one."""
        value = self.text(found, key, default, *keys)
        if value in options:
            return value
        near = difflib.get_close_matches(value, options, n=1, cutoff=0.4)
        hint = f"Did you mean {near[0]!r}? " if near else ""
        self.problem((*keys, key), f"{value!r} is not known", f"{hint}Known: {', '.join(options)}.")
        return default

    def beside(self, found: dict[str, Any], key: str, *keys: str | int) -> Path | None:
        """A file named relative to the card; absolute names and ones that leave the card's project are noted."""
        value = self.text(found, key, "", *keys)
        if not value:
            return None
        home = self.path.resolve().parent
        root = project_root(home)
        full = (home / value).resolve()
        if Path(value).is_absolute() or not full.is_relative_to(root):
            self.problem((*keys, key), f"{value!r} does not lie beside the card",
                         "Name it relative to the card, within its project folder.")
            return None
        return Path(self.path.parent / value)
