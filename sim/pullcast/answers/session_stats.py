"""Differences between parts from repeated pulls: generalised least squares with pull noise, refit scatter and drift.

Each pull's value is ``base + part + drift * x + refit + noise``: ``part`` zero for the baseline, ``x`` the place in
the session from -1/2 to +1/2, ``refit`` common to all pulls of one fit (a part put on once), ``noise`` per pull.
Given the two standard deviations the estimate is generalised least squares; as they are not known, it is averaged
over them with weights of the restricted likelihood times what is known beforehand (`Priors`), so that small samples
get wide intervals instead of false ones: Gelman et al., Bayesian Data Analysis (2013), ch. 5; Patterson & Thompson,
Biometrika 58 (1971) 545 for the restricted likelihood (all from memory). A refit scatter that is not stated is
held flat in its logarithm, the usual choice for a scale (Jeffreys, Theory of Probability (1961), ch. 3, from memory),
between two bounds: with few fits, which hardly show it, an open law would make the interval endless. All values are
percent of the baseline.

The weights hold the drift to its usual size, so that two fits of one part that lie far apart tell of refit scatter;
the estimate itself, where there is a return, leaves the drift free.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

GRID = 17  # nodes per standard deviation
WIDEST = 3.0  # percent: the largest refit scatter reckoned with once a spare fit can speak against it
REACH = 2.6  # half width of the grid in log standard deviations
SEEN = 4  # spare fits from which on the refit scatter shows in the data


@dataclass(frozen=True)
class Priors:
    """What is held before the pulls speak, in percent: pull noise, refit scatter, drift.

    ``noise`` and ``noise_spread``: middle and log-spread of the pull-to-pull sd (.3 to .7 good, 1 ordinary).
    ``refit``: sd of putting a part on again, as given; None: not known, then every factor from ``refit_least`` to
    ``refit_most`` is as likely (to `WIDEST`, with spare fits). Engine rooms scatter by .2 to 1 % (all common
    practice, no source); the bounds reach beyond, so that intervals hold at 1 % too, where one return hardly shows it
    (``validation/parts/judge_sessions`` tells how they were chosen). ``drift`` is the sd of the drift over a session.
    ``usual``: the pulls say nothing of the scatter, then every variance up to that of ``refit_usual`` is as likely.
    """

    noise: float = 0.6
    noise_spread: float = 1.0
    refit: float | None = None
    refit_least: float = 0.1
    refit_most: float = 2.2
    refit_usual: float = 1.1
    drift: float = 1.0
    usual: bool = False


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

    def below(self, k: int, value: float) -> np.ndarray:
        """Probability (m,) that coefficient ``k`` lies below ``value``."""
        return np.sum(self.weight * ndtr((value - self.mean[:, k]) / np.sqrt(self.variance[:, k])[:, None]), axis=0)

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
    X, priors = _parts(layout), reckoned(layout, priors)
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
    return estimate(y, X, layout, replace(priors, usual=True), priors.drift)


def _parts(layout: Design) -> np.ndarray:
    """Columns of the base and of each other part."""
    return np.column_stack([np.ones(layout.part.size),
                            *[(layout.part == k) * 1.0 for k in range(1, layout.part.max() + 1)]])


def estimate(y: np.ndarray, X: np.ndarray, layout: Design, priors: Priors, drift: float) -> Posterior:
    """Generalised least squares of ``y`` (n, m) on ``X`` (n, p), averaged over the grid of standard deviations."""
    noise, refit, noise_share, refit_share = _grid(priors)
    basis, pulls = _telling(layout)
    told = basis.T @ y
    rest, spare = np.sum((y - basis @ told) ** 2, axis=0), layout.x.size - basis.shape[1]
    X, x, y = basis.T @ X, basis.T @ layout.x, told
    V = noise[:, None, None] ** 2 * np.eye(x.size) + refit[:, None, None] ** 2 * np.diag(pulls)
    L = np.linalg.cholesky(V + drift**2 * np.outer(x, x))
    A, b = np.linalg.solve(L, np.broadcast_to(X, (noise.size, *X.shape))), np.linalg.solve(
        L, np.broadcast_to(y, (noise.size, *y.shape)))
    normal = np.swapaxes(A, 1, 2) @ A
    covariance = np.linalg.inv(normal)
    beta = covariance @ (np.swapaxes(A, 1, 2) @ b)
    misfit = np.sum((b - A @ beta) ** 2, axis=1) + rest / noise[:, None] ** 2
    log_det = 2.0 * np.sum(np.log(np.diagonal(L, axis1=1, axis2=2)), axis=1) + np.linalg.slogdet(normal)[1] \
        + 2.0 * spare * np.log(noise)
    score = np.log(noise_share * refit_share)[:, None] - 0.5 * (log_det[:, None] + misfit)
    weight = np.exp(score - score.max(axis=0))
    weight /= weight.sum(axis=0)
    return Posterior(weight, beta, np.diagonal(covariance, axis1=1, axis2=2), noise @ weight, refit @ weight, refit,
                     refit_share)


def _telling(layout: Design) -> tuple[np.ndarray, np.ndarray]:
    """Orthonormal columns (n, k) for the mean of each fit and the slope within fits, which hold all that parts,
    refits and drift do to the pulls, and the pulls (k,) of each fit (0 for the slope). What is left is noise."""
    fits, place, pulls = np.unique(layout.fit, return_inverse=True, return_counts=True)
    columns = (place[:, None] == np.arange(fits.size)[None, :]) / np.sqrt(pulls)
    slope = layout.x - columns @ (columns.T @ layout.x)
    size = float(np.linalg.norm(slope))
    if size < 1e-9:
        return columns, pulls * 1.0
    return np.column_stack([columns, slope / size]), np.append(pulls, 0.0)


def _grid(priors: Priors) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Nodes (g,) of pull noise and refit scatter, percent, and the share each has beforehand (not scaled to one)."""
    steps = np.linspace(-REACH, REACH, GRID)
    noise = priors.noise * np.exp(priors.noise_spread * steps)
    refit, held = _refits(priors)
    n, r = np.meshgrid(noise, refit, indexing="ij")
    share = np.broadcast_to(np.exp(-0.5 * steps[:, None] ** 2), n.shape)
    return n.ravel(), r.ravel(), share.ravel(), np.broadcast_to(held, n.shape).ravel()


def _refits(priors: Priors) -> tuple[np.ndarray, np.ndarray]:
    """Nodes of refit scatter, percent, with their shares beforehand: the one stated, else by the law of `Priors`."""
    if priors.refit is not None:
        return np.array([priors.refit]), np.ones(1)
    shares = (np.arange(GRID) + 0.5) / GRID
    if priors.usual:
        return priors.refit_usual * shares, shares / shares.sum()
    return priors.refit_least * (priors.refit_most / priors.refit_least) ** shares, np.full(GRID, 1.0 / GRID)


def reckoned(layout: Design, priors: Priors) -> Priors:
    """``priors`` as `difference` uses them: with a spare fit the pulls can speak against a large refit scatter, and
    its bound steps back."""
    return replace(priors, refit_most=max(priors.refit_most, WIDEST)) if layout.fit_freedom > 0 else priors
