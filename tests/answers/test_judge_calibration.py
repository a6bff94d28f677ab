"""The judge on simulated sessions whose noise, drift and refit scatter it does not know.

Drawn per session: 3 to 6 pulls per fit, pull noise .3 to 1 %, refit scatter .2 to 1 %, drift -1.5 to 1.5 % (the
ranges of the trade: common practice, no source). Bounds are the promised ones.
"""

import numpy as np
import pytest

from pullcast.answers.refit_doubt import resolves, stands, stands_to
from pullcast.answers.session_stats import Priors, design, difference, returned_part

PER_SIZE = 200  # sessions per number of pulls


def sessions(sequence, per_fit, rng, effect=0.0, bad=0.0, drift=1.5, count=PER_SIZE, scatter=(0.2, 1.0)):
    """One layout with ``count`` sessions as columns, percent; refit sd drawn evenly from ``scatter``."""
    part = np.repeat(["AB".index(c) for c in sequence], per_fit)
    fit = np.repeat(np.arange(len(sequence)), per_fit)
    layout = design(part, fit)
    noise, refit = rng.uniform(0.3, 1.0, count), rng.uniform(*scatter, count)
    y = 100.0 + effect * part[:, None] + rng.uniform(-drift, drift, count) * layout.x[:, None]
    y = y + noise * rng.normal(size=(part.size, count)) + refit * rng.normal(size=(len(sequence), count))[fit]
    return layout, y + bad * (fit == fit.max())[:, None]


def flagged(layout, y):
    post = returned_part(y, layout, Priors(), int(layout.fit.max()))
    return np.abs(post.centre(2)) > 2.0 * post.spread(2)


def judged(sequence, effects, sizes=(3, 4, 5, 6), seed=7, **how):
    """Shares of intervals that hold the truth, and of identical parts said to differ with a good return."""
    rng = np.random.default_rng(seed)
    inside, false = [], []
    for effect in effects:
        for per_fit in sizes:
            layout, y = sessions(sequence, per_fit, rng, effect, **how)
            post = difference(y, layout, Priors())
            low, high = post.quantile(1, 0.025), post.quantile(1, 0.975)
            inside.append((low <= effect) & (effect <= high))
            if effect == 0.0:
                false.append(resolves(post, 1, 0.95) & ~flagged(layout, y))
    return np.mean(inside), np.mean(false)


@pytest.mark.parametrize("sequence", ["ABA", "ABABA", "ABABABA"])
def test_coverage_and_false_verdicts(sequence):
    inside, false = judged(sequence, (0.0, 1.7))
    assert 0.92 <= inside <= 0.98
    assert false <= 0.05


@pytest.mark.parametrize("refit", [0.2, 0.4, 0.6, 0.8, 1.0])
@pytest.mark.parametrize("sequence", ["ABA", "ABABA"])
def test_coverage_and_false_verdicts_at_every_refit_scatter(sequence, refit):
    # whatever the engine room's scatter: 92 % of intervals hold at the least, a room that refits well gets more
    # than it asked for, as one return hardly shows the scatter; and equal parts are said to differ in one of twenty
    inside, false = judged(sequence, (0.0, 1.7), (3, 5), scatter=(refit, refit))
    assert inside >= 0.90  # .92 less 2 sd of 800 draws
    assert false <= 0.05


def test_what_hangs_on_the_refit_scatter_is_not_resolved_until_it_is_stated():
    layout, y = sessions("ABA", 4, np.random.default_rng(23), 2.3, count=60)
    unknown, stated = difference(y, layout, Priors()), difference(y, layout, Priors(refit=0.4))
    clear = unknown.quantile(1, 0.025) > 0.0
    firm, limit = stands(unknown, 1, 0.95), stands_to(unknown, 1, 0.95)
    assert np.any(clear & ~firm)
    assert np.all(limit[clear & ~firm] < 0.95)
    assert np.all(limit[firm] > 0.95)
    assert np.mean(resolves(stated, 1, 0.95)) > 1.5 * np.mean(resolves(unknown, 1, 0.95))
    low, high = stated.quantile(1, 0.025), stated.quantile(1, 0.975)
    assert np.array_equal(resolves(stated, 1, 0.95), (low > 0) | (high < 0))


def test_intervals_follow_what_many_refits_show():
    rng, widths = np.random.default_rng(17), {}
    for refit in (0.2, 1.0):
        layout, y = sessions("ABABABA", 3, rng, scatter=(refit, refit))
        post = difference(y, layout, Priors())
        widths[refit] = np.mean(post.quantile(1, 0.975) - post.quantile(1, 0.025))
    assert widths[1.0] > 1.8 * widths[0.2]


def test_linear_drift_is_cancelled_exactly():
    rng = np.random.default_rng(5)
    layout, y = sessions("ABA", 4, rng, 1.0, count=20)
    there = difference(y, layout, Priors())
    drifted = difference(y + 6.0 * layout.x[:, None], layout, Priors())
    assert drifted.centre(1) == pytest.approx(there.centre(1), abs=1e-8)
    # a drift of six times the usual is a day to mistrust: intervals widen
    assert drifted.spread(1).mean() > 1.1 * there.spread(1).mean()


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
    exact = difference(y, layout, Priors(refit=0.4))
    none = difference(y, layout, Priors(refit=1e-6))
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
