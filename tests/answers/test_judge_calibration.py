"""The judge on simulated sessions whose noise, drift and refit scatter it does not know.

Drawn per session: 3 to 6 pulls per fit, pull noise .3 to 1 %, refit scatter .2 to .6 %, drift -1.5 to 1.5 % (the
ranges of the trade: common practice, no source). Bounds are
the promised ones.
"""

import numpy as np
import pytest

from pullcast.answers.session_stats import Priors, design, difference, returned_part

PER_SIZE = 200  # sessions per number of pulls


def sessions(sequence, per_fit, rng, effect=0.0, bad=0.0, drift=1.5, count=PER_SIZE):
    """One layout with ``count`` sessions as columns, percent."""
    part = np.repeat(["AB".index(c) for c in sequence], per_fit)
    fit = np.repeat(np.arange(len(sequence)), per_fit)
    layout = design(part, fit)
    noise, refit = rng.uniform(0.3, 1.0, count), rng.uniform(0.2, 0.6, count)
    y = 100.0 + effect * part[:, None] + rng.uniform(-drift, drift, count) * layout.x[:, None]
    y = y + noise * rng.normal(size=(part.size, count)) + refit * rng.normal(size=(len(sequence), count))[fit]
    return layout, y + bad * (fit == fit.max())[:, None]


def flagged(layout, y):
    post = returned_part(y, layout, Priors(), int(layout.fit.max()))
    return np.abs(post.centre(2)) > 2.0 * post.spread(2)


@pytest.mark.parametrize("sequence", ["ABA", "ABABA"])
def test_coverage_and_false_verdicts(sequence):
    rng = np.random.default_rng(7)
    inside, false = [], []
    for effect in (0.0, 1.7):
        for per_fit in (3, 4, 5, 6):
            layout, y = sessions(sequence, per_fit, rng, effect)
            post = difference(y, layout, Priors())
            low, high = post.quantile(1, 0.025), post.quantile(1, 0.975)
            inside.append((low <= effect) & (effect <= high))
            if effect == 0.0:
                false.append(((low > 0) | (high < 0)) & ~flagged(layout, y))
    assert 0.92 <= np.mean(inside) <= 0.98
    assert np.mean(false) <= 0.05


def test_linear_drift_is_cancelled_exactly():
    rng = np.random.default_rng(5)
    layout, y = sessions("ABA", 4, rng, 1.0, count=20)
    there = difference(y, layout, Priors())
    drifted = difference(y + 6.0 * layout.x[:, None], layout, Priors())
    assert drifted.centre(1) == pytest.approx(there.centre(1), abs=1e-8)
    assert drifted.spread(1) == pytest.approx(there.spread(1), rel=1e-6)


def test_bad_returns_are_flagged_and_good_ones_are_not():
    rng = np.random.default_rng(11)
    caught = np.mean([flagged(*sessions("ABA", n, rng, 1.0, bad=b)) for n in (3, 4, 5, 6) for b in (-5.0, 4.5)])
    alarms = np.mean([flagged(*sessions("ABA", n, rng, 1.0)) for n in (3, 4, 5, 6)])
    assert caught >= 0.90
    assert alarms <= 0.06


def test_without_a_return_drift_is_in_the_interval():
    rng = np.random.default_rng(3)
    layout, y = sessions("AB", 6, rng, 0.0, drift=1.7)
    post = difference(y, layout, Priors())
    inside = (post.quantile(1, 0.025) <= 0) & (post.quantile(1, 0.975) >= 0)
    assert np.mean(inside) >= 0.92
    tight = difference(y, layout, Priors(drift=1e-6))
    assert np.all(post.spread(1) > tight.spread(1))


def test_refit_as_given_is_taken_as_given():
    rng = np.random.default_rng(2)
    layout, y = sessions("ABA", 4, rng, count=50)
    exact = difference(y, layout, Priors(refit=0.4, refit_spread=0.0))
    none = difference(y, layout, Priors(refit=1e-6, refit_spread=0.0))
    assert exact.refit == pytest.approx(0.4)
    assert np.all(none.spread(1) < exact.spread(1))


def test_many_refits_show_their_own_scatter():
    rng = np.random.default_rng(13)
    part, fit = np.repeat([0, 1] * 8, 3), np.repeat(np.arange(16), 3)
    layout = design(part, fit)
    y = 100 + 1.2 * rng.normal(size=(16, 40))[fit] + 0.4 * rng.normal(size=(48, 40))
    post = difference(y, layout, Priors())
    assert 0.9 < np.mean(post.refit) < 1.4
    assert 0.35 < np.mean(post.noise) < 0.45
