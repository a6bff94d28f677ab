"""Where each key of a TOML text stands: a line index beside the standard reader, for messages with a line."""

from __future__ import annotations

import re

Path = tuple[str | int, ...]
_PART = r"""\s*("(?:[^"\\]|\\.)*"|'[^']*'|[A-Za-z0-9_-]+)\s*"""
_KEYS = re.compile(rf"{_PART}(?:\.{_PART})*")
_ONE = re.compile(_PART)
_INLINE = re.compile(r"""[{,]\s*([A-Za-z0-9_-]+)\s*=""")


def line_index(text: str) -> dict[Path, int]:
    """Line number (from 1) of every table and key of a valid TOML text, keyed by path; list items by position.

    Keys inside an inline table share the line they stand on; items of arrays are not listed apart.
    """
    index: dict[Path, int] = {}
    table: Path = ()
    counts: dict[Path, int] = {}
    closing = ""
    depth = 0
    for number, line in enumerate(text.split("\n"), start=1):
        if closing:
            closing = "" if closing in line else closing
            continue
        bare = _without_strings(line)
        if depth > 0:
            depth = max(0, depth + _nesting(bare))
            continue
        stripped = line.strip()
        if stripped.startswith("["):
            table = _table_path(stripped, counts)
            index.setdefault(table, number)
            continue
        match = _KEYS.match(line)
        if match is None or line[match.end():match.end() + 1] != "=":
            continue
        path = table + _names(match[0])
        for i in range(len(table) + 1, len(path) + 1):
            index.setdefault(path[:i], number)
        value = line[match.end() + 1:]
        for inner in _INLINE.finditer(_without_strings(value)):
            index.setdefault((*path, inner[1]), number)
        closing = _open_text(value)
        depth = max(0, _nesting(_without_strings(value))) if not closing else 0
    return index


def find_line(index: dict[Path, int], path: Path) -> int | None:
    """Line of a path, or of the nearest table around it."""
    for n in range(len(path), 0, -1):
        if path[:n] in index:
            return index[path[:n]]
    return None


def _names(text: str) -> Path:
    return tuple(m[1].strip("\"'") for m in _ONE.finditer(text))


def _table_path(header: str, counts: dict[Path, int]) -> Path:
    inner = header.strip("[] \t").split("]")[0]
    path: Path = ()
    names = _names(inner)
    for i, name in enumerate(names):
        path = (*path, name)
        last = i == len(names) - 1
        if header.startswith("[[") and last:
            counts[path] = counts.get(path, -1) + 1
            path = (*path, counts[path])
        elif path in counts and not last:
            path = (*path, counts[path])
    return path


def _without_strings(line: str) -> str:
    return re.sub(r"#.*", "", re.sub(r"""("(?:[^"\\]|\\.)*"|'[^']*')""", '""', line))


def _nesting(bare: str) -> int:
    return sum(bare.count(c) for c in "[{") - sum(bare.count(c) for c in "]}")


def _open_text(value: str) -> str:
    for mark in ('\"\"\"', "\'\'\'"):
        if value.count(mark) == 1:
            return mark
    return ""
