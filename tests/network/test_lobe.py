import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pullcast.card.engine import Duration, Lobe
from pullcast.errors import InputError
from pullcast.network.lobe import INCH, MAIN_CHECK, SEAT_CHECK, expected_difference, fit_lobe, tappet_lift

ANGLES = np.linspace(-300.0, 300.0, 6001)


def lobe(lift, *durations, rocker=1.0, lash=0.0, asymmetry=0.0, side="tappet"):
    rows = tuple(Duration(a, d, side) for a, d in durations)
    return Lobe(lift, rows, 110.0, rocker, lash, None, asymmetry)


def measured(shape, lift):
    """Duration read off a dense sampling, apart from the crossing the fit uses."""
    y = shape.lift(ANGLES)
    above = np.flatnonzero(y > lift)
    i, j = above[0], above[-1]
    left = np.interp(lift, y[i - 1:i + 1], ANGLES[i - 1:i + 1])
    right = np.interp(-lift, -y[j:j + 2], ANGLES[j:j + 2])
    return right - left


@settings(deadline=None, max_examples=60)
@given(d50=st.floats(190.0, 280.0), ramp=st.floats(32.0, 57.0), lift=st.floats(0.0115, 0.020),
       rocker=st.floats(1.4, 1.8), skew=st.floats(-8.0, 8.0))
def test_any_ordinary_card_is_met(d50, ramp, lift, rocker, skew):
    shape = fit_lobe(lobe(lift, (SEAT_CHECK, d50 + ramp), (MAIN_CHECK, d50), rocker=rocker, asymmetry=skew))
    assert measured(shape, MAIN_CHECK) == pytest.approx(d50, abs=0.2)
    assert measured(shape, SEAT_CHECK) == pytest.approx(d50 + ramp, abs=1.0)
    y = shape.lift(ANGLES)
    assert y.max() == pytest.approx(lift / rocker, rel=1e-12)
    assert y.min() >= 0.0
    top = int(np.argmax(y))
    assert np.all(np.diff(y[:top + 1]) >= -1e-12)
    assert np.all(np.diff(y[top:]) <= 1e-12)


def test_three_durations_are_all_met():
    shape = fit_lobe(lobe(0.595 * INCH, (SEAT_CHECK, 269.0), (MAIN_CHECK, 225.0), (0.2 * INCH, 142.0), rocker=1.7))
    for check, duration in ((SEAT_CHECK, 269.0), (MAIN_CHECK, 225.0), (0.2 * INCH, 142.0)):
        assert measured(shape, check) == pytest.approx(duration, abs=0.1)


@pytest.mark.parametrize("asymmetry", [0.0, 9.0])
def test_acceleration_is_continuous_and_is_the_derivative_of_lift(asymmetry):
    shape = fit_lobe(lobe(0.014, (SEAT_CHECK, 275.0), (MAIN_CHECK, 230.0), rocker=1.6, asymmetry=asymmetry))
    h = ANGLES[1] - ANGLES[0]
    y, v, a = (shape.lift(ANGLES, k) for k in range(3))
    assert np.allclose(np.gradient(y, h)[2:-2], v[2:-2], atol=1e-3 * np.abs(v).max())
    assert np.allclose(np.gradient(v, h)[2:-2], a[2:-2], atol=1e-2 * np.abs(a).max())
    assert np.abs(np.diff(a)).max() < 0.02 * np.abs(a).max()


def test_one_change_of_sign_from_nose_to_flank():
    shape = fit_lobe(lobe(0.0127, (SEAT_CHECK, 258.0), (MAIN_CHECK, 230.0), rocker=1.5))  # a short ramp: bounds bind
    a = shape.acceleration(np.linspace(0.0, 1.0, 500))
    sign = np.sign(np.where(np.abs(a) < 1e-6, 0.0, a))
    assert np.count_nonzero(np.diff(sign[sign != 0])) == 1


def test_longer_closing_flank():
    shape = fit_lobe(lobe(0.014, (SEAT_CHECK, 275.0), (MAIN_CHECK, 230.0), rocker=1.6, asymmetry=9.0))
    opening, closing = shape.crossing(SEAT_CHECK)
    assert closing + opening == pytest.approx(9.0, abs=1e-6)
    assert closing - opening == pytest.approx(275.0, abs=0.1)


def test_lift_at_the_valve_is_referred_to_the_tappet():
    one = lobe(0.010, (0.001, 230.0), rocker=1.6, lash=0.0002, side="valve")
    assert tappet_lift(one, 0.001, "valve") == pytest.approx(0.0012 / 1.6)
    assert tappet_lift(one, 0.001, "tappet") == 0.001


def test_missing_advertised_duration_is_estimated_and_flagged():
    shape = fit_lobe(lobe(0.014, (MAIN_CHECK, 230.0), rocker=1.6))
    assert shape.estimated == (Duration(SEAT_CHECK, 274.5),)
    assert 32.0 <= expected_difference(SEAT_CHECK, MAIN_CHECK) <= 57.0


def test_missing_main_duration_is_estimated_and_flagged():
    (extra,) = fit_lobe(lobe(0.014, (SEAT_CHECK, 275.0), rocker=1.6)).estimated
    assert extra.duration_deg == pytest.approx(230.5)
    assert extra.lift == MAIN_CHECK


def test_two_given_durations_are_no_estimate():
    assert fit_lobe(lobe(0.014, (SEAT_CHECK, 275.0), (MAIN_CHECK, 230.0), rocker=1.6)).estimated == ()


@pytest.mark.parametrize(("card", "text"), [
    (lobe(0.014, (SEAT_CHECK, 230.0), (MAIN_CHECK, 250.0)), "duration must fall as the check lift rises"),
    (lobe(0.014, (SEAT_CHECK, 231.0), (MAIN_CHECK, 230.0)), "no lobe with monotone flanks"),
    (lobe(0.014), "without a duration"),
    (lobe(-0.014, (MAIN_CHECK, 230.0)), "lift and ratio must be above zero"),
    (lobe(float("nan"), (MAIN_CHECK, 230.0)), "lift and ratio must be above zero"),
    (lobe(0.0014, (MAIN_CHECK, 230.0)), "mm against inches"),
    (lobe(0.014, (MAIN_CHECK, float("nan"))), "a lobe lasts between 0 and 600"),
    (lobe(0.014, (SEAT_CHECK, 730.0), (MAIN_CHECK, 690.0)), "a lobe lasts between 0 and 600"),
    (lobe(0.014, (MAIN_CHECK, 200.0), asymmetry=150.0), "give a lift table"),
])
def test_bad_cards_say_what_to_do(card, text):
    with pytest.raises(InputError, match=text):
        fit_lobe(card)
