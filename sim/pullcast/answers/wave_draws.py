"""What a few draws by waves tell of the spread of gains, where the many draws are by the lumped model.

The lumped spread is a poor guide where tuning decides: between shipped engines' parts the spread by waves was from a
fifth to six times of what was made of it. So the leading engines are also marched by waves at the first few draws,
and their spread is what these show: a normal law of unknown mean and covariance, nothing else held of it, one more
deviation by Student's t. Gelman et al., Bayesian Data Analysis (2013), sec. 3.2 and 3.6 (from memory).

The first draws of a scrambled Sobol sequence, a power of two, are no independent ones: each unknown is spread evenly
over its range, so that the mean of a smooth deviation is all but exact (Owen, Annals of Statistics 25 (1997) 1541,
from memory). Of eight it is off by a fourteenth of the variance that eight independent ones would leave, on random
linear and slightly curved laws of 10 to 40 unknowns (``tests/answers/test_wave_draws.py``). The mean square about it
is then the variance, neither a degree of freedom larger nor widened for a mean that is not known: taken as
independent, bands come out an eighth too wide.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

FEWEST = 4  # draws; of fewer Student's t makes bands that say nothing


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


def learned(seen: np.ndarray) -> Learned:
    """The law of one more deviation from those ``seen`` (k, m) at k >= 2 draws; a power of two counts as balanced.

    >>> law = learned(np.array([[1.0], [-1.0], [1.0], [-1.0]]))
    >>> float(law.scale[0, 0]), law.freedom  # four of mean square one
    (1.0, 3.0)
    >>> float(learned(np.array([[1.0], [0.0], [-1.0]])).scale[0, 0])  # a draw was lost: 2 / 2, a third for the mean
    1.3333333333333333
    """
    k = seen.shape[0]
    mean = seen.mean(axis=0)
    off = seen - mean
    balanced = k & (k - 1) == 0
    return Learned(mean, off.T @ off * (1.0 / k if balanced else (1.0 + 1.0 / k) / (k - 1.0)), k - 1.0)
