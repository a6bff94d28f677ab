"""How well lumped and wave gains agreed on the engines that both models computed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

# gap of a gain between the models for one swapped part or value, where waves have not measured it on this engine:
# root mean square over the shelves of three shipped engines, held like four engines measured before
USUAL_GAP, USUAL_WEIGHT = 0.021, 4.0
ORDERED = 0.5  # rank correlation from which the order of one model is some guide to that of the other


@dataclass(frozen=True)
class Agreement:
    """Gains (fractions over the base) by both models of ``names``; ``spread`` the root mean square of lumped minus
    wave, ``rank_correlation`` Spearman's (nan below three), ``per_swap`` the gap's sd for one swapped part."""

    names: tuple[str, ...]
    lumped: tuple[float, ...]
    wave: tuple[float, ...]
    rank_correlation: float
    spread: float
    per_swap: float

    @property
    def ordered(self) -> bool:
        """Whether the lumped model puts the engines in about the order of waves: a rank correlation of one half and
        more, or too few engines to tell."""
        return math.isnan(self.rank_correlation) or self.rank_correlation >= ORDERED

    def __repr__(self) -> str:
        """One sentence."""
        if not self.names:
            return ("No engine was computed by both models: a gap of "
                    f"{100 * self.per_swap:.1f} % for each swapped part is taken from the shipped engines")
        rank = "" if math.isnan(self.rank_correlation) else f"rank correlation {self.rank_correlation:+.2f}, "
        return (f"Lumped against wave gains of {len(self.names)} engine{'s' * (len(self.names) > 1)}: {rank}"
                f"{100 * self.spread:.1f} % root mean square apart")


def agreement(names: Sequence[str], lumped: Sequence[float], wave: Sequence[float],
              swaps: Sequence[dict]) -> Agreement:
    """Compare gains of engines (without the base) by both models; ``swaps`` what each changes.

    The gap per swap joins what is measured here with what was measured on the shipped engines (`USUAL_GAP`), as a
    variance with `USUAL_WEIGHT` measurements of its own.
    """
    a, b = np.asarray(lumped, dtype=float), np.asarray(wave, dtype=float)
    good = np.isfinite(a) & np.isfinite(b)
    gap, count = (a - b)[good], np.array([max(1, len(s)) for s in swaps], dtype=float)[good]
    variance = (USUAL_WEIGHT * USUAL_GAP**2 + np.sum(gap**2 / count)) / (USUAL_WEIGHT + gap.size)
    rank = rank_correlation(a[good], b[good]) if gap.size >= 3 else math.nan
    spread = float(np.sqrt(np.mean(gap**2))) if gap.size else math.nan
    picked = [i for i in range(len(names)) if good[i]]
    return Agreement(tuple(names[i] for i in picked), tuple(a[good].tolist()), tuple(b[good].tolist()), rank, spread,
                     float(np.sqrt(variance)))


def rank_correlation(a: np.ndarray, b: np.ndarray) -> float:
    """Spearman's rank correlation, ties by their mean rank; nan when one side is all alike."""
    from scipy.stats import rankdata

    x, y = rankdata(a), rankdata(b)
    if np.ptp(x) == 0.0 or np.ptp(y) == 0.0:
        return math.nan
    return float(np.corrcoef(x, y)[0, 1])
