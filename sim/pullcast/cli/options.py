"""Options that several verbs share, and the reading of their texts."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Annotated, Literal

import typer

from pullcast.errors import InputError

Card = Annotated[Path, typer.Argument(metavar="CARD", show_default=False, help="The engine card, a .toml file.")]
Units = Annotated[Literal["si", "us"], typer.Option(help="Units of tables, JSON, CSV and pictures.")]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document with unit-suffixed keys, nothing else.")]

MOST_SPEEDS = 500


def parse_speeds(text: str) -> list[float]:
    """Speeds (rpm) from ``"1500:6500:500"`` (first:last:step) or a list ``"2000, 3000, 4500"``.

    A last speed that the step does not meet is left out. Raises InputError, showing both forms, for anything else.

    >>> parse_speeds("1500:3000:500")
    [1500.0, 2000.0, 2500.0, 3000.0]
    """
    if ":" in text:
        parts = [_rpm(part, text) for part in text.split(":")]
        if len(parts) != 3:
            raise InputError(_speeds_message(text, "a range needs first:last:step"))
        first, last, step = parts
        if last < first:
            raise InputError(_speeds_message(text, "the last speed is below the first"))
        count = math.floor((last - first) / step + 1e-9) + 1
        if count > MOST_SPEEDS:
            raise InputError(_speeds_message(text, f"{count} speeds are too many, at most {MOST_SPEEDS}"))
        return [first + k * step for k in range(count)]
    speeds = [_rpm(part, text) for part in re.split(r"[,;\s]+", text.strip(" ,;"))]
    return sorted(set(speeds))


def _rpm(part: str, text: str) -> float:
    try:
        value = float(part)
    except ValueError:
        raise InputError(_speeds_message(text, f"{part.strip()!r} is not a number")) from None
    if not (math.isfinite(value) and value > 0):
        raise InputError(_speeds_message(text, f"{part.strip()} is not above zero"))
    return value


def _speeds_message(text: str, what: str) -> str:
    return f"--speeds {text!r}: {what}. Give rpm as first:last:step (1500:6500:500) or a list (2000,3000,4000)."


def parse_cell(text: str) -> float:
    """Length of the duct cells, m, from a text with its unit; InputError outside 1 to 200 mm."""
    from pullcast.units import to_si

    try:
        length = to_si(text, "length")
    except InputError as error:
        msg = f"--cell: {error}"
        raise InputError(msg) from None
    if not 1e-3 <= length <= 0.2:
        msg = f"--cell {text!r}: cells of 1 to 200 mm can be used; 15 to 25 mm converge torque within 0.2 %"
        raise InputError(msg)
    return length


def parse_station(text: str) -> tuple[str, float]:
    """A place in a pipe, (name, m from its start), from ``"primary 1:300 mm"``; InputError showing the form."""
    from pullcast.units import to_si

    pipe, colon, distance = text.rpartition(":")
    if not colon or not pipe.strip():
        msg = f"--station {text!r}: give a pipe and a distance from its start, as 'primary 1:300 mm'"
        raise InputError(msg)
    try:
        return pipe.strip(), to_si(distance.strip(), "length")
    except InputError as error:
        msg = f"--station {text!r}: {error}"
        raise InputError(msg) from None


def print_json(document: object) -> None:
    """Print a document as strict JSON (no nan, no infinity) on stdout."""
    print(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False))
