import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.card.engine import Block
from pullcast.errors import InputError
from pullcast.network import friction as fr

FOUR = Block(4, 0.086, 0.086, 0.145, 10.0, (1, 3, 4, 2), (180.0,) * 4, ((1, 2, 3, 4),))
EIGHT = Block(8, 0.0991, 0.092, 0.155, 10.5, (1, 8, 4, 3, 6, 5, 7, 2), (90.0,) * 8, ((1, 3, 5, 7), (2, 4, 6, 8)))


def at(model, rpm, block=FOUR, p_max=75e5, p_intake=98e3):
    return fr.fmep(model, block=block, rpm=rpm, p_max=p_max, p_intake=p_intake)


@pytest.mark.parametrize(("rpm", "bar"), [(2000, 1.47), (4000, 2.37), (6000, 3.67)])
def test_barnes_moss(rpm, bar):
    assert at("barnes_moss", rpm) == pytest.approx(bar * 1e5)


def test_chen_flynn_terms():
    speed = 2 * 0.086 * 6000 / 60
    by_hand = 0.4 + 0.005 * 75 + 0.09 * speed + 9e-4 * speed**2
    assert at("chen_flynn", 6000) == pytest.approx(by_hand * 1e5)


def test_component_model_sums_its_parts():
    parts = fr.patton_parts(FOUR, 3000.0, 98e3, fr.ValveGear(), fr.usual_bearings(FOUR))
    assert at("patton", 3000.0) == pytest.approx(sum(parts.values()))
    assert min(parts.values()) > 0.0


def test_component_model_by_hand():
    """One part reckoned apart: mm, rpm, kPa as in the paper."""
    k = fr.Bearings(0.056, 0.021, 5, 0.048, 0.021, 4, 5)
    parts = fr.patton_parts(FOUR, 3000.0, fr.ATMOSPHERE, fr.ValveGear(), k)
    crank = (1.22e5 * 56 + 3.03e-4 * 3000 * 56**3 * 21 * 5) / (86**3 * 4) + 1.35e-10 * 56**2 * 3000**2 * 5 / 4
    assert parts["crankshaft"] == pytest.approx(1e3 * crank)
    pistons = 294 * 8.6 / 86 + 4.06e4 * (1 + 1 / 3) / 86**2
    assert parts["pistons"] == pytest.approx(1e3 * pistons)
    gas = 6.89 * (0.088 * 10 + 0.182 * 10 ** (1.33 - 0.0238 * 8.6))
    assert parts["gas load"] == pytest.approx(1e3 * gas)


@given(rpm=st.floats(500.0, 12000.0), model=st.sampled_from(["chen_flynn", "barnes_moss"]))
def test_friction_rises_with_speed(rpm, model):
    assert at(model, rpm * 1.1) > at(model, rpm) > 0.3e5


@pytest.mark.parametrize("block", [FOUR, EIGHT])
@pytest.mark.parametrize("model", ["chen_flynn", "barnes_moss", "patton"])
def test_ordinary_engines_lie_in_the_ordinary_band(block, model):
    assert 0.5e5 < at(model, 2000.0, block) < 2.0e5
    assert 1.2e5 < at(model, 5500.0, block) < 3.8e5
    assert 0.1 <= fr.range_fraction(model) <= 0.3


def test_bearings_of_a_vee_and_of_a_single():
    assert fr.usual_bearings(EIGHT).mains == 5
    single = dataclasses.replace(FOUR, cylinders=1, firing_order=(1,), firing_intervals_deg=(720.0,), banks=((1,),))
    assert fr.usual_bearings(single).mains == 2
    assert fr.usual_bearings(FOUR).mains == 5


def test_roller_followers_rub_less():
    flat, roller = (fr.fmep("patton", block=EIGHT, rpm=1500.0, p_max=60e5, p_intake=98e3,
                            gear=fr.ValveGear("pushrod", 2, 0.014, roller)) for roller in (False, True))
    assert roller < flat - 0.05e5


@pytest.mark.parametrize(("call", "text"), [
    (lambda: at("chen_flyn", 3000.0), "Did you mean 'chen_flynn'"),
    (lambda: at("zzz", 3000.0), "Known: chen_flynn, barnes_moss, patton"),
    (lambda: fr.range_fraction("pattn"), "Did you mean 'patton'"),
    (lambda: at("patton", 0.0), "all must be above zero"),
    (lambda: at("patton", float("nan")), "all must be above zero"),
    (lambda: fr.patton(FOUR, 3000.0, 98e3, fr.ValveGear("push_rod")), "Did you mean 'pushrod'"),
])
def test_bad_input_says_what_to_do(call, text):
    with pytest.raises(InputError, match=text):
        call()
