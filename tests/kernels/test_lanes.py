"""The eight-lane number: arithmetic, exponential and logarithm, masks, rows, four-in-a-row look-ups."""

import math

import numpy as np
import pytest

from pullcast.kernels.jit import whole
from pullcast.kernels.lanes import (
    ALIGN,
    WIDTH,
    any_of,
    bits,
    exp,
    floor,
    four,
    get,
    get3,
    greatest,
    least,
    log,
    put,
    put3,
    root,
    size,
    where,
    zeros,
)


@whole
def arithmetic(a, b, out):
    for i in range(a.shape[0]):
        x = get(a, i)
        y = get(b, i)
        put3(out, 0, i, (x + 2.0 * y - 1.0) / (0.5 + size(y)), True)
        put3(out, 1, i, where((x > y) & ~(x > 1.0) | (y == 2.0), least(x, y), greatest(-x, y)), True)
        put3(out, 2, i, root(size(x)) + floor(y), x > 0.0)
        z = x
        z += y
        z *= x
        z -= 1
        put3(out, 3, i, z, get3(out, 3, i) == 0.0)


@whole
def powers(a, out):
    for i in range(a.shape[0]):
        put3(out, 0, i, exp(get(a, i)), True)
        put3(out, 1, i, log(get3(out, 0, i)), True)


@whole
def looked_up(table, at, out):
    a, b, c, d = four(table, get(at, 0))
    put(out, 0, a, True)
    put(out, 1, b, True)
    put(out, 2, c, True)
    put(out, 3, d, True)


@whole
def masked(a):
    x = get(a, 0)
    return any_of(x > 0.0), bits(x > 0.0)


def filled(values):
    made = zeros(*np.shape(values)[:-1])
    made[:] = values
    return made


def test_rows_lie_on_their_boundaries():
    for shape in ((3,), (2, 5)):
        made = zeros(*shape)
        assert made.shape == (*shape, WIDTH)
        assert made.ctypes.data % ALIGN == 0


def test_arithmetic_is_that_of_numpy():
    draw = np.random.default_rng(1)
    a, b = filled(draw.normal(size=(9, WIDTH))), filled(draw.normal(size=(9, WIDTH)))
    b[3] = 2.0
    out = zeros(4, 9)
    arithmetic(a, b, out)
    chosen = (a > b) & ~(a > 1.0) | (b == 2.0)
    wanted = [(a + 2 * b - 1) / (0.5 + abs(b)), np.where(chosen, np.minimum(a, b), np.maximum(-a, b)),
              np.where(a > 0, np.sqrt(abs(a)) + np.floor(b), 0.0), (a + b) * a - 1]
    for got, expected in zip(out, wanted, strict=True):
        np.testing.assert_allclose(got, expected, rtol=1e-14, atol=1e-14)


def test_exponential_and_logarithm_to_the_last_places():
    a = filled(np.random.default_rng(2).uniform(-650.0, 650.0, size=(500, WIDTH)))
    a[0] = [0.0, 1.0, -1.0, math.log(2) / 2, 1e-300, -1e-9, 690.0, -690.0]
    out = zeros(2, 500)
    powers(a, out)
    np.testing.assert_allclose(out[0], np.exp(a), rtol=2e-13)  # |x| ulp of the argument are lost in reducing it
    near = abs(a) < 30
    np.testing.assert_allclose(out[0][near], np.exp(a[near]), rtol=1e-14)
    np.testing.assert_allclose(out[1], np.log(out[0]), rtol=1e-14, atol=1e-15)


def test_lanes_do_not_see_one_another():
    a = filled(np.random.default_rng(3).uniform(-5, 5, size=(1, WIDTH)))
    alone, beside = zeros(2, 1), zeros(2, 1)
    powers(a, beside)
    for lane in range(WIDTH):
        powers(filled(np.where(np.arange(WIDTH) == lane, a, np.nan)), alone)
        assert np.array_equal(alone[..., lane], beside[..., lane])


def test_four_in_a_row_from_each_lanes_own_place():
    table, at, out = np.arange(100.0) ** 2, filled([[0, 3, 96, 50, 7, 7, 12, 1]]), zeros(4)
    looked_up(table, at, out)
    for n in range(4):
        assert np.array_equal(out[n], table[at[0].astype(int) + n])


@pytest.mark.parametrize("lane", range(WIDTH))
def test_masks_count_lanes_from_the_first(lane):
    a = zeros(1)
    assert masked(a) == (False, 0)
    a[0, lane] = 1.0
    assert masked(a) == (True, 1 << lane)
