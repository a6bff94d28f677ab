"""What the record of many days gives to a report: how far off forecasts were, and how honest about it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pullcast.answers.ledger import read_ledger
from pullcast.answers.ledger_score import score_ledger
from pullcast.errors import InputError
from pullcast.show.report.blocks import Picture, lines
from pullcast.show.report.chapter import Share


@dataclass(frozen=True, repr=False)
class Record:
    """The entries of a ledger file, one a comparison."""

    name: str
    entries: tuple[Mapping[str, Any], ...]


def read_record(path: str | Path) -> Record:
    """The record in a .jsonl file; InputError when it is empty, and what ``read_ledger`` raises."""
    entries = tuple(read_ledger(path))
    if not entries:
        msg = f"{path}: the record is empty; compare SESSION --ledger {path} begins one"
        raise InputError(msg)
    return Record(Path(path).name, entries)


def share(record: Record, units: str) -> Share:
    """The share of a record."""
    from pullcast.show.compare_plots import ledger_figure

    first, *rest = repr(score_ledger(record.entries)).split("\n")
    picture = Picture(lambda: ledger_figure(record.entries), "Band errors in the order scored, and predicted against "
                      "measured differences.")
    return Share("How good have the forecasts been?", (f"{first[:1].upper()}{first[1:]}; {rest[0]}.",), 25,
                 f"Record {record.name}", (picture,), lines(rest))
