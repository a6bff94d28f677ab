"""The rpm band that a comparison is made over, and the mean over it by the time spent at each speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from pydantic import StrictFloat, StrictInt

from pullcast.card import fields as f
from pullcast.errors import InputError

SPEEDS = 9  # computed over the band when the card lists none


class TimeCard(f.Table):
    """Table [band.time]: how much time is spent near each speed, in any unit; straight lines between."""

    speeds: f.series("rotational speed", 100.0, 25000.0)
    share: tuple[StrictInt | StrictFloat, ...]


class BandCard(f.Table):
    """Table [band] of a shortlist."""

    low: f.Speed
    high: f.Speed
    speeds: f.series("rotational speed", 100.0, 25000.0) | None = None
    time: TimeCard | None = None


@dataclass(frozen=True)
class Band:
    """From ``low`` to ``high`` rpm, computed at ``speeds``. ``time``: (rpm, share) rows, empty when every rpm counts
    alike; beyond its first and last row the share stays as it is there."""

    low: float
    high: float
    speeds: tuple[float, ...]
    time: tuple[tuple[float, float], ...] = ()

    def share(self, rpm: np.ndarray | float) -> np.ndarray:
        """Relative time spent at ``rpm`` (any shape)."""
        if not self.time:
            return np.ones_like(np.asarray(rpm, dtype=float))
        at, share = zip(*self.time, strict=True)
        return np.interp(rpm, at, share)

    def mean(self, rpm: Sequence[float], values: Sequence[float]) -> float:
        """Mean over the band, by time, of straight lines through (rpm, values); exact (Simpson on each stretch).

        Raises InputError when ``rpm`` does not rise or does not cover the band.

        >>> Band(1000.0, 3000.0, ()).mean([1000, 2000, 3000], [0, 1, 0])
        0.5
        """
        at = self._covering(rpm)
        corners = np.array([self.low, self.high, *at, *(row[0] for row in self.time)])
        corners = np.unique(corners[(corners >= self.low) & (corners <= self.high)])
        middle = (corners[1:] + corners[:-1]) / 2
        width = np.diff(corners)

        def integral(y) -> float:
            return float(np.sum(width * (y(corners[:-1]) + 4 * y(middle) + y(corners[1:])) / 6))

        return integral(lambda x: self.share(x) * np.interp(x, at, values)) / integral(self.share)

    def extremes(self, rpm: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
        """Lowest and highest value within the band of straight lines through (rpm, values)."""
        at = self._covering(rpm)
        inside = np.interp([self.low, self.high, *at[(at > self.low) & (at < self.high)]], at, values)
        return float(inside.min()), float(inside.max())

    def _covering(self, rpm: Sequence[float]) -> np.ndarray:
        at = np.asarray(rpm, dtype=float)
        if at.ndim != 1 or at.size < 2 or (np.diff(at) <= 0).any() or at[0] > self.low or at[-1] < self.high:
            msg = (f"speeds {', '.join(f'{s:g}' for s in at.ravel())} rpm must rise and cover the band "
                   f"{self.low:g} to {self.high:g} rpm")
            raise InputError(msg)
        return at


def resolve_band(card: BandCard, problem) -> Band:
    """The band of a card; ``problem(key, text, remedy)`` is called for each fault."""
    low, high = float(card.low), float(card.high)
    if not low < high:
        problem("band.high", f"the band runs from {low:g} down to {high:g} rpm", "Give low below high.")
        return Band(min(low, high), max(low, high) + 1.0, ())
    speeds = card.speeds or tuple(np.linspace(low, high, SPEEDS).tolist())
    if len(speeds) < 2 or any(b <= a for a, b in pairwise(speeds)):
        problem("band.speeds", "the speeds do not rise", "List two or more, from the lowest to the highest.")
    elif speeds[0] > low or speeds[-1] < high:
        problem("band.speeds", f"{speeds[0]:g} to {speeds[-1]:g} rpm do not cover the band {low:g} to {high:g} rpm",
                "Add the missing speeds, or leave the list out.")
    return Band(low, high, tuple(map(float, speeds)), _time(card.time, low, high, problem))


def _time(card: TimeCard | None, low: float, high: float, problem) -> tuple[tuple[float, float], ...]:
    if card is None:
        return ()
    rows = tuple(zip(map(float, card.speeds), map(float, card.share), strict=False))
    if len(card.speeds) != len(card.share) or not rows:
        problem("band.time.share", f"{len(card.share)} shares for {len(card.speeds)} speeds", "Give one for each.")
    elif any(b[0] <= a[0] for a, b in pairwise(rows)):
        problem("band.time.speeds", "the speeds do not rise", "List them from the lowest to the highest.")
    elif not all(0.0 <= share < float("inf") for _, share in rows):
        problem("band.time.share", "a share of time is below zero or not a number", "Give shares from zero up.")
    elif np.interp(np.linspace(low, high, 101), *zip(*rows, strict=True)).max() <= 0.0:
        problem("band.time.share", "no time is spent in the band", "Give a share above zero within the band.")
    else:
        return rows
    return ()
