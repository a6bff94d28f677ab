"""Whether a difference stays clear of zero whatever the refit scatter, which the pulls of a day hardly show.

The interval of a difference averages over the refit scatter; in an engine room at the upper end of the trade's range
it leaves zero out too often for two equal parts. So a difference counts as resolved only if it is clear of zero at
every refit scatter up to `REFIT_TOP` that the pulls do not speak against: the largest p-value over a confidence set
of the nuisance parameter, plus what that set leaves out. Berger & Boos, J. Am. Stat. Assoc. 89 (1994) 1012 (from
memory). A scatter that the session card states is taken as stated.
"""

from __future__ import annotations

import numpy as np
from scipy.special import chdtri, ndtr

from pullcast.answers.session_stats import Posterior

REFIT_TOP = 1.0  # percent: the worst engine room of the trade (common practice, no source); the node nearest to it
LEFT_OUT = 0.1  # of the error rate: scatters that the pulls speak against at that level are not asked for


def by_refit(post: Posterior, k: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Refit sds (r,) percent, log of what the pulls say of each (r, m), and two-sided p-values (r, m) of zero for
    coefficient ``k`` at each, averaged over the pull noise."""
    nodes, place = np.unique(post.refit_at, return_inverse=True)
    onto = (np.arange(nodes.size)[:, None] == place[None, :]) * 1.0
    held = np.maximum(onto @ post.weight, 1e-300)
    below = onto @ (post.weight * ndtr(-post.mean[:, k] / np.sqrt(post.variance[:, k])[:, None])) / held
    share = (onto @ post.refit_share) / onto.sum(axis=1)
    return nodes, np.log(held / share[:, None]), 2.0 * np.minimum(below, 1.0 - below)


def _asked(nodes: np.ndarray, told: np.ndarray, error: float) -> np.ndarray:
    """Which refit sds (r, m) a difference has to stand: those of the trade that the pulls do not speak against, or
    of all, where the pulls speak against the trade's."""
    likely = told - told.max(axis=0) > -0.5 * chdtri(1.0, LEFT_OUT * error)
    top = nodes[np.argmin(np.abs(np.log(nodes / REFIT_TOP)))]
    usual = likely & (nodes <= top)[:, None]
    return np.where(usual.any(axis=0), usual, likely)


def stands(post: Posterior, k: int, level: float) -> np.ndarray:
    """Whether (m,) coefficient ``k`` is clear of zero at ``level`` at every refit scatter it has to stand."""
    nodes, told, p = by_refit(post, k)
    if nodes.size == 1:
        return p[0] < 1.0 - level
    worst = np.where(_asked(nodes, told, 1.0 - level), p, 0.0).max(axis=0)
    return worst <= (1.0 - level) * (1.0 - LEFT_OUT)


def resolves(post: Posterior, k: int, level: float) -> np.ndarray:
    """Whether (m,) coefficient ``k`` is resolved at ``level``: its interval leaves zero out, and it `stands`."""
    below = post.below(k, 0.0)
    return (2.0 * np.minimum(below, 1.0 - below) < 1.0 - level) & stands(post, k, level)


def stands_to(post: Posterior, k: int, level: float) -> np.ndarray:
    """The refit sd (m,) in percent up to which coefficient ``k`` stands; 0 where it stands at none."""
    nodes, _, p = by_refit(post, k)
    good = np.cumprod(p <= (1.0 - level) * (1.0 - LEFT_OUT), axis=0).sum(axis=0)
    return np.where(good > 0, nodes[np.maximum(good - 1, 0)], 0.0)
