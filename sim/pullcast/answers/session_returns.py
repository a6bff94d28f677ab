"""Whether the baseline came back: each later fit of it against the others, for one session or many drawn ones."""

from __future__ import annotations

import numpy as np

from pullcast.answers.session_stats import Design, Priors, returned_part

ALLOWED = 2.0  # standard errors a return may lie off (common practice, no source)


def later_fits(layout: Design) -> list[int]:
    """Fits of the baseline that follow another part."""
    fits = list(dict.fromkeys(layout.fit[layout.part == 0].tolist()))
    return [f for f in fits[1:] if np.any((layout.fit < f) & (layout.part != 0))]


def returned(y: np.ndarray, layout: Design, priors: Priors) -> list[tuple[int, np.ndarray, np.ndarray]]:
    """Per return its fit, how far off (m,) and what is allowed (m,), for the columns of ``y`` (n, m); all percent.

    With more than one return the allowance grows so that the chance of a false alarm stays that of a single one.
    """
    from scipy.special import ndtr, ndtri

    later = later_fits(layout)
    reach = float(-ndtri(ndtr(-ALLOWED) / max(len(later), 1)))
    found = []
    for fit in later:
        post = returned_part(y, layout, priors, fit)
        k = post.mean.shape[1] - 1
        found.append((fit, post.centre(k), reach * post.spread(k)))
    return found


def came_back(y: np.ndarray, layout: Design, priors: Priors) -> np.ndarray:
    """Whether (m,) every return is good; True where the session has none."""
    good = np.ones(y.shape[1], bool)
    for _, off, allowance in returned(y, layout, priors):
        good &= np.abs(off) <= allowance
    return good
