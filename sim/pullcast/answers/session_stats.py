"""Differences between parts from repeated pulls: generalised least squares with pull noise, refit scatter and drift.

Each pull's value is ``base + part + drift * x + refit + noise``: ``part`` zero for the baseline, ``x`` the place in
the session from -1/2 to +1/2, ``refit`` common to all pulls of one fit (a part put on once), ``noise`` per pull.
Given the two standard deviations the estimate is generalised least squares; as they are not known, it is averaged
over them with weights of the restricted likelihood times what is known beforehand (`Priors`), so that small samples
get wide intervals instead of false ones: Gelman et al., Bayesian Data Analysis (2013), ch. 5; Patterson & Thompson,
Biometrika 58 (1971) 545 for the restricted likelihood (all from memory). A refit scatter that is not stated is flat
in its variance up to a bound while the fits hardly show it, and flat in its sd (Gelman, Bayesian Analysis 1 (2006)
515, from memory) once they do. All values are percent of the baseline.

The weights hold the drift to its usual size, so that two fits of one part that lie far apart tell of refit scatter;
the estimate itself, where there is a return, leaves the drift free.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

GRID = 17  # nodes per standard deviation
REACH = 2.6  # half width of the grid in log standard deviations
SEEN = 4  # spare fits from which on the refit scatter shows in the data, and its bound steps back
WIDEST = 2.6  # percent: the bound then


@dataclass(frozen=True)
class Priors:
    """What is held before the pulls speak, in percent: pull noise, refit scatter, drift.

    ``noise`` and ``noise_spread``: middle and log-spread of the pull-to-pull sd (.3 to .7 good, 1 ordinary).
    ``refit``: sd of putting a part on again, as given; None: not known, then every variance up to that of
    ``refit_most`` is as likely as another (every sd up to it, where ``seen``: enough fits show it). Engine rooms
    scatter by .2 to 1 % (all common practice, no source); the bound lies above, so that nine in ten intervals hold
    at 1 % too, with one return that can hardly show it (``validation/parts/judge_sessions``). ``drift`` is the sd of
    the drift over a session.
    """

    noise: float = 0.6
    noise_spread: float = 1.0
    refit: float | None = None
    refit_most: float = 1.1
    drift: float = 1.0
    seen: bool = False


@dataclass(frozen=True)
class Design:
    """Which pull is which: ``part`` (n,) 0 for the baseline, ``fit`` (n,) from 0, ``x`` (n,) place in the session."""

    part: np.ndarray
    fit: np.ndarray
    x: np.ndarray

    @property
    def returned(self) -> bool:
        """Whether some part was put on twice with another between, so that drift can be told from the parts."""
        owner = dict(zip(self.fit.tolist(), self.part.tolist(), strict=True))
        order = [owner[k] for k in sorted(owner)]
        return any(p in order[:i] and order[i - 1] != p for i, p in enumerate(order))

    @property
    def fit_freedom(self) -> int:
        """Fits left over after the parts and the drift: what the refit scatter can be estimated from."""
        return int(np.unique(self.fit).size - np.unique(self.part).size - 1)


def design(part: np.ndarray, fit: np.ndarray, at: np.ndarray | None = None) -> Design:
    """A `Design` from part and fit per pull in the order run; ``at`` (n,) times, else the order counts."""
    part, fit = np.asarray(part, int), np.unique(np.asarray(fit), return_inverse=True)[1]
    x = np.arange(part.size, dtype=float) if at is None or np.ptp(at) <= 0.0 else np.asarray(at, float)
    return Design(part, fit, (x - x.mean()) / max(float(np.ptp(x)), 1.0))


@dataclass(frozen=True)
class Posterior:
    """Estimates of ``p`` coefficients for ``m`` columns as mixtures of normals over the grid of sds.

    ``weight`` (g, m), ``mean`` (g, p, m), ``variance`` (g, p); ``noise`` and ``refit`` (m,) mean sds in percent;
    ``refit_at`` (g,) the refit sd of each node, ``refit_share`` (g,) what was held of it before the pulls.
    """

    weight: np.ndarray
    mean: np.ndarray
    variance: np.ndarray
    noise: np.ndarray
    refit: np.ndarray
    refit_at: np.ndarray
    refit_share: np.ndarray

    def centre(self, k: int) -> np.ndarray:
        """Mean (m,) of coefficient ``k``."""
        return np.sum(self.weight * self.mean[:, k], axis=0)

    def spread(self, k: int) -> np.ndarray:
        """Standard deviation (m,) of coefficient ``k``."""
        second = np.sum(self.weight * (self.mean[:, k] ** 2 + self.variance[:, k, None]), axis=0)
        return np.sqrt(np.maximum(second - self.centre(k) ** 2, 0.0))

    def quantile(self, k: int, share: float) -> np.ndarray:
        """The value (m,) below which coefficient ``k`` lies with probability ``share``, by bisection."""
        sd = np.sqrt(self.variance[:, k])[:, None]
        low = np.min(self.mean[:, k] - 12.0 * sd, axis=0)
        high = np.max(self.mean[:, k] + 12.0 * sd, axis=0)
        for _ in range(60):
            middle = 0.5 * (low + high)
            under = np.sum(self.weight * ndtr((middle - self.mean[:, k]) / sd), axis=0) < share
            low, high = np.where(under, middle, low), np.where(under, high, middle)
        return 0.5 * (low + high)


def difference(y: np.ndarray, layout: Design, priors: Priors) -> Posterior:
    """Posterior of [base, part 1, part 2, ...(, drift)] for the columns of ``y`` (n, m), percent.

    With a return the drift is free, so any linear drift cancels; without one it is an allowance of ``priors.drift``.
    """
    X, priors = _parts(layout), _widened(priors, layout)
    held = estimate(y, X, layout, priors, priors.drift)
    if not layout.returned:
        return held
    free = estimate(y, np.column_stack([X, layout.x]), layout, priors, 0.0)
    return replace(free, weight=held.weight, noise=held.noise, refit=held.refit)


def returned_part(y: np.ndarray, layout: Design, priors: Priors, fit: int) -> Posterior:
    """Posterior whose last coefficient is how far fit ``fit`` lies from the same part's other fits, percent.

    Drift is held to its allowance here: the pulls within the fits show it too, and what neither explains is a bad
    return. (A free drift would explain away every return of an A-B-A.)
    """
    X = np.column_stack([_parts(layout), (layout.fit == fit) * 1.0])
    return estimate(y, X, layout, priors, priors.drift)


def _parts(layout: Design) -> np.ndarray:
    """Columns of the base and of each other part."""
    return np.column_stack([np.ones(layout.part.size),
                            *[(layout.part == k) * 1.0 for k in range(1, layout.part.max() + 1)]])


def estimate(y: np.ndarray, X: np.ndarray, layout: Design, priors: Priors, drift: float) -> Posterior:
    """Generalised least squares of ``y`` (n, m) on ``X`` (n, p), averaged over the grid of standard deviations."""
    noise, refit, noise_share, refit_share = _grid(priors)
    same = (layout.fit[:, None] == layout.fit[None, :]) * 1.0
    wander = drift**2 * np.outer(layout.x, layout.x)
    V = noise[:, None, None] ** 2 * np.eye(layout.x.size) + refit[:, None, None] ** 2 * same + wander
    L = np.linalg.cholesky(V)
    A, b = np.linalg.solve(L, np.broadcast_to(X, (noise.size, *X.shape))), np.linalg.solve(
        L, np.broadcast_to(y, (noise.size, *y.shape)))
    normal = np.swapaxes(A, 1, 2) @ A
    covariance = np.linalg.inv(normal)
    beta = covariance @ (np.swapaxes(A, 1, 2) @ b)
    misfit = np.sum((b - A @ beta) ** 2, axis=1)
    log_det = 2.0 * np.sum(np.log(np.diagonal(L, axis1=1, axis2=2)), axis=1) + np.linalg.slogdet(normal)[1]
    score = np.log(noise_share * refit_share)[:, None] - 0.5 * (log_det[:, None] + misfit)
    weight = np.exp(score - score.max(axis=0))
    weight /= weight.sum(axis=0)
    return Posterior(weight, beta, np.diagonal(covariance, axis1=1, axis2=2), noise @ weight, refit @ weight, refit,
                     refit_share)


def _grid(priors: Priors) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Nodes (g,) of pull noise and refit scatter, percent, and the share each has beforehand (not scaled to one)."""
    steps = np.linspace(-REACH, REACH, GRID)
    noise = priors.noise * np.exp(priors.noise_spread * steps)
    middles = (np.arange(GRID) + 0.5) / GRID
    refit = np.array([priors.refit]) if priors.refit is not None else priors.refit_most * middles
    n, r = np.meshgrid(noise, refit, indexing="ij")
    share = np.broadcast_to(np.exp(-0.5 * steps[:, None] ** 2), n.shape)
    held = np.ones(r.size) / refit.size if priors.seen else (r / refit.sum()).ravel()
    return n.ravel(), r.ravel(), share.ravel(), held


def _widened(priors: Priors, layout: Design) -> Priors:
    """With four or more spare fits the refit scatter shows in the data: the bound steps back."""
    if priors.refit is not None or layout.fit_freedom < SEEN:
        return priors
    return replace(priors, refit_most=WIDEST, seen=True)
