"""A card with its parts as one table of tables that knows where each key came from."""

from __future__ import annotations

import copy
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pullcast.errors import CardError, InputError, Problem
from pullcast.sheets.files import Sheet, locate, project_root, read_sheet
from pullcast.sheets.lines import find_line

PARTS = ("cam", "head", "intake", "exhaust", "fuel", "day")
_TIMING = ("burn.ca50", "burn.spark", "burn.ca50_at_speeds", "burn.spark_at_speeds")
# keys that state the same thing another way: a change of one takes the place of the others
RIVALS = {
    **{key: tuple(k for k in _TIMING if k != key) for key in _TIMING},
    "intake.runner.length": ("intake.runner.lengths",), "intake.runner.lengths": ("intake.runner.length",),
    "exhaust.primary.length": ("exhaust.primary.lengths",), "exhaust.primary.lengths": ("exhaust.primary.length",),
    "exhaust.primary.id": ("exhaust.primary.od", "exhaust.primary.wall"),
    "exhaust.primary.od": ("exhaust.primary.id",),
    "exhaust.collector.id": ("exhaust.collector.od", "exhaust.collector.wall"),
    "exhaust.collector.od": ("exhaust.collector.id",),
    "block.compression_ratio": ("block.chamber", "block.piston_dish", "block.gasket_thickness", "block.gasket_bore",
                                "block.deck_clearance"),
    "cam.intake.valve_lift": ("cam.intake.lobe_lift",), "cam.intake.lobe_lift": ("cam.intake.valve_lift",),
    "cam.exhaust.valve_lift": ("cam.exhaust.lobe_lift",), "cam.exhaust.lobe_lift": ("cam.exhaust.valve_lift",),
    "day.station_pressure": ("day.sea_level_pressure", "day.altitude"),
}


@dataclass
class Tree:
    """The engine card's data with every part in its place; ``sheets`` holds the file each part came from."""

    data: dict[str, Any]
    main: Sheet
    folder: Path
    root: Path
    sheets: dict[str, Sheet] = field(default_factory=dict)
    named: dict[str, str] = field(default_factory=dict)  # a part given by name only -> the key that names it
    changed: set[str] = field(default_factory=set)
    problems: list[Problem] = field(default_factory=list)

    def locate(self, key: str) -> tuple[str, int | None]:
        """File and line of a key path such as "cam.intake.lash"."""
        if any(key == c or key.startswith(c + ".") for c in self.changed if c not in PARTS):
            return "change", None
        key = self.named.get(key.split(".")[0], key)
        if key.startswith("parts.") and key[6:] in self.changed:
            return "change", None
        path = tuple(int(p) if p.isdigit() else p for p in key.split(".") if p)
        if path and path[0] in self.sheets:
            sheet = self.sheets[path[0]]
            return sheet.name, find_line(sheet.lines, path[1:]) or 1
        return self.main.name, find_line(self.main.lines, path)

    @property
    def text(self) -> str:
        """All files as read, each under its name."""
        parts = [f"# ---- {self.main.name}\n{self.main.text.rstrip()}\n"]
        for name in dict.fromkeys(s.name for s in self.sheets.values()):
            sheet = next(s for s in self.sheets.values() if s.name == name)
            parts.append(f"# ---- {name}\n{sheet.text.rstrip()}\n")
        if self.changed:
            lines = [f"# {key} = {get_path(self.data, key)!r}" for key in sorted(self.changed) if key not in PARTS]
            parts.append("\n".join(["# ---- changes", *lines]) + "\n")
        return "\n".join(parts)


def plant(sheet: Sheet, folder: Path) -> Tree:
    """The tree of an engine card, part files read in; their problems are collected in ``problems``."""
    folder = folder.resolve()
    tree = Tree(copy.deepcopy(sheet.data), sheet, folder, project_root(folder))
    parts = tree.data.pop("parts", {})
    if not isinstance(parts, dict):
        tree.problems.append(Problem(sheet.name, find_line(sheet.lines, ("parts",)), "parts", "this is not a table",
                                     'Write [parts] and below it cam = "cams/street.toml".'))
        return tree
    for kind, reference in parts.items():
        key = f"parts.{kind}"
        if kind not in PARTS:
            import difflib

            near = difflib.get_close_matches(kind, PARTS, n=1, cutoff=0.5)
            tree.problems.append(Problem(*tree.locate(key), key, "this key is not known",
                                         f"Did you mean {near[0]}?" if near else f"Known here: {', '.join(PARTS)}."))
        elif kind in tree.data:
            tree.problems.append(Problem(*tree.locate(key), key, f"the {kind} is given twice: as a part file and as "
                                         f"[{kind}] in this card", "Keep one of the two."))
        else:
            graft(tree, kind, reference, key)
    return tree


def graft(tree: Tree, kind: str, reference: Any, key: str) -> None:
    """Put the part a reference names in its place; a fuel may be named by its key."""
    if not isinstance(reference, str):
        tree.problems.append(Problem(*tree.locate(key), key, f"{reference!r} is not a file name",
                                     'Write "cams/street.toml".'))
        return
    if kind == "fuel" and not reference.endswith(".toml"):
        tree.data["fuel"] = {"key": reference}
        tree.sheets.pop("fuel", None)
        tree.named["fuel"] = key
        return
    where = locate(reference, tree.folder, tree.root)
    if isinstance(where, str):
        tree.problems.append(Problem(*tree.locate(key), key, f'"{reference}": {where}'))
        return
    try:
        sheet = read_sheet(where, _short(where, tree.root))
    except CardError as e:
        if not where.is_file():
            tree.problems.append(Problem(*tree.locate(key), key, f'"{reference}": {e.problems[0].text}',
                                         e.problems[0].remedy))
        else:
            tree.problems += e.problems
        return
    tree.sheets[kind] = sheet
    tree.named.pop(kind, None)
    tree.data[kind] = copy.deepcopy(sheet.data)


def _short(path: Path, root: Path) -> str:
    return path.relative_to(root).as_posix() if path.is_relative_to(root) else path.name


def change(tree: Tree, swaps: dict[str, Any]) -> None:
    """Apply swaps: a part kind takes a part file, a key path takes a value. Parts go first.

    InputError for a path that leads nowhere (through something that is no table).
    """
    for key in sorted(swaps, key=lambda k: k not in PARTS):
        value = swaps[key]
        tree.changed.add(key)
        if key in PARTS and not isinstance(value, dict):
            tree.data.pop(key, None)
            graft(tree, key, value, f"parts.{key}")
        else:
            for rival in (r for r in RIVALS.get(key, ()) if r not in swaps):
                table = get_path(tree.data, rival.rpartition(".")[0])
                if isinstance(table, dict):
                    table.pop(rival.rpartition(".")[2], None)
            set_path(tree.data, key, value)


def get_path(data: Any, key: str) -> Any:
    """The value at a dotted path, None if there is none."""
    for part in key.split("."):
        if isinstance(data, list) and part.isdigit() and int(part) < len(data):
            data = data[int(part)]
        elif isinstance(data, dict):
            data = data.get(part)
        else:
            return None
    return data


def set_path(data: dict[str, Any], key: str, value: Any) -> None:
    """Set the value at a dotted path, making tables on the way; InputError if the path leads nowhere."""
    here: Any = data
    parts = key.split(".")
    for i, part in enumerate(parts):
        last = i == len(parts) - 1
        if isinstance(here, list) and part.isdigit() and int(part) < len(here):
            if last:
                here[int(part)] = value
            here = here[int(part)]
        elif isinstance(here, dict) and part:
            if last:
                here[part] = value
            here = here.setdefault(part, {})
        else:
            msg = f"change {key!r}: {'.'.join(parts[:i]) or 'the card'} is not a table; name a key, as cam.advance"
            raise InputError(msg)
