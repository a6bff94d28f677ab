"""Read one measured pull from a raw file of any layout. The file is opened for reading only."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from pullcast.errors import InputError
from pullcast.pulls.layout import read_table
from pullcast.pulls.mapping import SURE, Guess, Mapping, guess, locate
from pullcast.pulls.sweep import clean, grouped
from pullcast.pulls.textfile import read_text


@dataclass(frozen=True)
class Pull:
    """One measured pull as it stands in its file.

    ``rpm`` (n,) rising; ``torque`` (n,) N m as recorded; ``channels`` name -> (n,) SI; ``acceleration`` (n,) rpm/s
    from the file's own clock, or None; ``kind`` "sweep" or "steady"; ``notes`` all that was left out or
    decided, with lines.
    """

    path: Path
    rpm: np.ndarray
    torque: np.ndarray
    kind: str
    channels: dict[str, np.ndarray] = field(default_factory=dict)
    acceleration: np.ndarray | None = None
    corrected: bool = False
    mapping: Mapping = field(default_factory=Mapping)
    notes: tuple[str, ...] = ()
    sha256: str = ""

    @property
    def power(self) -> np.ndarray:
        """Brake power (n,) in W: torque times speed."""
        return self.torque * self.rpm * math.pi / 30.0

    def __repr__(self) -> str:
        """File, kind, points, speed range and peak in one line."""
        top = int(np.argmax(self.torque))
        return (f"{self.kind} pull {self.path.name}: {self.rpm.size} points, "
                f"{self.rpm[0]:.0f} to {self.rpm[-1]:.0f} rpm, peak {self.torque[top]:.1f} N m "
                f"at {self.rpm[top]:.0f} rpm, {len(self.notes)} notes")


def guess_mapping(path: str | Path, mapping: Mapping | None = None) -> Guess:
    """Which columns of a file are which and in which units, with a confidence; nothing is stored."""
    given = mapping or Mapping()
    text = read_text(path)
    return guess(read_table(text, given.delimiter, given.decimal), str(text.path))


def read_pull(path: str | Path, mapping: Mapping | None = None, *, kind: str | None = None,
              leave_out: tuple[int, ...] = (), take_guess: bool = False) -> Pull:
    """Read the pull in ``path``.

    ``mapping`` is what a session card keeps; without it the columns are guessed, and a guess below 0.8 is refused
    unless ``take_guess``. ``kind`` "sweep" or "steady" is found if not given; ``leave_out`` are line numbers excluded
    by the session card. Raises `InputError` naming the file, the line and the reason.
    """
    text = read_text(path)
    where = str(text.path)
    if leave_out:
        gone = set(leave_out)
        lines = tuple("" if n in gone else line for n, line in enumerate(text.lines, 1))
        text = type(text)(text.path, lines, text.encoding, text.sha256)
    kept = mapping if mapping is not None and mapping.columns else None
    table = read_table(text, mapping.delimiter if mapping else None, mapping.decimal if mapping else None)
    notes = list(table.notes)
    if kept is None:
        found = guess(table, where)
        if found.confidence < SURE and not take_guess:
            msg = (f"{where}: {found!r}; that is below {SURE}. {'; '.join(found.reasons)}. Say the columns and units "
                   "in [columns] of the session card.")
            raise InputError(msg)
        notes += found.reasons
        kept, corrected = found.mapping, found.corrected
    else:
        corrected = False
    chosen = locate(table, kept, where)
    return _assemble(text, table, chosen, kept, corrected, kind, notes, where)


def _assemble(text, table, chosen, mapping, corrected, kind, notes, where) -> Pull:
    si = {c: unit.to_si(_column(table, i, c, where)) for c, (i, unit) in chosen.items()}
    rpm = si.pop("rpm")
    if "torque" in si:
        torque = si.pop("torque")
    else:
        with np.errstate(divide="ignore", invalid="ignore"):
            torque = np.where(rpm > 0.0, si["power"] / (rpm * math.pi / 30.0), np.nan)
        notes.append("torque computed from power and speed")
    si.pop("power", None)
    kept = clean(rpm, torque, table.lines, where, kind)
    channels = {c: grouped(v, kept) for c, v in si.items() if c != "time"}
    acceleration = _acceleration(si.get("time"), rpm, kept) if kept.kind == "sweep" else None
    return Pull(text.path, grouped(rpm, kept), grouped(torque, kept), kept.kind, channels, acceleration, corrected,
                mapping, (*notes, *kept.notes), text.sha256)


def _column(table, index: int, channel: str, where: str) -> np.ndarray:
    values = table.values[:, index]
    words = np.isposinf(values)
    if words.any() and channel in ("rpm", "torque", "power"):
        line = int(table.lines[words][0])
        msg = (f"{where}:{line}: column {table.labels[index]!r} holds text where a number is expected. Mend the "
               "export, or leave the line out in the session card with a reason.")
        raise InputError(msg)
    return np.where(np.isfinite(values), values, np.nan)


def _acceleration(time: np.ndarray | None, rpm: np.ndarray, kept) -> np.ndarray | None:
    """Speed gradient, rpm/s: derivative of a cubic fitted to speed over time (sample noise would swamp slopes)."""
    if time is None:
        return None
    t, n = time[kept.rows], rpm[kept.rows]
    good = np.isfinite(t)
    if good.sum() < 8 or np.ptp(t[good]) <= 0.0:
        return None
    curve = np.polynomial.Polynomial.fit(t[good], n[good], 3)
    return grouped(_spread(np.where(good, curve.deriv()(np.where(good, t, 0.0)), np.nan), kept, rpm.size), kept)


def _spread(picked: np.ndarray, kept, size: int) -> np.ndarray:
    out = np.full(size, np.nan)
    out[kept.rows] = picked
    return out
