"""Agreement of a predicted order of parts with the measured one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pullcast.answers.comparison import RankScore

DRAWS = 2000
FEWEST = 3  # two parts are a difference, not an order


def rank_agreement(parts: Sequence[str], predicted: Sequence[float], measured: Sequence[float],
                   measured_sd: Sequence[float], level: float = 0.95, seed: int = 0) -> RankScore | None:
    """Kendall's tau-b and Spearman's rho of predicted (n,) against measured (n,) values in one unit.

    The interval is that of the true order given the pulls: measured values drawn with their sds (n,), independent of
    each other, the predicted order as it was stated. None for fewer than three parts. Kendall, Biometrika 30 (1938)
    81; Spearman, Am. J. Psychol. 15 (1904) 72 (both from memory).

    >>> rank_agreement("ABC", [1.0, 2.0, 3.0], [0.5, 1.5, 1.0], [1e-9] * 3).kendall[0]  # two pairs of three agree
    0.3333333333333333
    """
    if len(parts) < FEWEST:
        return None
    p, m, sd = (np.asarray(v, float) for v in (predicted, measured, measured_sd))
    drawn = np.vstack([m, m + sd * np.random.default_rng(seed).standard_normal((DRAWS, m.size))])
    scores = []
    for agreement in (kendall, spearman):
        found = agreement(p, drawn)
        low, high = np.quantile(found[1:], (0.5 - 0.5 * level, 0.5 + 0.5 * level))
        scores.append((float(found[0]), float(low), float(high)))
    return RankScore(tuple(parts), *scores, best=bool(np.argmax(p) == np.argmax(m)))


def kendall(x: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Kendall's tau-b (k,) of ``x`` (n,) with each of ``rows`` (k, n); ties count as neither agreeing nor not."""
    i, j = np.triu_indices(x.size, 1)
    a, b = np.sign(x[i] - x[j]), np.sign(rows[:, i] - rows[:, j])
    return (a * b).sum(axis=1) / np.sqrt(np.abs(a).sum() * np.abs(b).sum(axis=1))


def spearman(x: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Spearman's rho (k,) of ``x`` (n,) with each of ``rows`` (k, n): correlation of ranks, ties at the mean."""
    from scipy.stats import rankdata

    a, b = (r - r.mean(axis=-1, keepdims=True) for r in (rankdata(x), rankdata(rows, axis=1)))
    return b @ a / np.sqrt((a @ a) * (b * b).sum(axis=1))
