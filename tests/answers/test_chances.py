"""Chances from paired samples: twins, noise, calibration over drawn truths, verdicts."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import truncnorm

from pullcast.answers.agreement import agreement, rank_correlation
from pullcast.answers.chances import TUNING, Noise, chances, shared_gap, shared_tuning
from pullcast.answers.influence import Influence, expected_after, how_measured, suspects
from pullcast.answers.ranking import chance_text
from pullcast.answers.sampling import Factor, draws
from pullcast.errors import InputError


def linear(effects, z):
    """Gains (s, m) of engines whose gain is linear in the draws: effects (m, f), base first with zeros."""
    return z @ np.asarray(effects).T


def sampled(seed, count, factors):
    return draws([Factor(f"k{i}") for i in range(factors)], count, seed)


@pytest.mark.parametrize("seed", range(40))
def test_eight_clones_have_no_winner(seed):
    # clones, each with an unknown of its own besides the common ones: nothing tells them apart
    z = sampled(seed, 32, 11)
    effects = np.zeros((9, 11))
    effects[1:, :3] = [0.01, -0.004, 0.003]
    effects[1:, 3:] = 0.004 * np.eye(8)
    found = chances(np.array([0.0, *[0.02] * 8]), linear(effects, z), range(9), Noise(0.0005), seed=seed)
    assert found.winner(range(1, 9)) is None
    assert found.best(range(1, 9)).max() < 0.5
    assert all(found.verdict(1, k) == "no difference" for k in range(2, 9))


def test_identical_engines_are_one():
    z = sampled(3, 16, 2)
    d = linear([[0, 0], [0.01, 0.003], [0.01, 0.003]], z)
    found = chances(np.array([0.0, 0.01, 0.01]), d, ["a", "b", "b"], Noise(0.001), seed=1)
    assert found.verdict(1, 2) == "identical"
    assert found.better(1, 2) == 0.5
    assert found.best([0, 1, 2])[1] == found.best([0, 1, 2])[2]
    assert np.array_equal(found.draws[:, 1], found.draws[:, 2])


def test_said_with_a_chance_comes_true_as_often():
    # many rankings with their own truth, drawn from the same ranges but not from the samples
    random = np.random.default_rng(11)
    said, true, inside, bands = [], [], 0, 0
    for seed in range(400):
        effects = np.vstack([np.zeros(6), random.normal(0, 0.006, (4, 6))])
        centre = np.array([0.0, *random.normal(0, 0.012, 4)])
        found = chances(centre, linear(effects, sampled(seed, 32, 6)), range(5), Noise(0.0), seed=seed)
        truth = centre + linear(effects, truncnorm.rvs(-2, 2, size=(1, 6), random_state=random))[0]
        for i in range(5):
            for j in range(i):
                said.append(found.better(i, j))
                true.append(truth[i] > truth[j])
        low, high = zip(*(found.band(k) for k in range(1, 5)), strict=True)
        inside += int(np.sum((truth[1:] > low) & (truth[1:] < high)))
        bands += 4
    said, true = np.array(said), np.array(true)
    sure, right = np.maximum(said, 1 - said), np.where(said > 0.5, true, ~true)
    near = (sure > 0.7) & (sure < 0.9)
    assert near.sum() > 500
    assert 0.7 <= right[near].mean() <= 0.9
    assert abs(right.mean() - sure.mean()) < 0.03
    assert 0.74 <= inside / bands <= 0.88


def test_numerical_noise_alone_gives_no_difference_below_its_band():
    found = chances(np.array([0.0, 0.0006, 0.01]), np.zeros((0, 3)), range(3), Noise(0.0005))
    assert found.verdict(1, 0) == "no difference"
    assert found.verdict(2, 0) == "clear"
    assert found.winner([0, 1, 2]) == 2
    assert found.winner([0]) is None


def test_a_gap_of_a_shared_part_cancels():
    gap = shared_gap([{}, {"cam": "x"}, {"cam": "x", "intake": "y"}, {"intake": "z"}], 0.02)
    found = chances(np.array([0.0, 0.01, 0.02, 0.02]), np.zeros((0, 4)), range(4), Noise(0.0, gap=gap))
    assert found.draws[:, 1].std() == pytest.approx(0.02, rel=0.05)
    assert (found.draws[:, 2] - found.draws[:, 1]).std() == pytest.approx(0.02, rel=0.05)
    assert (found.draws[:, 3] - found.draws[:, 1]).std() == pytest.approx(0.02 * 2**0.5, rel=0.05)


@given(st.lists(st.floats(-0.05, 0.05), min_size=2, max_size=6), st.integers(0, 1000))
def test_chances_are_chances(centre, seed):
    centre = np.array([0.0, *centre])
    m = centre.size
    d = linear(np.vstack([np.zeros(4), np.random.default_rng(seed).normal(0, 0.01, (m - 1, 4))]), sampled(seed, 8, 4))
    found = chances(centre, d, range(m), Noise(0.0005), seed=seed)
    assert found.best(range(m)).sum() == pytest.approx(1.0)
    for i in range(m):
        low, high = found.band(i)
        assert low <= high
        for j in range(m):
            assert found.better(i, j) + found.better(j, i) == pytest.approx(1.0)
            assert found.verdict(i, j) == found.verdict(j, i)


def test_draws_are_balanced_and_inside_the_ranges():
    z = sampled(0, 64, 20)
    assert np.abs(z).max() < 2.0
    assert np.abs(z.mean(axis=0)).max() < 0.05
    assert z.std(axis=0) == pytest.approx(np.full(20, 0.88), abs=0.04)  # a normal cut at two standard deviations
    assert not np.allclose(sampled(1, 64, 20), z)
    with pytest.raises(InputError, match="12 samples: give a power of two"):
        sampled(0, 12, 2)


def test_the_factor_that_decides_is_found():
    z = sampled(5, 32, 12)
    d = z @ np.array([0.001] * 7 + [0.006] + [0.001] * 4)
    assert suspects([Factor(f"k{i}") for i in range(12)], z, d)[0] == 7
    assert suspects([Factor("a")], z[:, :1], np.zeros(32)) == []
    assert suspects([], np.zeros((32, 0)), d) == []


def test_measuring_helps_as_far_as_it_decides():
    now = expected_after(0.005, 0.0, 0.01)
    assert now == pytest.approx(0.691, abs=0.002)  # the normal integral of one half
    assert expected_after(0.005, 0.0099, 0.0014) > 0.9
    assert now < expected_after(0.005, 0.005, 0.00866) < expected_after(0.005, 0.008, 0.006)
    assert how_measured("intake.runner.length") == "with a tape"
    assert "calibration" in how_measured("walls.factor")


def test_agreement_of_both_models():
    found = agreement(["a", "b", "c"], [0.01, 0.02, float("nan")], [0.02, 0.01, 0.0], [{"cam": 1}] * 3)
    assert found.names == ("a", "b")
    assert found.spread == pytest.approx(0.01)
    assert rank_correlation(np.array([1.0, 2.0, 3.0]), np.array([3.0, 2.0, 1.0])) == -1.0
    assert "No engine was computed by both models" in repr(agreement([], [], [], []))
    assert chance_text(0.999) == ">99"


def test_what_only_waves_see_is_shared_as_far_as_the_swaps_are():
    swaps = [{}, {"cam": 1}, {"cam": 1, "intake": 2}, {"intake": 3}]
    by_waves = np.array([0.0, 0.02, -0.03, 0.01])
    c = shared_tuning(swaps, by_waves)
    assert np.sqrt(np.diag(c)) == pytest.approx(TUNING * np.abs(by_waves))
    assert c[1, 2] == pytest.approx(TUNING**2 * 0.02 * -0.03 / np.sqrt(2.0))
    assert not c[0].any()
    assert c[1, 3] == 0.0
    assert np.linalg.eigvalsh(c).min() > -1e-15
    centre = np.array([0.0, 0.02, 0.02, 0.02])
    found = chances(centre, np.zeros((0, 4)), range(4), Noise(0.0005, tuning=c), seed=1)
    low, high = found.band(1)
    assert high - low == pytest.approx(2 * 1.2816 * np.hypot(TUNING * 0.02, 0.0005), rel=0.05)
    assert found.floor[1, 3] == pytest.approx(1.2816 * 0.0005)  # what the model resolves is another matter


def test_waves_at_a_few_draws_decide_the_spread():
    """Truths from laws that the lumped draws know nothing of: said with 80 % comes true as often."""
    random = np.random.default_rng(4)
    inside, tails = [], []
    for seed in range(300):
        size = random.uniform(0.001, 0.02)  # of the true spread; the lumped one is .004 throughout
        z = sampled(seed, 32, 6)
        true = np.vstack([np.zeros(6), random.normal(0, size, (2, 6))])
        lumped = linear(np.vstack([np.zeros(6), random.normal(0, 0.004 / 6**0.5, (2, 6))]), z)
        centre = np.array([0.0, 0.01, 0.02])
        found = chances(centre, lumped, range(3), Noise(0.0005, 0.75, seen=linear(true, z[:8])), seed=seed)
        truth = centre + linear(true, truncnorm.rvs(-2, 2, size=(20, 6), random_state=random))
        for i, j in ((1, 0), (2, 0), (2, 1)):
            low, high = found.band(i, j)
            d = truth[:, i] - truth[:, j]
            inside.append((d >= low) & (d <= high))
            tails.append(np.median(found.draws[:, i] - found.draws[:, j]) - centre[i] + centre[j])
    assert 0.76 <= np.mean(inside) <= 0.84
    assert abs(np.mean(tails)) < 0.001


def test_without_waves_the_lumped_spread_stands():
    z = sampled(1, 32, 3)
    d = linear([[0, 0, 0], [0.01, 0, 0]], z)
    plain = chances(np.array([0.0, 0.01]), d, range(2), Noise(0.0005, 0.75), seed=2)
    none = chances(np.array([0.0, 0.01]), d, range(2), Noise(0.0005, 0.75, seen=np.zeros((0, 2))), seed=2)
    still = chances(np.array([0.0, 0.01]), d, range(2), Noise(0.0005, 0.75, seen=np.zeros((8, 2))), seed=2)
    assert np.array_equal(plain.draws, none.draws)
    assert np.ptp(still.band(1)) == pytest.approx(2 * 1.2816 * 0.0005, rel=0.05)  # what the grid leaves


def test_an_order_that_the_lumped_model_does_not_see_is_known():
    good = agreement(list("abcd"), [0.01, 0.02, 0.03, 0.04], [0.02, 0.01, 0.03, 0.05], [{"cam": 1}] * 4)
    bad = agreement(list("abcd"), [0.01, 0.02, 0.03, 0.04], [0.03, 0.04, 0.01, 0.02], [{"cam": 1}] * 4)
    assert good.ordered
    assert not bad.ordered
    assert agreement(["a"], [0.01], [0.02], [{"cam": 1}]).ordered  # too few to tell


def test_a_share_of_nothing_is_not_told_as_nought():
    text = repr(Influence("a", "b", "lash", "cam.lash", 0.001, 0.0, 0.6, 0.6, "with a feeler gauge"))
    assert "no single unknown decides" in text
    assert "below 1 %" in text
    assert " 0 %" not in text
