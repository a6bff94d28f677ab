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

    >>> rank_agreement("ABC", [1.0, 2.0, 3.0], [0.5, 1.5, 1.0], [1e-9] * 3).kendall[0].round(3)
    0.333
    """
    if len(parts) < FEWEST:
        return None
    from scipy.stats import kendalltau, spearmanr

    p, m, sd = (np.asarray(v, float) for v in (predicted, measured, measured_sd))
    drawn = m + sd * np.random.default_rng(seed).standard_normal((DRAWS, m.size))
    tails = (0.5 - 0.5 * level, 0.5 + 0.5 * level)
    scores = []
    for measure in (kendalltau, spearmanr):
        spread = np.quantile([measure(p, row).statistic for row in drawn], tails)
        scores.append((measure(p, m).statistic, float(spread[0]), float(spread[1])))
    return RankScore(tuple(parts), *scores, best=bool(np.argmax(p) == np.argmax(m)))
