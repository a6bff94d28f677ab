"""One cell of a pull file: a number as people and machines write it, a gap, or text that is no number."""

from __future__ import annotations

import math
import re

GAPS = {"", "-", "--", "---", "n/a", "na", "nan", "null", "none", "#n/a", "#div/0!", "#value!", "?", "*", "."}

LARGEST = 1e15  # beyond what any instrument writes, times of day in nanoseconds left out
_NUMBER = re.compile(r"[+-]?(?:\d[\d.,'’ ]*|[.,]\d+)(?:[eE][+-]?\d+)?")
_POINT = re.compile(r"[+-]?(?:\d+|[1-9]\d{0,2}(?:[,' ’]\d{3})+)?(?:\.\d*)?(?:[eE][+-]?\d+)?\Z")
_COMMA = re.compile(r"[+-]?(?:\d+|[1-9]\d{0,2}(?:[.' ’]\d{3})+)?(?:,\d*)?(?:[eE][+-]?\d+)?\Z")
_SPACES = str.maketrans({"\u00a0": " ", "\u2009": " ", "\u202f": " ", "\u2212": "-", "\u2013": "-"})


def tidy(cell: str) -> str:
    """The cell without outer blanks or quotes, with plain spaces and minus signs."""
    return cell.translate(_SPACES).strip().strip('"').strip()


def is_gap(cell: str) -> bool:
    """Whether the cell means "nothing measured"."""
    return tidy(cell).lower() in GAPS


def split_unit(cell: str) -> tuple[str, str]:
    """Number text and what follows it ("5500 rpm" -> "5500", "rpm"); ("", cell) when no number leads."""
    text = tidy(cell)
    match = _NUMBER.match(text)
    return (match[0].strip(), text[match.end():].strip()) if match else ("", text)


def number(text: str, decimal: str = ".") -> float | None:
    """The value of a number text with ``decimal`` "." or ","; NaN for a gap; None when it is no such number.

    Thousands may be grouped by the other mark, blanks or apostrophes, in full groups of three only.

    >>> number("1.234,5", ","), number("5 500"), number("45O.2"), number("5,5")
    (1234.5, 5500.0, None, None)
    """
    text = tidy(text)
    if is_gap(text):
        return math.nan
    pattern = _POINT if decimal == "." else _COMMA
    if not pattern.match(text) or not any(c.isdigit() for c in text):
        return None
    if decimal == ",":
        text = text.replace(".", "").replace(",", ".")
    value = float(re.sub(r"[,' ’]", "", text))
    return value if abs(value) < LARGEST else None
