"""What a few draws by waves tell of the spread of gains, where the many draws are by the lumped model.

The lumped spread is a poor guide where tuning decides: on shipped engines the spread by waves was from a sixth to
twice of what was made of it. So the leading engines are also marched by waves at the first few draws, and the spread
is learned from these, with the lumped one before them weighing as much as one draw: a normal law of unknown mean and
covariance with its conjugate prior, predictions by Student's t. Gelman et al., Bayesian Data Analysis (2013), sec.
3.6 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

WEIGHT = 1.0  # of the spread held before, in draws


@dataclass(frozen=True)
class Learned:
    """A Student's t law of deviations: ``mean`` (m,), ``scale`` (m, m) covariance-like, ``freedom`` degrees."""

    mean: np.ndarray
    scale: np.ndarray
    freedom: float

    def draw(self, rng: np.random.Generator, count: int) -> np.ndarray:
        """Joint draws (count, m); the scale may be singular."""
        values, vectors = np.linalg.eigh(self.scale)
        normal = rng.normal(size=(count, values.size)) @ (vectors * np.sqrt(np.maximum(values, 0.0))).T
        return self.mean + normal / np.sqrt(rng.chisquare(self.freedom, size=(count, 1)) / self.freedom)

    def ends(self, share: float) -> tuple[np.ndarray, np.ndarray]:
        """The ends (m,) of the middle ``share`` of each deviation by itself."""
        from scipy.special import stdtrit

        half = stdtrit(self.freedom, 0.5 + 0.5 * share) * np.sqrt(np.maximum(np.diag(self.scale), 0.0))
        return self.mean - half, self.mean + half


def learned(before: np.ndarray, seen: np.ndarray) -> Learned:
    """The law of deviations from the covariance held ``before`` (m, m) and the deviations ``seen`` (k, m).

    >>> law = learned(np.eye(1), np.array([[1.0], [-1.0], [1.0], [-1.0]]))
    >>> float(law.scale[0, 0]), law.freedom  # (1 + 4) / 5, and a sixth more for the mean that is not known
    (1.2, 5.0)
    """
    k = seen.shape[0]
    mean, weight = seen.mean(axis=0), WEIGHT + k
    off = seen - mean
    total = WEIGHT * before + off.T @ off + WEIGHT * k / weight * np.outer(mean, mean)
    return Learned(k * mean / weight, total * (weight + 1.0) / weight**2, weight)
