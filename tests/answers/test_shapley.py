"""Shapley values: the axioms, the worked games, sampling that still sums exactly."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.answers.shapley import EXACT, combinations_needed, orders, split
from pullcast.errors import InputError


def game(n, f):
    return {mask: f({i for i in range(n) if mask >> i & 1}) for mask in range(2**n)}


def test_the_glove_game():
    """One left glove, two right ones: 2/3, 1/6, 1/6 (Shapley 1953; from memory)."""
    values = game(3, lambda s: float(0 in s and bool(s & {1, 2})))
    assert split(values, 3).parts.tolist() == pytest.approx([2 / 3, 1 / 6, 1 / 6])


def test_brute_force_over_all_orders():
    random = np.random.default_rng(3)
    values = {m: random.normal(size=4) for m in range(2**4)}
    by_order = np.zeros((4, 4))
    for order in itertools.permutations(range(4)):
        mask = 0
        for i in order:
            by_order[i] += (values[mask | 1 << i] - values[mask]) / 24
            mask |= 1 << i
    assert split(values, 4).parts == pytest.approx(by_order)


def test_interaction_of_a_product_and_of_a_sum():
    product = split(game(2, lambda s: float(s == {0, 1})), 2)
    assert product.pairs[0, 1] == pytest.approx(1.0)
    added = split(game(3, lambda s: float(sum(i + 1 for i in s))), 3)
    assert added.parts.tolist() == pytest.approx([1.0, 2.0, 3.0])
    assert np.abs(added.pairs).max() < 1e-12


@given(st.integers(0, 9), st.integers(0, 5))
def test_parts_sum_to_the_whole_and_a_null_change_gets_nothing(n, seed):
    null = n - 1

    def value(mask):
        return np.random.default_rng(hash((seed, mask & ~(1 << null) if n else 0)) % 2**32).normal(size=2)

    needed = combinations_needed(n)
    values = {m: value(m) for m in needed}
    s = split(values, n)
    assert s.parts.sum(axis=0) == pytest.approx(s.whole, abs=1e-12)
    assert s.exact == (n <= EXACT)
    if n:
        assert np.abs(s.parts[null]).max() < 1e-12


def test_sampling_meets_the_exact_values_within_its_error():
    n = 8
    random = np.random.default_rng(1)
    main, pair = random.normal(size=n), random.normal(size=(n, n)) * 0.3
    exact = main + 0.5 * (np.triu(pair, 1).sum(axis=1) + np.triu(pair, 1).sum(axis=0))

    def f(mask):
        on = np.array([mask >> i & 1 for i in range(n)])
        return main @ on + on @ np.triu(pair, 1) @ on

    sampled = split({m: f(m) for m in combinations_needed(n, 30)}, n, 30)
    assert not sampled.exact
    assert sampled.parts == pytest.approx(exact, abs=1e-9)  # an order and its reverse are exact for pairs
    assert (sampled.error < 1e-9).all()

    def cubic(mask):
        return f(mask) + 2.0 * float(mask & 7 == 7)

    rough = split({m: cubic(m) for m in combinations_needed(n, 30)}, n, 30)
    wanted = exact + np.array([2 / 3] * 3 + [0.0] * 5)
    assert np.abs(rough.parts - wanted).max() < 4 * rough.error.max()
    assert rough.error[:3].max() > 0.01


def test_few_combinations_beyond_six():
    assert len(combinations_needed(6)) == 64
    assert len(combinations_needed(9)) < 110
    assert combinations_needed(9)[0] == 0
    assert combinations_needed(9)[-1] == 511
    assert orders(5)[1] == orders(5)[0][::-1]
    with pytest.raises(InputError, match="-1 changes cannot be split"):
        combinations_needed(-1)
