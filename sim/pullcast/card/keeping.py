"""A planted card as one text that keeps the words of the files it came from: comments, order, how values are written.

The files are set one after the other, each part under its own name; what differs from them is changed in place. The
outcome is read again and held against what it should say: where the two differ there is no such text.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from typing import Any

from pullcast.card.tree import PARTS, Tree
from pullcast.card.written import is_table, is_tables, key_text, table_lines, value_text
from pullcast.sheets.lines import Path, line_index

GONE = object()
_HEAD = re.compile(r"(\s*\[\[?\s*)")
_KEY = re.compile(r"""\s*(?:"(?:[^"\\]|\\.)*"|'[^']*'|[A-Za-z0-9_.\- ]+?)\s*=\s*""")


class Lost(Exception):
    """A change has no place in the text."""


def kept_text(tree: Tree) -> str | None:
    """The card of a planted tree with its changes in the words of its files; None where that cannot be."""
    text, wanted = composed(tree), plain(tree.data)
    try:
        for path, value in list(differences(tomllib.loads(text), wanted, ())):
            text = edited(text, path, value)
        return text if tomllib.loads(text) == wanted else None
    except (tomllib.TOMLDecodeError, Lost):
        return None


def plain(value: Any) -> Any:
    """Tables and lists as the reader gives them, without keys that have no value."""
    if isinstance(value, Mapping):
        return {k: plain(v) for k, v in value.items() if v is not None}
    return [plain(v) for v in value] if isinstance(value, list | tuple) else value


def composed(tree: Tree) -> str:
    """The engine card without its references to parts, and the files of the parts after it."""
    replaced = {"parts", *tree.sheets}
    text = without_tables(tree.main.text, lambda path: path[0] in replaced).rstrip() + "\n"
    for kind in (k for k in PARTS if k in tree.sheets):
        sheet = tree.sheets[kind]
        heads = headers(sheet.text)
        lines = [_HEAD.sub(rf"\g<1>{kind}.", line, count=1) if n in heads else line
                 for n, line in enumerate(sheet.text.rstrip().split("\n"), start=1)]
        text += f"\n# ---- {kind}, from {sheet.name}\n[{kind}]\n" + "\n".join(lines) + "\n"
    return text


def differences(base: Mapping[str, Any], wanted: Mapping[str, Any], path: Path) -> Iterator[tuple[Path, Any]]:
    """What must change from one table of tables to another: path and new value, ``GONE`` where there is none."""
    for key in base:
        if key not in wanted:
            yield (*path, key), GONE
    for key, value in wanted.items():
        here, before = (*path, key), base.get(key, GONE)
        if is_table(before) and is_table(value):
            yield from differences(before, value, here)
        elif is_tables(before) and is_tables(value) and len(before) == len(value):
            for i, (old, new) in enumerate(zip(before, value, strict=True)):
                yield from differences(old, new, (*here, i))
        elif before is GONE or before != value or type(before) is not type(value):
            yield here, value


def edited(text: str, path: Path, value: Any) -> str:
    """A text with one value set, put in, or taken out (``GONE``). Raises Lost."""
    index = line_index(text)
    if path not in index:
        return added(text, path, value)
    if index[path] in headers(text):
        rest = without_tables(text, lambda head: head[:len(path)] == path)
        return rest if value is GONE else added(rest, path, value)
    start, end = span(text, index[path], path)
    if value is GONE:
        above = text.rfind("\n", 0, start) + 1
        below = text.find("\n", end)
        return text[:above] + (text[below + 1:] if below >= 0 else "")
    if is_table(value) or is_tables(value):
        raise Lost
    return text[:start] + value_text(value) + text[end:]


def added(text: str, path: Path, value: Any) -> str:
    """A text with a value put in at the end of its table, or in a table of its own at the end of the text."""
    if value is GONE or any(isinstance(p, int) for p in path[-1:]):
        raise Lost
    home, key = path[:-1], str(path[-1])
    if is_table(value) or is_tables(value):
        if any(isinstance(p, int) for p in home):
            raise Lost
        made = {key: value} if is_tables(value) else value
        return text.rstrip() + "\n" + "\n".join(table_lines(made, home if is_tables(value) else path)) + "\n"
    lines, line = text.split("\n"), f"{key_text(key)} = {value_text(value)}"
    heads = headers(text)
    starts = [n for n, head in heads.items() if head == home]
    if not starts and home:
        if any(isinstance(p, int) for p in home):
            raise Lost
        return text.rstrip() + f"\n\n[{'.'.join(key_text(str(p)) for p in home)}]\n{line}\n"
    first = starts[0] if home else 0
    end = min((n for n in heads if n > first), default=len(lines) + 1) - 1
    while end > first and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    return "\n".join([*lines[:end], line, *lines[end:]])


def headers(text: str) -> dict[int, Path]:
    """The lines (from 1) that begin a table, and which."""
    lines = text.split("\n")
    return {n: path for path, n in line_index(text).items() if lines[n - 1].lstrip().startswith("[")}


def without_tables(text: str, taken: Callable[[Path], bool]) -> str:
    """A text without the tables that are ``taken``; remarks right above the next table stay with that."""
    lines, heads = text.split("\n"), headers(text)
    ends = [*sorted(heads), len(lines) + 1]
    kept = lines[:ends[0] - 1]
    for first, end in pairwise(ends):
        body = lines[first - 1:end - 1]
        if not taken(heads[first]):
            kept += body
            continue
        above = len(body)
        while above > 1 and body[above - 1].lstrip().startswith("#"):
            above -= 1
        kept += body[above:]
    return "\n".join(kept)


def span(text: str, line: int, path: Path) -> tuple[int, int]:
    """Where the value of the key on a line begins and ends. Raises Lost if the line's key is another."""
    start = sum(len(row) + 1 for row in text.split("\n")[:line - 1])
    match = _KEY.match(text, start)
    if match is None or match[0].partition("=")[0].strip().split(".")[-1].strip("\"' ") != str(path[-1]):
        raise Lost
    return match.end(), value_end(text, match.end())


def value_end(text: str, at: int) -> int:
    """Where the value that begins at ``at`` ends: before a remark or the line's end, beyond texts and brackets.

    >>> value_end('["a#]", # one\\n 2] # two', 0)
    17
    """
    depth = 0
    while at < len(text):
        mark = next((m for m in ('\"\"\"', "'''", '"', "'") if text.startswith(m, at)), "")
        if mark:
            at += len(mark)
            while not text.startswith(mark, at):
                if at >= len(text):
                    raise Lost
                at += 2 if text[at] == "\\" and mark[0] == '"' else 1
            at += len(mark)
            if depth == 0:
                return at
            continue
        c = text[at]
        depth += (c in "[{") - (c in "]}")
        if c in "]}" and depth == 0:
            return at + 1
        if depth == 0 and c in "#\n\r":
            return at - len(text[:at]) + len(text[:at].rstrip(" \t"))
        if c == "#":
            at = text.find("\n", at)
            if at < 0:
                raise Lost
            continue
        at += 1
    return len(text.rstrip())
