"""From paired samples to chances: that an order is real, of being the best, and the band on a gain.

All gains are relative to the base engine, whose own gain is zero; identical engines get identical gains, noise
included. The samples are smoothed and widened into an ensemble of joint draws:

gain_k = centre_k + share x deviation_k(sample) + normal noise with covariance (h2 + misfit2) x cov(deviations)
         + tuning + model gap + numerical noise

Where the engines were marched by waves at some of the draws, the deviations are those learned from these alone
(``wave_draws``). Smoothed bootstrap with shrinkage: Silverman and Young, Biometrika 74 (1987) 469 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullcast.answers.wave_draws import learned

BAND = (0.1, 0.9)  # an 80 % band
LIKELY, CLEAR = 0.80, 0.95
BANDWIDTH = 0.3  # of the smoothing, in standard deviations of the samples
ENSEMBLE = 8192
TUNING = 0.3  # sd of a wave effect by the unknowns, relative to the effect (``tests/answers/test_rank_constants.py``)
SAME = 1e-9  # gains nearer than this are equal


@dataclass(frozen=True)
class Noise:
    """What the samples do not hold, as standard deviations of a gain (fractions).

    ``numerical`` of a difference of two engines; ``misfit`` relative to the deviations, where these come from the
    lumped model and the centre from waves, and ``tuning`` (m, m) covariance of what waves alone make of the draws
    then; ``gap`` (m, m) covariance of the model gap of the engines' gains. ``seen`` (k, m) deviations by waves, which
    stand in place of the samples, ``misfit`` and ``tuning``.
    """

    numerical: float
    misfit: float = 0.0
    gap: np.ndarray | None = None
    tuning: np.ndarray | None = None
    seen: np.ndarray | None = None


@dataclass(frozen=True)
class Chances:
    """Joint draws of the gains of ``m`` engines, base first: ``draws`` (n, m) fractions, ``centre`` (m,).

    ``floor`` (m, m): differences of two engines smaller than this are below what the model itself resolves.
    """

    centre: np.ndarray
    draws: np.ndarray
    floor: np.ndarray

    def better(self, i: int, j: int) -> float:
        """Chance that engine ``i`` is truly better than ``j``; one half for identical ones."""
        d = self.draws[:, i] - self.draws[:, j]
        return float(np.mean(d > SAME) + 0.5 * np.mean(np.abs(d) <= SAME))

    def best(self, kept: Sequence[int]) -> np.ndarray:
        """Chance (m,) of each of the ``kept`` engines to be the best of them; equals share it. Others have zero."""
        kept = list(kept)
        if not kept:
            return np.zeros(self.draws.shape[1])
        inside = self.draws[:, kept]
        top = inside >= inside.max(axis=1, keepdims=True) - SAME
        found = np.zeros(self.draws.shape[1])
        found[kept] = (top / top.sum(axis=1, keepdims=True)).mean(axis=0)
        return found

    def band(self, i: int, j: int = 0) -> tuple[float, float]:
        """The 80 % band of the gain of engine ``i`` over the base, less that of engine ``j``."""
        low, high = np.quantile(self.draws[:, i] - self.draws[:, j], BAND)
        return float(low), float(high)

    def verdict(self, i: int, j: int) -> str:
        """What can be said of engine ``i`` against ``j``: "identical", "no difference", "open", "likely", "clear".

        "no difference": nearer than the model resolves. Likely from 80 %, clear from 95 % in either direction.
        """
        if np.ptp(self.draws[:, i] - self.draws[:, j]) <= SAME and abs(self.centre[i] - self.centre[j]) <= SAME:
            return "identical"
        if abs(self.centre[i] - self.centre[j]) <= self.floor[i, j]:
            return "no difference"
        chance = self.better(i, j)
        sure = max(chance, 1.0 - chance)
        return "clear" if sure >= CLEAR else "likely" if sure >= LIKELY else "open"

    def winner(self, kept: Sequence[int]) -> int | None:
        """The engine that is best with a chance of 80 % and more, and above every other by more than the model
        resolves; None when there is none."""
        share = self.best(kept)
        first = int(np.argmax(share))
        others = [k for k in kept if k != first]
        if share[first] < LIKELY or not others:
            return None
        return first if all(self.verdict(first, k) in ("likely", "clear") for k in others) else None


def chances(centre: np.ndarray, deviations: np.ndarray, same: Sequence[object], noise: Noise, *,
            seed: int = 0) -> Chances:
    """The ensemble of gains.

    ``centre`` (m,) gains, base first; ``deviations`` (s, m) of the samples from the sampled centre (s may be 0);
    ``same`` (m,) keys, equal for engines that are one and the same.
    """
    m = centre.size
    rng = np.random.default_rng(seed)
    group = np.unique(np.array([str(k) for k in same]), return_inverse=True)[1]
    first = np.array([int(np.argmax(group == g)) for g in group])  # an engine's noise is that of its first twin
    draws = np.tile(centre, (ENSEMBLE, 1))
    if noise.seen is not None and len(noise.seen):
        draws += learned(noise.seen).draw(rng, ENSEMBLE)
    else:
        draws += _sampled(rng, deviations, noise.misfit)
        if noise.tuning is not None:
            draws += _normal(rng, noise.tuning)
    if noise.gap is not None:
        draws += _normal(rng, noise.gap)
    own = rng.normal(size=(ENSEMBLE, m)) * noise.numerical / np.sqrt(2.0)
    draws += own - own[:, :1]
    draws = draws[:, first]
    return Chances(centre, draws - draws[:, :1], _floor(noise, m, group))


def _sampled(rng: np.random.Generator, deviations: np.ndarray, misfit: float) -> np.ndarray:
    """The smoothed and widened samples (ENSEMBLE, m)."""
    if deviations.shape[0] < 2:
        return np.zeros((ENSEMBLE, deviations.shape[1]))
    middle = np.median(deviations, axis=0)
    pick = rng.permutation(np.arange(ENSEMBLE) % deviations.shape[0])
    spread = (BANDWIDTH**2 + misfit**2) * np.atleast_2d(np.cov(deviations, rowvar=False))
    return middle + np.sqrt(1.0 - BANDWIDTH**2) * (deviations - middle)[pick] + _normal(rng, spread)


def _normal(rng: np.random.Generator, covariance: np.ndarray) -> np.ndarray:
    """Joint normal draws (ENSEMBLE, m); the covariance may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    return rng.normal(size=(ENSEMBLE, values.size)) @ (vectors * np.sqrt(np.maximum(values, 0.0))).T


def _floor(noise: Noise, m: int, group: np.ndarray) -> np.ndarray:
    """Half of the 80 % band of a difference from the model's own noise alone (1.28 standard deviations)."""
    gap = np.zeros((m, m)) if noise.gap is None else noise.gap
    d = np.diag(gap)
    variance = d[:, None] + d[None, :] - 2.0 * gap + noise.numerical**2
    return 1.2816 * np.sqrt(np.maximum(variance, 0.0)) * (group[:, None] != group[None, :])


def shared_tuning(swaps: Sequence[dict], by_waves: np.ndarray) -> np.ndarray:
    """Covariance (m, m) of what waves alone make of the unknowns: a sd of ``TUNING`` of what waves alone make of the
    engines' gains, ``by_waves`` (m,); engines have it in common as far as they share their swaps."""
    sets = [{(key, str(value)) for key, value in s.items()} for s in swaps]
    alike = np.array([[len(a & b) / np.sqrt(max(len(a) * len(b), 1)) for b in sets] for a in sets])
    return TUNING**2 * np.outer(by_waves, by_waves) * alike


def shared_gap(swaps: Sequence[dict], per_swap: float) -> np.ndarray:
    """Covariance (m, m) of the model gap of engines by their ``swaps`` (base: none): each swap has a gap of its own
    of sd ``per_swap``, which cancels between engines that share it."""
    sets = [{(key, str(value)) for key, value in s.items()} for s in swaps]
    return per_swap**2 * np.array([[len(a & b) for b in sets] for a in sets], dtype=float)
