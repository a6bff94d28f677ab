"""TOML text of a session card: read whole, with the line of every key, and problems gathered rather than thrown."""

from __future__ import annotations

import difflib
import re
import tomllib
from pathlib import Path
from typing import Any

from pullcast import units
from pullcast.errors import CardError, InputError, Problem

_TABLE = re.compile(r"\s*\[\[?\s*([\w.\"-]+)\s*\]\]?")
_KEY = re.compile(r"\s*([\w-]+|\"[^\"]+\")\s*(?:\.[\w.-]+\s*)?=")


class CardText:
    """A TOML card: ``data`` as parsed, `line` of a key, and the `problems` found so far."""

    def __init__(self, path: str | Path) -> None:
        """Read the card at ``path``; raises `CardError` when it is no TOML text at all."""
        self.path = Path(path)
        self.problems: list[Problem] = []
        text = self._text()
        try:
            self.data: dict[str, Any] = tomllib.loads(text)
        except tomllib.TOMLDecodeError as fault:
            at = re.search(r"line (\d+)", str(fault))
            self.stop(f"this is no valid TOML: {fault}", line=int(at[1]) if at else None,
                      remedy='A value with a unit is text: window = "200 rpm".')
        self._lines = _index(text)

    def _text(self) -> str:
        if not self.path.is_file():
            self.stop("is a folder, not a card" if self.path.is_dir() else "no such file",
                      remedy="Give the path of a session card (TOML).")
        raw = self.path.read_bytes()
        if len(raw) > 1_000_000:
            self.stop(f"{len(raw)} bytes is too large for a card", remedy="Keep raw pulls in files of their own.")
        try:
            return raw.decode("utf-8-sig").replace("\r\n", "\n")
        except UnicodeDecodeError as fault:
            self.stop(f"byte {fault.start} is not UTF-8 text", remedy="Save the card as UTF-8.")
            raise AssertionError from fault

    def stop(self, text: str, line: int | None = None, remedy: str = "") -> None:
        """Raise at once, with whatever was gathered before."""
        raise CardError([*self.problems, Problem(str(self.path), line, "", text, remedy)])

    def line(self, *keys: str | int) -> int | None:
        """Line of a key path such as ("run", 2, "file"), or of the nearest table around it."""
        for n in range(len(keys), 0, -1):
            if keys[:n] in self._lines:
                return self._lines[keys[:n]]
        return None

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
        root = home.parent if home.name == "sessions" else home
        full = (home / value).resolve()
        if Path(value).is_absolute() or not full.is_relative_to(root):
            self.problem((*keys, key), f"{value!r} does not lie beside the card",
                         "Name it relative to the card, within its project folder.")
            return None
        return Path(self.path.parent / value)


def _index(text: str) -> dict[tuple, int]:
    index: dict[tuple, int] = {}
    table: tuple = ()
    counts: dict[str, int] = {}
    for number, line in enumerate(text.split("\n"), 1):
        head = _TABLE.match(line)
        if head and "=" not in line.split("]")[0]:
            names = [n.strip('"') for n in head[1].split(".")]
            if line.lstrip().startswith("[["):
                counts[names[0]] = counts.get(names[0], -1) + 1
            table = (names[0], counts[names[0]], *names[1:]) if names[0] in counts else tuple(names)
            index.setdefault(table, number)
            continue
        key = _KEY.match(line)
        if key:
            index.setdefault((*table, key[1].strip('"')), number)
    return index
