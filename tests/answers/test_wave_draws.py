"""What is learned of a spread from a few balanced draws, on drawn laws whose spread is known."""

import numpy as np
import pytest
from scipy.stats import truncnorm

from pullcast.answers.sampling import Factor, draws
from pullcast.answers.wave_draws import learned


def drawn_laws(factors, curved, count=250):
    """Deviations at the first eight of 32 draws, and at 100 independent truths, of random laws of ``factors``."""
    random = np.random.default_rng(8)
    for seed in range(count):
        z = draws([Factor(str(k)) for k in range(factors)], 32, seed)[:8]
        slope = random.normal(size=factors) * np.exp(0.7 * random.normal(size=factors))
        bend = curved * slope * random.normal(size=factors)
        truths = truncnorm.rvs(-2, 2, size=(100, factors), random_state=random)
        yield z @ slope + z**2 @ bend, truths @ slope + truths**2 @ bend


@pytest.mark.parametrize("factors", [10, 40])
@pytest.mark.parametrize("curved", [0.0, 0.2])
def test_bands_from_eight_draws_hold_four_of_five(factors, curved):
    inside, mean, square = [], [], []
    for seen, true in drawn_laws(factors, curved):
        law = learned(seen[:, None])
        low, high = law.ends(0.8)
        inside.append(np.mean((true >= low[0]) & (true <= high[0])))
        mean.append((law.mean[0] - true.mean()) ** 2 / true.var())
        square.append(law.scale[0, 0] / true.var())
    assert np.mean(inside) == pytest.approx(0.8, abs=0.025)
    assert np.mean(square) == pytest.approx(1.0, abs=0.08)
    assert np.mean(mean) < 0.2 / 8.0  # of independent draws: an eighth, and a hundredth of the truths themselves


def test_a_joint_draw_has_the_bands_of_its_parts():
    mixed = np.array([[1.0, 0.5, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 2.0]])
    seen = np.random.default_rng(1).normal(size=(8, 3)) @ mixed
    law = learned(seen)
    some = law.draw(np.random.default_rng(2), 40000)
    low, high = law.ends(0.8)
    assert np.quantile(some, 0.1, axis=0) == pytest.approx(low, abs=0.05)
    assert np.quantile(some, 0.9, axis=0) == pytest.approx(high, abs=0.05)
    apart = learned((seen[:, 0] - seen[:, 1])[:, None]).ends(0.8)
    assert np.quantile(some[:, 0] - some[:, 1], (0.1, 0.9)) == pytest.approx(np.concatenate(apart), abs=0.05)


def test_what_does_not_vary_is_certain():
    law = learned(np.full((8, 2), 0.01))
    assert np.array_equal(law.draw(np.random.default_rng(0), 5), np.full((5, 2), 0.01))
