"""The layout of a pull file: delimiter, decimal mark, header and unit rows, rows of numbers with their lines."""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass

import numpy as np

from pullcast.errors import InputError
from pullcast.pulls.cells import is_gap, number, split_unit, tidy
from pullcast.pulls.labels import split_label, unit_named
from pullcast.pulls.textfile import TextFile

DELIMITERS = {"tab": "\t", "semicolon": ";", "comma": ",", "bar": "|", "blanks": " "}


@dataclass(frozen=True)
class Table:
    """A pull file as a table.

    ``labels`` name and unit text per column; ``values`` (rows, columns) floats, NaN for gaps; ``lines`` (rows,) line
    numbers in the file; ``notes`` what was decided on the way.
    """

    labels: tuple[str, ...]
    values: np.ndarray
    lines: np.ndarray
    delimiter: str
    decimal: str
    notes: tuple[str, ...] = ()


def read_table(text: TextFile, delimiter: str | None = None, decimal: str | None = None) -> Table:
    """Rows of numbers of a raw file; ``delimiter`` (a key of `DELIMITERS`) and ``decimal`` are found if not given.

    Raises `InputError` with the line and the reason: no two columns of numbers, uneven rows, text in a number.
    """
    delimiter = delimiter or _delimiter(text)
    rows = [(n, _cells(line, delimiter)) for n, line in enumerate(text.lines, 1)
            if line.strip() and not line.lstrip().startswith(("#", "%", "//"))]
    first = _first_row(rows, text)
    width = _width(rows[first:])
    decimal = decimal or _decimal([cells for _, cells in rows[first:]], delimiter)
    _check_headings(text, rows[:first], width, delimiter)
    labels = _labels(rows[:first], width)
    body, tail_units, notes = _numbers(text, rows[first:], width, decimal, labels)
    labels = tuple(f"{name} [{unit}]" if unit and split_label(name)[1] is None else name
                   for name, unit in zip(labels, tail_units, strict=True))
    values = np.array([cells for _, cells in body], float)
    return Table(labels, values, np.array([n for n, _ in body]), delimiter, decimal, notes)


def _cells(line: str, delimiter: str) -> list[str]:
    if delimiter == "blanks":
        return re.split(r"\s+", line.strip())
    cells = [tidy(c) for c in next(csv.reader([line], delimiter=DELIMITERS[delimiter]))]
    while len(cells) > 2 and cells[-1] == "":
        cells.pop()
    return cells


def _numeric(cell: str) -> bool:
    head, tail = split_unit(cell)
    return bool(head) and (number(head, ".") is not None or number(head, ",") is not None) \
        and (not tail or unit_named(tail) is not None)


def _delimiter(text: TextFile) -> str:
    lines = [s for s in text.lines if s.strip()][:400]
    scored = {name: _score(lines, name) for name in DELIMITERS}
    best = max(scored, key=scored.get)
    if scored[best] <= 0.0:
        msg = (f"{text.path}: no rows with two or more numbers were found in {len(lines)} lines. A pull needs "
               "columns of rpm and torque or power.")
        raise InputError(msg)
    return best


def _score(lines: list[str], name: str) -> float:
    counted = [_cells(s, name) for s in lines]
    data = [c for c in counted if len(c) > 1 and sum(map(_numeric, c)) >= max(2, 0.5 * len(c))]
    if not data:
        return 0.0
    width = Counter(len(c) for c in data).most_common(1)[0][0]
    even = sum(len(c) == width for c in data) / len(lines)
    pure = float(np.mean([_numeric(x) or is_gap(x) for c in data for x in c]))
    head = any(len(c) == width and not any(map(_numeric, c)) for c in counted)
    return even * pure**4 + (0.3 if head else 0.0)


def _first_row(rows: list[tuple[int, list[str]]], text: TextFile) -> int:
    for i, (_, cells) in enumerate(rows):
        filled = [c for c in cells if not is_gap(c)]
        if len(filled) > 1 and sum(map(_numeric, cells)) >= max(2, 0.5 * len(filled)):
            return i
    msg = f"{text.path}: no row holds two numbers. A pull needs columns of rpm and torque or power."
    raise InputError(msg)


def _width(rows: list[tuple[int, list[str]]]) -> int:
    return Counter(len(cells) for _, cells in rows).most_common(1)[0][0]


def _decimal(rows: list[list[str]], delimiter: str) -> str:
    numbers = [head for cells in rows for head in (split_unit(c)[0] for c in cells) if head]
    if any(re.search(r"\.\d*,\d+\Z", t) or re.search(r",\d{1,2}\Z|,\d{4,}\Z|\A0,", t) for t in numbers):
        return ","
    if any("." in t for t in numbers) or not any("," in t for t in numbers):
        return "."
    columns = zip(*[[split_unit(c)[0] for c in r] for r in rows if len(r) == len(rows[0])], strict=True)
    grouped = [[number(t, ".") for t in column] for column in columns]
    speeds = any(all(v is not None and 300 < v < 25000 for v in c) and min(c) < max(c) for c in grouped)
    return "." if speeds else ","


def _check_headings(text: TextFile, above: list[tuple[int, list[str]]], width: int, delimiter: str) -> None:
    if delimiter != "comma" or not above or len(above[-1][1]) < 2 or len(above[-1][1]) > 0.6 * width:
        return
    line, cells = above[-1]
    msg = (f"{text.path}:{line}: the headings name {len(cells)} columns but the rows below have {width}: decimal "
           "commas and commas between columns cannot be told apart. Export with semicolons or tabs.")
    raise InputError(msg)


def _labels(above: list[tuple[int, list[str]]], width: int) -> list[str]:
    fitting: list[list[str]] = []
    for _, cells in reversed(above):
        if not width - 1 <= len(cells) <= width or len(fitting) == 3:
            break
        fitting.insert(0, [*cells, *[""] * (width - len(cells))])
    if not fitting:
        return [f"column {i}" for i in range(1, width + 1)]
    is_units = len(fitting) > 1 and all(unit_named(c) or is_gap(c) for c in fitting[-1])
    names = fitting[:-1] if is_units else fitting
    joined = [" ".join(part for part in column if part).strip() for column in zip(*names, strict=True)]
    if is_units:
        joined = [f"{n} [{u.strip(' ()[]')}]" if u and not is_gap(u) else n
                  for n, u in zip(joined, fitting[-1], strict=True)]
    return [n or f"column {i}" for i, n in enumerate(joined, 1)]


def _numbers(text, rows, width, decimal, labels):
    body, notes, tails = [], [], [set() for _ in range(width)]
    skipped = []
    for line, cells in rows:
        if not any(_numeric(c) for c in cells):
            skipped.append(line)
            continue
        if len(cells) < width:
            cells = [*cells, *[""] * (width - len(cells))]
        elif len(cells) > width:
            msg = (f"{text.path}:{line}: {len(cells)} cells where the other rows have {width}: a decimal comma read "
                   "as a delimiter, or a stray mark? Export with another delimiter or say which in [columns].")
            raise InputError(msg)
        body.append((line, [_value(text, line, c, decimal, labels[i], tails[i]) for i, c in enumerate(cells)]))
    if skipped:
        notes.append(f"rows without numbers left out: {_some(skipped)}")
    return body, [next(iter(t)) if len(t) == 1 else "" for t in tails], tuple(notes)


def _value(text: TextFile, line: int, cell: str, decimal: str, label: str, tails: set[str]) -> float:
    if is_gap(cell):
        return np.nan
    head, tail = split_unit(cell)
    value = number(head, decimal) if head else None
    if value is None and not any(ch.isdigit() for ch in cell):
        return np.inf  # a word; refused below the mapping if the column is used
    if value is None or (tail and unit_named(tail) is None):
        if re.search(r"[:/]", cell):
            return np.inf  # a clock or date
        msg = (f"{text.path}:{line}: {cell!r} in column {label!r} is no number (decimal mark {decimal!r}). Mend the "
               "export, or leave the line out in the session card with a reason.")
        raise InputError(msg)
    if tail:
        tails.add(tail)
    return value


def _some(lines: list[int]) -> str:
    shown = ", ".join(str(n) for n in lines[:6])
    return f"line {shown}" if len(lines) == 1 else f"lines {shown}" + (" ..." if len(lines) > 6 else "")
