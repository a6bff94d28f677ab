"""Priors from ranges, values put into engines, the flow factor."""

from dataclasses import replace

import numpy as np
import pytest

import engines
import model_days
from pullcast.answers.unknowns import UNKNOWNS, default_keys, priors_of, put_all, scaled_side
from pullcast.errors import InputError
from pullcast.network.flow_sheet import valve_area


def test_a_range_is_two_standard_deviations_either_side():
    priors = {p.key: p for p in priors_of(model_days.engine())}
    # one is of the other burn law, one is fitted only when named
    assert set(priors) == set(UNKNOWNS) - {"burn.turbulence", "walls.temperature"}
    burn = priors["burn.duration_10_90"]
    assert (burn.value, burn.sd, burn.low, burn.high) == (24.0, 2.0, 18.0, 30.0)
    evaporated = priors["mixture.evaporated"]
    assert (evaporated.sd, evaporated.low, evaporated.high) == (0.25, 0.0, 1.0)
    assert priors["head.flow_factor"].sd == pytest.approx(0.035)


def test_what_the_card_gives_is_left_alone_unless_asked_for():
    given = engines.single()
    assert default_keys(given) == ("head.flow_factor",)
    (burn,) = priors_of(given, ["burn.duration_10_90"])
    assert burn.value == 24.0
    assert burn.sd == pytest.approx((28 - 18) / 4)  # of the lab single's class row
    assert "as uncertain as the class default" in burn.why


def test_stated_priors_and_refusals():
    (p,) = priors_of(model_days.engine(), ["friction.factor"], {"friction.factor": (1.1, 0.05)})
    assert (p.value, p.sd, p.why) == (1.1, 0.05, "stated")
    with pytest.raises(InputError, match=r"'friction.faktor' cannot be calibrated. Did you mean 'friction.factor'"):
        priors_of(model_days.engine(), ["friction.faktor"])
    with pytest.raises(InputError, match="an unknown is named twice"):
        priors_of(model_days.engine(), ["walls.factor", "walls.factor"])
    with pytest.raises(InputError, match=r"a prior is stated for walls.factor, which is not asked for"):
        priors_of(model_days.engine(), ["friction.factor"], {"walls.factor": (1.0, 0.1)})
    with pytest.raises(InputError, match="the sd must be above zero"):
        priors_of(model_days.engine(), ["friction.factor"], {"friction.factor": (1.0, 0.0)})


def test_a_predicted_burn_has_an_unknown_of_its_own():
    engine = model_days.engine()
    flame = replace(engine, burn=replace(engine.burn, law="flame"))
    assert "burn.turbulence" not in default_keys(flame)  # this card does not leave it open
    assert "burn.duration_10_90" not in default_keys(flame)
    assert priors_of(flame, ["burn.turbulence"])[0].value == 1.0
    with pytest.raises(InputError, match=r"burn.duration_10_90 has no effect on single: it belongs to the burn law"):
        priors_of(flame, ["burn.duration_10_90"])


def test_every_unknown_is_put_where_it_is_read():
    engine = model_days.engine()
    for u in UNKNOWNS.values():
        assert u.acts_on(engine) == (u.key != "burn.turbulence")
        if u.usual is None:
            value = 1.07 * u.read(engine)
            assert u.read(put_all(engine, {u.key: value})) == pytest.approx(value)


@pytest.mark.parametrize("kind", ["intake", "exhaust"])
def test_the_flow_factor_scales_the_area_and_one_changes_nothing(kind):
    side = getattr(model_days.engine().head, kind)
    assert scaled_side(side, kind, 1.0) is side
    lifts = np.linspace(0.0005, 0.009, 20)
    plain = valve_area(side, kind).at(lifts)
    same = valve_area(scaled_side(side, kind, 1.0 + 1e-9), kind).at(lifts)
    assert same == pytest.approx(plain, rel=2e-3)  # through a sheet of its own: what the bench reads back
    less = valve_area(scaled_side(side, kind, 0.95), kind).at(lifts)
    assert (less < 0.955 * plain).all()  # with the port's own loss in series the valve loses at least as much
    assert (less > 0.88 * plain).all()
