"""Which column of a pull file is which: a guess with its confidence, or the mapping a session card keeps."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field

from pullcast.errors import InputError
from pullcast.pulls.labels import CHANNELS, Unit, channel_named, is_corrected, split_label, squeeze, unit_named
from pullcast.pulls.layout import Table
from pullcast.pulls.plausible import agree_units, check_speed, usual_unit

SURE = 0.8  # a guess below this is never used unasked


@dataclass(frozen=True)
class Column:
    """One column in use: its label in the file (or its number from 1) and its unit as text."""

    label: str | int
    unit: str


@dataclass(frozen=True)
class Mapping:
    """How files of one dyno are read: delimiter and decimal mark (None: found per file), channel -> `Column`."""

    columns: dict[str, Column] = field(default_factory=dict)
    delimiter: str | None = None
    decimal: str | None = None


@dataclass(frozen=True)
class Guess:
    """A `Mapping` read off a file, its confidence (0 to 1, that of the least certain needed column), and why."""

    mapping: Mapping
    confidence: float
    reasons: tuple[str, ...]
    corrected: bool

    def __repr__(self) -> str:
        """Channels with their columns and units, and the confidence."""
        used = ", ".join(f"{c} = {k.label!r} in {k.unit or '-'}" for c, k in self.mapping.columns.items())
        return f"columns guessed with confidence {self.confidence:.2f}: {used}"


def guess(table: Table, where: str) -> Guess:
    """Guess the mapping of ``table``; `InputError` when it shows no speed, or neither torque nor power."""
    found = _by_label(table)
    if "rpm" not in found or not {"torque", "power"} & set(found):
        missing = "engine speed" if "rpm" not in found else "torque or power"
        msg = (f"{where}: no column is named like {missing}; columns are: {', '.join(table.labels)}. Say which in "
               '[columns] of the session card, such as rpm = { column = "RPM", unit = "rpm" }.')
        raise InputError(msg)
    _refuse_twins(table, found, where)
    chosen, sure, reasons = {}, {}, []
    for channel, (index, confidence) in found.items():
        unit = _unit_of(table.labels[index], channel)
        chosen[channel], sure[channel] = (index, unit), confidence
    chosen, sure, reasons = agree_units(table, chosen, sure, where)
    check_speed(table, chosen, where)
    needed = [sure["rpm"], max(sure.get("torque", 0.0), sure.get("power", 0.0))]
    columns = {c: Column(_label(table, i), u.text if u else "") for c, (i, u) in chosen.items()}
    corrected = any(is_corrected(table.labels[i]) for c, (i, _) in chosen.items() if c in ("torque", "power"))
    return Guess(Mapping(columns, table.delimiter, table.decimal), min(needed), tuple(reasons), corrected)


def locate(table: Table, mapping: Mapping, where: str) -> dict[str, tuple[int, Unit]]:
    """Column index and unit per channel of a kept mapping; `InputError` names the nearest label if one is missing."""
    out = {}
    for channel, column in mapping.columns.items():
        kind = CHANNELS[channel][0]
        unit = unit_named(column.unit) if column.unit else usual_unit(channel)
        if unit is None or (unit.quantity != kind and channel not in ("airflow",)):
            msg = f"{where}: [columns] {channel}: unit {column.unit!r} is no unit of {kind} in a pull file."
            raise InputError(msg)
        out[channel] = _index(table, column.label, channel, where), unit
    if "rpm" not in out or not {"torque", "power"} & set(out):
        msg = f"{where}: [columns] needs rpm and torque or power; it has {', '.join(out) or 'nothing'}."
        raise InputError(msg)
    return out


def _index(table: Table, label: str | int, channel: str, where: str) -> int:
    if isinstance(label, int):
        if 1 <= label <= len(table.labels):
            return label - 1
        msg = f"{where}: [columns] {channel}: column {label} of {len(table.labels)} does not exist."
        raise InputError(msg)
    names = {squeeze(text): i for i, text in reversed(list(enumerate(table.labels)))}
    if squeeze(label) in names:
        return names[squeeze(label)]
    near = difflib.get_close_matches(squeeze(label), names, n=1, cutoff=0.5)
    hint = f" Did you mean {table.labels[names[near[0]]]!r}?" if near else f" It has: {', '.join(table.labels)}."
    msg = f"{where}: [columns] {channel}: no column {label!r}.{hint}"
    raise InputError(msg)


def _by_label(table: Table) -> dict[str, tuple[int, float]]:
    found: dict[str, tuple[int, float]] = {}
    for i, label in enumerate(table.labels):
        channel, sure = channel_named(label)
        if channel is None:
            continue
        if is_corrected(label):
            sure -= 0.08  # the observed column is preferred where both are there
        if channel not in found or sure > found[channel][1]:
            found[channel] = i, sure
    return found


def _refuse_twins(table: Table, found: dict[str, tuple[int, float]], where: str) -> None:
    same = [squeeze(label) for label in table.labels]
    for channel in ("rpm", "torque", "power"):
        if channel in found and same.count(same[found[channel][0]]) > 1:
            here = [str(i) for i, label in enumerate(same, 1) if label == same[found[channel][0]]]
            msg = (f"{where}: columns {' and '.join(here)} are all named {table.labels[found[channel][0]]!r}: "
                   f"several pulls side by side? Say which by its number in [columns], such as {channel} = {{ column "
                   f"= {here[0]}, unit = ... }}, or split the file.")
            raise InputError(msg)


def _unit_of(label: str, channel: str) -> Unit | None:
    unit = split_label(label)[1]
    return unit if unit is not None and unit.quantity == CHANNELS[channel][0] else \
        unit if unit is not None and channel == "airflow" and unit.quantity == "volume flow" else None


def _label(table: Table, index: int) -> str | int:
    label = table.labels[index]
    return index + 1 if label == f"column {index + 1}" or table.labels.count(label) > 1 else label
