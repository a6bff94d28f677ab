import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.errors import InputError
from pullcast.network import losses


@given(re=st.floats(4e3, 1e8), rough=st.floats(0.0, 0.05))
def test_colebrook_satisfies_its_equation(re, rough):
    f = losses.colebrook(re, rough)
    assert 1 / math.sqrt(f) == pytest.approx(-2 * math.log10(rough / 3.7 + 2.51 / (re * math.sqrt(f))), rel=1e-10)


@given(re=st.floats(1e4, 1e7), rough=st.floats(1e-6, 0.03))
def test_explicit_forms_agree_with_colebrook(re, rough):
    exact = losses.colebrook(re, rough)
    assert losses.haaland(re, rough) == pytest.approx(exact, rel=0.025)
    assert float(losses.churchill(re, rough)) == pytest.approx(exact, rel=0.04)


def test_laminar():
    assert losses.colebrook(1000.0, 0.001) == 0.064
    assert losses.churchill(np.array([500.0, 1000.0]), 0.001) == pytest.approx([0.128, 0.064], rel=1e-6)


def test_tighter_and_longer_bends_lose_more():
    assert losses.bend_loss(0.0, 1.5, 0.02) == 0.0
    k = [losses.bend_loss(a, 1.5, 0.02) for a in (10, 30, 60, 90)]
    assert k == sorted(k)
    assert losses.bend_loss(90, 0.75, 0.02) > losses.bend_loss(90, 1.5, 0.02)
    assert losses.miter_loss(90.0) > 4 * losses.bend_loss(90.0, 1.5, 0.02)


def test_own_friction_of_a_bend_is_that_of_a_straight_pipe():
    whole, excess = losses.bend_loss(90, 2.0, 0.02), losses.bend_loss(90, 2.0, 0.02, own_friction=False)
    assert whole - excess == pytest.approx(0.02 * math.pi / 2 * 2.0)


@given(r=st.floats(0.0, 1.0))
def test_entry_losses_fall_with_the_lip_radius(r):
    for k in (losses.entry_loss, losses.entry_loss_jet):
        assert 0.02 < k(r) <= k(0.0) <= 0.575
        assert k(r + 0.01) <= k(r)


def test_widening():
    assert losses.expansion_loss(1.0) == 0.0
    assert losses.expansion_loss(0.0) == 1.0


@pytest.mark.parametrize(("call", "text"), [
    (lambda: losses.colebrook(0.0, 1e-4), "Reynolds must be above zero"),
    (lambda: losses.haaland(1e5, 0.5), "Check mm against m"),
    (lambda: losses.bend_loss(270.0, 1.5, 0.02), "give 0 to 180 deg"),
    (lambda: losses.bend_loss(90.0, 0.2, 0.02), "at least 0.5 diameters"),
    (lambda: losses.miter_loss(170.0), "give 0 to 150 deg"),
    (lambda: losses.entry_loss(-0.1), "cannot be below zero"),
    (lambda: losses.entry_loss_jet(float("nan")), "cannot be below zero"),
    (lambda: losses.expansion_loss(1.5), "between 0 and 1"),
])
def test_bad_numbers_say_what_to_do(call, text):
    with pytest.raises(InputError, match=text):
        call()
