"""Planned pulls: the numbers of the trade, limits set by refit scatter, and the plan kept by the judge itself."""

import numpy as np
import pytest

from pullcast.answers.pulls_needed import best_plan, held_before, power_of, pulls_needed
from pullcast.answers.refit_doubt import resolves
from pullcast.answers.session_returns import came_back
from pullcast.answers.session_stats import design, difference
from pullcast.errors import InputError


@pytest.mark.parametrize(("sequence", "noise", "pulls"), [
    ("A-B-A", 0.005, 4), ("A-B-A", 0.01, 13), ("A-B", 0.01, 17), ("A-B", 0.005, 6)])
def test_numbers_of_the_trade(sequence, noise, pulls):
    """1 % at 80 % power, nothing taken off, no drift without a return: 6 or 4-4-4, 17 or 13-13-13 (common practice).

    One pull either way is granted: the judge also knows the usual size of pull noise, a t test does not.
    """
    plan = pulls_needed(0.01, noise=noise, refit=0.0, sequence=sequence, drift=0.0)
    assert plan.enough
    assert abs(plan.per_fit - pulls) <= 1
    assert plan.total == plan.per_fit * len(sequence.split("-"))


def test_refit_scatter_sets_a_floor():
    """0.4 % refit sd and one return: standard error 0.49 % however many pulls (common practice; sqrt(1.5) * 0.4)."""
    plan = pulls_needed(0.01, noise=0.005, refit=0.004)
    assert not plan.enough
    assert plan.refit_error == pytest.approx(0.0049, abs=5e-5)
    better = best_plan(0.01, noise=0.005, refit=0.004)
    assert plan.instead == better
    assert "leaves a standard error of 0.49 %; put the part on 3 times with a return after each: A-B" in repr(plan)
    assert better.enough
    assert better.sequence.count("B") > 2
    assert "resolve 1.0 %" in repr(better)


def test_power_grows_with_pulls_and_difference():
    powers = [power_of("A-B-A", n, 0.012, noise=0.006, refit=0.0) for n in (2, 4, 8)]
    assert powers == sorted(powers)
    assert power_of("A-B-A", 4, 0.02, noise=0.006, refit=0.002) > power_of("A-B-A", 4, 0.01, noise=0.006, refit=0.002)
    assert power_of("A-B-A", 4, 0.0, noise=0.006, refit=0.002) < 0.06


@pytest.mark.parametrize(("effect", "noise", "refit", "sequence"), [
    (0.01, 0.005, 0.0, "A-B-A"), (0.02, 0.005, 0.004, "A-B-A"), (0.03, 0.005, None, "A-B-A"),
    (0.015, 0.008, 0.003, "A-B-A-B-A"), (0.02, 0.02, 0.0, "A-B-A"), (0.02, 0.01, 0.002, "A-B-A"),
    (0.012, 0.005, 0.002, "A-B-A-B-A"), (0.03, 0.008, None, "A-B-A-B-A"), (0.03, 0.008, None, "A-B-A"),
    (0.02, 0.005, None, "A-B-A-B-A"), (0.01, 0.005, 0.004, "A-B-A")])
def test_planned_power_is_reached(effect, noise, refit, sequence):
    """2000 fresh sessions judged, verdict and return: the share lies within 5 points of the plan (sd of the draws: 1
    point); where the sequence cannot, of the one that is named instead."""
    plan = pulls_needed(effect, noise=noise, refit=refit, sequence=sequence)
    plan = plan if plan.enough else plan.instead
    assert plan.power >= 0.8
    sequence = plan.sequence
    rng = np.random.default_rng(99)
    part = np.repeat([0 if s == "A" else 1 for s in sequence.split("-")], plan.per_fit)
    fit = np.repeat(np.arange(len(sequence.split("-"))), plan.per_fit)
    layout, count = design(part, fit), 2000
    scatter = 0.4 * np.exp(0.35 * rng.normal(size=count)) if refit is None else 100 * refit
    y = 100.0 + 100 * effect * part[:, None] + rng.uniform(-1.5, 1.5, count) * layout.x[:, None]
    y = y + 100 * noise * rng.normal(size=(part.size, count)) + scatter * rng.normal(size=(fit.max() + 1, count))[fit]
    held = held_before(refit)
    share = np.mean(resolves(difference(y, layout, held), 1, 0.95) & came_back(y, layout, held))
    assert share == pytest.approx(plan.power, abs=0.05)


def test_an_unknown_refit_scatter_asks_for_more_fits():
    plan = pulls_needed(0.01, noise=0.005)
    assert not plan.enough
    assert plan.instead is None
    assert "while the refit scatter is not known; nor do 6 turns of the part with a return after each: measure the " \
           "scatter and state it (refit)" in repr(plan)
    more, told = best_plan(0.02, noise=0.005), best_plan(0.02, noise=0.005, refit=0.004)
    assert more.enough
    assert len(more.sequence) > len(told.sequence)


@pytest.mark.parametrize(("how", "text"), [
    ({"difference": 1.0, "noise": 0.005}, "difference 1 is outside 0 to 0.5: give it as a fraction"),
    ({"difference": 0.01, "noise": 0.0}, "noise 0 is outside"),
    ({"difference": 0.01, "noise": 0.005, "power": 1.0}, "power 1 is outside"),
    ({"difference": 0.01, "noise": 0.005, "sequence": "A-A"}, "has one part only"),
])
def test_bad_questions(how, text):
    with pytest.raises(InputError, match=text):
        pulls_needed(**how)
