"""A fair split of a difference over the things that were changed: Shapley values.

The value of a change is its effect averaged over all orders in which the changes can be made (Shapley, "A value for
n-person games", Contributions to the Theory of Games II (1953) 307; from memory). The parts sum to the whole exactly.
Up to ``EXACT`` changes every combination is used; beyond, orders are drawn in pairs of an order and its reverse
(Castro, Gomez & Tejada, Comput. Oper. Res. 36 (2009) 1726 for sampling; from memory); the parts still sum exactly.

A combination is a bit mask: bit i is set when change i is made.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pullcast.errors import InputError

EXACT = 6
PAIRS = 6  # drawn orders, each with its reverse


@dataclass(frozen=True)
class Split:
    """``parts`` (n, ...) one a change, ``whole`` (...); ``pairs`` (n, n, ...) interactions, nan where not computed,
    zero on the diagonal; ``error`` (n, ...) standard error of sampled parts, zeros when exact."""

    parts: np.ndarray
    whole: np.ndarray
    pairs: np.ndarray
    error: np.ndarray
    exact: bool


def orders(n: int, pairs: int = PAIRS, seed: int = 0) -> list[tuple[int, ...]]:
    """Drawn orders of ``n`` changes, each followed by its reverse."""
    random = np.random.default_rng(seed)
    drawn = [tuple(int(i) for i in random.permutation(n)) for _ in range(pairs)]
    return [order for one in drawn for order in (one, one[::-1])]


def combinations_needed(n: int, pairs: int = PAIRS, seed: int = 0) -> list[int]:
    """The masks whose values ``split`` needs, the empty one first and the full one last."""
    if n < 0:
        msg = f"{n} changes cannot be split"
        raise InputError(msg)
    if n <= EXACT:
        return list(range(2**n))
    masks = {0, 2**n - 1}
    for order in orders(n, pairs, seed):
        masks |= set(itertools.accumulate(1 << i for i in order))
    return sorted(masks)


def split(values: Mapping[int, np.ndarray], n: int, pairs: int = PAIRS, seed: int = 0) -> Split:
    """Shapley values of ``n`` changes from the value (float or array of one shape) of each combination needed.

    >>> s = split({0: 1.0, 1: 3.0, 2: 4.0, 3: 10.0}, 2)
    >>> s.parts.tolist(), float(s.pairs[0, 1])
    ([4.0, 5.0], 4.0)
    """
    v = {mask: np.asarray(value, dtype=float) for mask, value in values.items()}
    whole = v[2**n - 1] - v[0]
    empty = np.full((n, n, *whole.shape), np.nan)
    for i in range(n):
        empty[i, i] = 0.0
    if n == 0:
        return Split(np.zeros((0, *whole.shape)), whole, empty, np.zeros((0, *whole.shape)), True)
    if n <= EXACT:
        return Split(_exact(v, n), whole, _interactions(v, n, empty), np.zeros((n, *whole.shape)), True)
    parts, error = _sampled(v, n, pairs, seed)
    return Split(parts, whole, empty, error, False)


def _exact(v: Mapping[int, np.ndarray], n: int) -> np.ndarray:
    weight = [math.factorial(s) * math.factorial(n - s - 1) / math.factorial(n) for s in range(n)]
    parts = []
    for i in range(n):
        bit = 1 << i
        parts.append(sum(weight[mask.bit_count()] * (v[mask | bit] - v[mask]) for mask in range(2**n)
                         if not mask & bit))
    return np.array(parts)


def _interactions(v: Mapping[int, np.ndarray], n: int, empty: np.ndarray) -> np.ndarray:
    """Shapley interaction index: what two changes do together beyond the sum of both, averaged over the rest.

    Grabisch & Roubens, Int. J. Game Theory 28 (1999) 547 (from memory).
    """
    if n < 2:
        return empty
    weight = [math.factorial(s) * math.factorial(n - s - 2) / math.factorial(n - 1) for s in range(n - 1)]
    for i, j in itertools.combinations(range(n), 2):
        a, b = 1 << i, 1 << j
        both = sum(weight[mask.bit_count()] * (v[mask | a | b] - v[mask | a] - v[mask | b] + v[mask])
                   for mask in range(2**n) if not mask & (a | b))
        empty[i, j] = empty[j, i] = both
    return empty


def _sampled(v: Mapping[int, np.ndarray], n: int, pairs: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Mean contribution over drawn orders, and its standard error from the scatter between pairs."""
    rows = []
    for order in orders(n, pairs, seed):
        mask, row = 0, [None] * n
        for i in order:
            row[i] = v[mask | 1 << i] - v[mask]
            mask |= 1 << i
        rows.append(row)
    each = np.array(rows)
    by_pair = 0.5 * (each[0::2] + each[1::2])
    error = by_pair.std(axis=0, ddof=1) / math.sqrt(len(by_pair)) if len(by_pair) > 1 else np.full_like(
        by_pair[0], np.nan)
    return each.mean(axis=0), error
