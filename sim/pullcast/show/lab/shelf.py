"""What can be picked: engine cards and part files of a folder, and a starter engine of each class."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from pullcast.card.classes import CLASSES
from pullcast.card.starter import starter
from pullcast.card.tree import PARTS, Tree, plant
from pullcast.errors import CardError, InputError, Problem
from pullcast.sheets.files import MAX_BYTES, Sheet, parse_sheet, project_root, read_sheet

FOLDERS = {"cam": "cams", "head": "heads", "intake": "intakes", "exhaust": "exhausts", "fuel": "fuels", "day": "days"}
STARTER = "starter/"
MOST = 500  # files listed of one folder


@dataclass(frozen=True)
class Shelf:
    """Cards of a project folder (``engines``, ``cams`` ...); ``folder`` None: starter engines alone."""

    folder: Path | None = None
    opened: str = ""  # reference of the card the page was opened with

    @cached_property
    def engines(self) -> dict[str, str]:
        """References of engine cards and their names; starters last."""
        found = self._listed("engines")
        if self.opened and self.opened not in found:
            found = {self.opened: self._name(self.opened), **found}
        return found | {STARTER + name: f"starter: {c.title}" for name, c in CLASSES.items()}

    @cached_property
    def parts(self) -> dict[str, dict[str, str]]:
        """References of part files and their names, by kind of part."""
        return {kind: self._listed(FOLDERS[kind]) for kind in PARTS}

    @property
    def first(self) -> str:
        """The engine to begin with."""
        return self.opened or next(iter(self.engines))

    def tree(self, reference: str) -> Tree:
        """The planted tree of an engine on the shelf; InputError if it is not there, CardError if it is no card."""
        if reference not in self.engines:
            msg = f"there is no engine {reference!r} on the shelf"
            raise InputError(msg)
        if reference.startswith(STARTER):
            name = reference.removeprefix(STARTER)
            return plant(parse_sheet(starter(name), f"starter {name}"), self._base)
        path = self.folder / reference
        return plant(read_sheet(path, path.name), path.parent)

    def tree_of_text(self, text: str, name: str) -> Tree:
        """The planted tree of a card that somebody typed or opened. It may refer to parts of the shelf alone.

        Raises CardError for a text that is too long, is no TOML, or refers to a file that is not on the shelf.
        """
        if len(text.encode("utf-8", "replace")) > MAX_BYTES:
            raise CardError([Problem(name, None, "", f"the card has more than {MAX_BYTES} bytes",
                                     "A card is a short text.")])
        sheet = parse_sheet(text, name)
        problems = list(self._strangers(sheet))
        if problems:
            raise CardError(problems)
        return plant(sheet, self._base)

    def has_part(self, kind: str, reference: str) -> bool:
        """Whether a part file is on the shelf (a fuel may go by the key of its gas table)."""
        return reference in self.parts.get(kind, {})

    @property
    def _base(self) -> Path:
        return self.folder if self.folder is not None else Path(__file__).parent / "no_parts"

    def _strangers(self, sheet: Sheet):
        parts = sheet.data.get("parts")
        for kind, reference in (parts.items() if isinstance(parts, dict) else ()):
            named = isinstance(reference, str) and reference.endswith(".toml")
            if kind in PARTS and isinstance(reference, str) and "/" not in reference and not named:
                continue  # a fuel by its key; anything else is named by the reader
            if kind in PARTS and not self.has_part(kind, reference if isinstance(reference, str) else ""):
                fits = ", ".join(list(self.parts[kind])[:6]) or f"write the part into the card as [{kind}]"
                yield Problem(sheet.name, None, f"parts.{kind}", "this file is not on the shelf", f"There: {fits}.")

    def _listed(self, kind: str) -> dict[str, str]:
        place = None if self.folder is None else self.folder / kind
        if place is None or not place.is_dir():
            return {}
        files = sorted(p for p in place.iterdir() if p.suffix == ".toml" and p.is_file())[:MOST]
        inside = [p for p in files if p.resolve().is_relative_to(self.folder.resolve())]
        return {f"{kind}/{p.name}": self._name(f"{kind}/{p.name}") for p in inside}

    def _name(self, reference: str) -> str:
        try:
            path = self.folder / reference
            named = tomllib.loads(read_sheet(path, path.name).text).get("name")
        except (CardError, OSError):
            named = None
        return named if isinstance(named, str) and named.strip() else Path(reference).stem.replace("_", " ")


def shelf_of(card: Path | None, start: Path | None = None) -> Shelf:
    """The shelf around a card file; without one that of ``configs`` or of ``start`` (default: where we are), else the
    cards that come with the lessons.

    Raises CardError if the card cannot be read.
    """
    if card is not None:
        resolve = card.resolve()
        read_sheet(card, card.name)
        root = project_root(resolve.parent)
        return Shelf(root, resolve.relative_to(root).as_posix())
    from pullcast.show.lessons import CARDS

    start = start or Path.cwd()
    for folder in (start / "configs", start, CARDS):
        if (folder / "engines").is_dir():
            return Shelf(folder.resolve())
    return Shelf()
