"""The [columns] table of a session card: how the raw files of one dyno are read, kept so that it is asked once."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from pullcast.errors import InputError
from pullcast.pulls.card_text import CardText
from pullcast.pulls.labels import CHANNELS
from pullcast.pulls.layout import DELIMITERS
from pullcast.pulls.mapping import Column, Mapping


def read_mapping(card: CardText) -> Mapping | None:
    """The `Mapping` of the card, None without [columns]; faults are noted, not raised."""
    if "columns" not in card.data:
        return None
    table = card.table("columns", ("delimiter", "decimal", *CHANNELS))
    columns = {}
    for channel in (c for c in table if c in CHANNELS):
        given = table[channel]
        given = given if isinstance(given, dict) else {"column": given}
        label = given.get("column")
        card.known(given, ("column", "unit"), "columns", channel)
        if not isinstance(label, str | int) or isinstance(label, bool):
            card.problem(("columns", channel), "names no column",
                         f'Write {channel} = {{ column = "RPM", unit = "rpm" }}; a number counts columns from 1.')
            continue
        columns[channel] = Column(label, str(given.get("unit", "")))
    delimiter = card.choice(table, "delimiter", ("", *DELIMITERS), "", "columns") or None
    decimal = card.choice(table, "decimal", ("", ".", ","), "", "columns") or None
    return Mapping(columns, delimiter, decimal)


def remember_mapping(path: str | Path, mapping: Mapping) -> None:
    """Add ``mapping`` to the session card as [columns], once; the rest of the card stays as it is.

    Raises `InputError` when the card already holds [columns]. The card is replaced as a whole or not at all.
    """
    path = Path(path)
    if "columns" in CardText(path).data:
        msg = f"{path}: the card already holds [columns]; edit it by hand or remove it first."
        raise InputError(msg)
    text = path.read_text(encoding="utf-8-sig").rstrip("\n")
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.name, suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(f"{text}\n\n{mapping_text(mapping)}")
        Path(name).chmod(path.stat().st_mode)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def mapping_text(mapping: Mapping) -> str:
    """A mapping as the [columns] table of a session card."""
    lines = ["[columns]  # how the files of this dyno are read"]
    lines += [f'{k} = "{v}"' for k, v in (("delimiter", mapping.delimiter), ("decimal", mapping.decimal)) if v]
    for channel, column in mapping.columns.items():
        label = column.label if isinstance(column.label, int) else _quoted(column.label)
        lines.append(f"{channel} = {{ column = {label}, unit = {_quoted(column.unit)} }}")
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
