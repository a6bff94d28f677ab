"""From rows in the order they were logged to one clean curve: blips, turn-rounds, reversed and steady points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pullcast.errors import InputError


@dataclass(frozen=True)
class Kept:
    """Which rows stay: ``rows`` (indices, by rising speed), ``group`` (same length; rows of one group are averaged),
    ``kind`` "sweep" or "steady", ``falling`` for a sweep run downwards, ``notes`` with line numbers."""

    rows: np.ndarray
    group: np.ndarray
    kind: str
    falling: bool
    notes: tuple[str, ...]


def clean(rpm: np.ndarray, value: np.ndarray, lines: np.ndarray, where: str, kind: str | None = None) -> Kept:
    """Choose the rows of one pull. ``rpm`` and ``value`` (rows,) as logged, NaN for gaps; ``lines`` their lines.

    Left out, and noted with their lines: rows with gaps, engine stopped, blips (one or two samples far from the
    running median), the way back of a sweep that turns round. Raises `InputError` when too little
    or too spoilt a pull is left.
    """
    notes: list[str] = []
    rows = np.arange(rpm.size)
    rows = _drop(rows, ~(np.isfinite(rpm) & np.isfinite(value)), lines, "missing cells", notes)
    if rows.size < 0.6 * rpm.size:
        msg = (f"{where}: {rpm.size - rows.size} of {rpm.size} rows lack speed or torque: too many to mend. Export "
               "the pull again.")
        raise InputError(msg)
    rows = _drop(rows, rpm[rows] <= 0.0, lines, "engine not turning", notes)
    kind = kind or _kind(rpm[rows])
    spoilt = _blips(rpm[rows], value[rows], kind)
    if spoilt.sum() > max(3, 0.05 * rows.size):
        first = lines[rows[spoilt]][0]
        msg = (f"{where}:{first}: {int(spoilt.sum())} of {rows.size} samples jump away from their neighbours: the "
               "log is too spoilt to be judged. Check the pick-ups.")
        raise InputError(msg)
    rows = _drop(rows, spoilt, lines, "blips", notes)
    if kind == "sweep":
        _refuse_two_pulls(rpm[rows], lines[rows], where)
        rows = _one_way(rows, rpm, value, lines, notes)
    falling = kind == "sweep" and rows.size > 1 and rpm[rows[-1]] < rpm[rows[0]]
    if falling:
        notes.append("sweep run from high to low speed; put in rising order")
    order = rows[np.argsort(rpm[rows], kind="stable")]
    group = _groups(rpm[order], kind, notes)
    if group.size == 0 or group[-1] < 2:
        count = 0 if group.size == 0 else int(group[-1]) + 1
        msg = f"{where}: only {count} different speed{'s' * (count != 1)} left; a pull needs three or more."
        raise InputError(msg)
    return Kept(order, group, kind, falling, tuple(notes))


def grouped(values: np.ndarray, kept: Kept) -> np.ndarray:
    """Values (rows,) averaged within each group of ``kept``, by rising speed; gaps are left out of the means."""
    picked = values[kept.rows]
    out = np.full(kept.group[-1] + 1, np.nan)
    for g in range(out.size):
        here = picked[kept.group == g]
        here = here[np.isfinite(here)]
        if here.size:
            out[g] = here.mean()
    return out


def _kind(rpm: np.ndarray) -> str:
    """Steady when the log dwells on a few levels at least 100 rpm apart, or is a short list of spaced points."""
    if rpm.size < 3:
        return "steady"
    levels = np.sort(rpm)
    gaps = np.diff(levels)
    count = 1 + int(np.sum(gaps > 100.0))
    steps = np.abs(np.diff(rpm))
    reversals = int(np.sum(np.diff(np.sign(np.diff(rpm))[np.diff(rpm) != 0.0]) != 0))
    dwell = 2 < count <= 60 and rpm.size >= 4 * count and float(np.median(steps)) < 30.0 and gaps.max() > 100.0 \
        and float(np.sum(gaps[gaps > 100.0])) > 0.7 * (levels[-1] - levels[0])
    spaced = rpm.size <= 40 and (count > 0.6 * rpm.size or reversals > 2)
    return "steady" if dwell or spaced else "sweep"


def _blips(rpm: np.ndarray, value: np.ndarray, kind: str) -> np.ndarray:
    floor = 0.25 if kind == "steady" or value.size < 40 else 0.08
    by_speed = np.argsort(rpm, kind="stable") if kind == "steady" else np.arange(rpm.size)
    out = np.zeros(value.size, bool)
    out[by_speed] = _far(value[by_speed], floor)
    if kind == "sweep" and rpm.size >= 10:
        out |= _far(rpm, 0.04)
    return out


def _far(series: np.ndarray, floor: float) -> np.ndarray:
    """Samples off the running median of seven by more than ``floor`` of the median size and 8 robust sd."""
    if series.size < 5:
        return np.zeros(series.size, bool)
    padded = np.pad(series, 3, mode="reflect", reflect_type="odd")
    off = np.abs(series - np.median(np.lib.stride_tricks.sliding_window_view(padded, 7), axis=1))
    spread = 1.4826 * float(np.median(off))
    return off > max(floor * float(np.median(np.abs(series))), 8.0 * spread)


def _one_way(rows: np.ndarray, rpm: np.ndarray, value: np.ndarray, lines: np.ndarray, notes: list[str]) -> np.ndarray:
    speed = rpm[rows]
    span = float(speed.max() - speed.min())
    for turn, side in ((int(np.argmax(speed)), 1.0), (int(np.argmin(speed)), -1.0)):
        before, after = rows[:turn + 1], rows[turn:]
        if min(before.size, after.size) < 3:
            continue
        ways = [np.ptp(rpm[part]) for part in (before, after)]
        if min(ways) > 0.15 * span:
            keep, left = (before, after) if _pull_like(before, rpm, value) >= _pull_like(after, rpm, value) \
                else (after, before)
            end = "highest" if side > 0 else "lowest"
            notes.append(f"sweep turns round at line {lines[rows[turn]]} ({end} speed); "
                         f"lines {lines[left[0]]} to {lines[left[-1]]} left out")
            return _one_way(keep, rpm, value, lines, notes)
    return rows


def _refuse_two_pulls(speed: np.ndarray, lines: np.ndarray, where: str) -> None:
    """A sweep does not jump across its range from one sample to the next: that is a second pull below the first."""
    jump = np.abs(np.diff(speed))
    if speed.size >= 20 and jump.max() > 0.4 * np.ptp(speed):
        k = int(np.argmax(jump))
        msg = (f"{where}:{lines[k + 1]}: speed jumps from {speed[k]:.0f} to {speed[k + 1]:.0f} rpm between two "
               "samples: two pulls in one file? Split it, one pull each.")
        raise InputError(msg)


def _pull_like(part: np.ndarray, rpm: np.ndarray, value: np.ndarray) -> float:
    return float(np.ptp(rpm[part])) * max(float(np.mean(value[part])), 0.0)


def _groups(rpm: np.ndarray, kind: str, notes: list[str]) -> np.ndarray:
    if rpm.size == 0:
        return np.zeros(0, int)
    apart = np.diff(rpm) > (40.0 if kind == "steady" else 0.0)
    group = np.concatenate([[0], np.cumsum(apart)])
    repeated = rpm.size - 1 - int(group[-1])
    if repeated:
        what = "the same steady point" if kind == "steady" else "a repeated speed"
        notes.append(f"samples at {what} averaged: {repeated}")
    return group


def _drop(rows: np.ndarray, bad: np.ndarray, lines: np.ndarray, why: str, notes: list[str]) -> np.ndarray:
    if bad.any():
        gone = lines[rows[bad]]
        shown = ", ".join(str(n) for n in gone[:6]) + (" ..." if gone.size > 6 else "")
        notes.append(f"{why}: {gone.size} row{'s' * (gone.size > 1)} left out (line{'s' * (gone.size > 1)} {shown})")
    return rows[~bad]
