"""What a ledger of many days says of the forecasts: how far off, how honest about it, whether the sign was right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pullcast.answers.comparison import Scored, reach

LEVELS = (0.80, 0.95)


@dataclass(frozen=True)
class Share:
    """``hits`` of ``count`` with the 95 % interval of the share (Wilson, J. Am. Stat. Assoc. 22 (1927) 209, from
    memory); nan of none."""

    hits: int
    count: int

    @property
    def value(self) -> float:
        """The share."""
        return self.hits / self.count if self.count else math.nan

    @property
    def interval(self) -> tuple[float, float]:
        """Low and high at 95 %.

        >>> [round(v, 3) for v in Share(8, 10).interval]
        [0.49, 0.943]
        """
        if not self.count:
            return math.nan, math.nan
        z, n, p = reach(0.95), self.count, self.value
        middle = (p + z * z / (2 * n)) / (1 + z * z / n)
        half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
        return max(0.0, middle - half), min(1.0, middle + half)

    def __repr__(self) -> str:
        """Hits of count, percent with its interval."""
        if not self.count:
            return "none yet"
        low, high = (100.0 * v for v in self.interval)
        return f"{self.hits} of {self.count} ({100 * self.value:.0f} %, {low:.0f} to {high:.0f} %)"


@dataclass(frozen=True)
class LedgerScore:
    """Score of a ledger. Errors in percent, predicted less measured.

    ``days`` entries; ``band_errors`` and ``difference_errors`` arrays; ``coverage`` and ``difference_coverage`` share
    inside the stated interval by level; ``signs`` share of resolved differences whose sign was foretold;
    ``rpm_errors`` of the peaks; ``sealed`` entries whose forecast was locked before.
    """

    days: int
    sealed: int
    band_errors: np.ndarray
    difference_errors: np.ndarray
    coverage: dict[float, Share]
    difference_coverage: dict[float, Share]
    signs: Share
    rpm_errors: np.ndarray

    def __repr__(self) -> str:
        """The score in a few lines."""
        def size(errors: np.ndarray, unit: str) -> str:
            if not errors.size:
                return "none yet"
            off, n = np.abs(errors).mean(), 0 if unit == "rpm" else 2
            return f"mean size {off:.{n}f} {unit}, mean {errors.mean():+.{n}f} {unit}, of {errors.size}"

        return "\n".join([
            f"ledger of {self.days} comparison{'s' * (self.days != 1)}, {self.sealed} sealed before the pulls",
            f"band error: {size(self.band_errors, '%')}",
            *(f"  inside the stated {100 * level:.0f} % interval: {share!r}" for level, share in
              self.coverage.items()),
            f"error of differences: {size(self.difference_errors, '%')}",
            *(f"  inside the stated {100 * level:.0f} % interval: {share!r}" for level, share in
              self.difference_coverage.items()),
            f"sign of resolved differences foretold: {self.signs!r}",
            f"speed of peaks: {size(self.rpm_errors, 'rpm')}"])


def score_ledger(entries: Sequence[dict[str, Any]], *, sealed_only: bool = False) -> LedgerScore:
    """The `LedgerScore` of entries as ``read_ledger`` gives them; ``sealed_only`` counts only locked forecasts."""
    used = [e for e in entries if e["seal"] or not sealed_only]
    parts = [row for e in used for row in e["parts"]]
    differences = [row for e in used for row in e["differences"]]
    resolved = [row for row in differences if row["resolved"]]
    right = sum(row["predicted_percent"] * row["measured_percent"] > 0.0 for row in resolved)
    return LedgerScore(
        len(used), sum(bool(e["seal"]) for e in used), _errors(parts), _errors(differences), _coverage(parts),
        _coverage(differences), Share(right, len(resolved)),
        np.array([k["rpm_error"] for row in parts for k in row["peaks"]], float))


def scored(row: dict[str, Any]) -> Scored:
    """The numbers of a row of a ledger."""
    return Scored(row["predicted_percent"], row["measured_percent"], row["predicted_sd_percent"],
                  row["measured_sd_percent"])


def _errors(rows: Sequence[dict[str, Any]]) -> np.ndarray:
    return np.array([scored(row).error for row in rows], float)


def _coverage(rows: Sequence[dict[str, Any]]) -> dict[float, Share]:
    stated = [s for s in map(scored, rows) if s.predicted_sd is not None]
    return {level: Share(sum(bool(s.inside(level)) for s in stated), len(stated)) for level in LEVELS}
