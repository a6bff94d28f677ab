"""Forecasts held against pulls of invented curves: errors, intervals, bases, order, what is refused."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import model_days
from pullcast.answers.calibration import UsedPull
from pullcast.answers.compare import compare
from pullcast.answers.comparison import Scored
from pullcast.answers.forecast import FITTED, of_curve
from pullcast.answers.lock import lock
from pullcast.answers.measured_parts import measured_parts, peak_of
from pullcast.answers.rank_agreement import kendall, rank_agreement, spearman
from pullcast.answers.session_engine import REFERENCE, engine_of, part_name, part_swaps, setting_of
from pullcast.answers.spread import Spread
from pullcast.errors import InputError
from pullcast.pulls.correction import correction_factor
from pullcast.pulls.session_card import read_session
from pullcast.results.curve import Curve

RPM = np.arange(2200.0, 5601.0, 200.0)
SESSIONS = Path(__file__).parents[2] / "configs" / "sessions"


def base(rpm=RPM, gain=0.0, tilt=0.0):
    x = (rpm - 3900.0) / 1500.0
    return (44.0 - 4.0 * x**2) * (1 + gain + tilt * x)


PULLS = {"A": (RPM, base()), "B": (RPM, base(gain=0.02, tilt=0.02)), "C": (RPM, base(gain=-0.05))}


@pytest.fixture
def day(tmp_path):
    def write(order="AAABBBAAA", **how):
        return model_days.write_day(tmp_path, PULLS, order, **how)
    return write


def spread(shared=0.02, own=0.0):
    return Spread(("friction.factor", "walls.factor"), RPM,
                  np.column_stack([np.full(RPM.size, shared), np.full(RPM.size, own)]), 0.015, 0.007)


def test_a_right_forecast_is_right_on_every_basis(day):
    """The forecast is the hidden truth in the weather of the pulls: what is left is their noise (sd .2 %)."""
    for basis in ("j1349", "std", "observed"):
        c = compare(day(basis=basis, noise=0.002, ripple=0.0005), {k: model_days.curve(*PULLS[k]) for k in "AB"})
        assert [abs(p.percent.error) < 0.4 for p in c.parts] == [True, True]
        assert np.abs(c.parts[0].curve.percent).max() < 0.5
        d = c.differences[0]
        truth = 100 * (model_days.band_mean(*PULLS["B"]) / model_days.band_mean(*PULLS["A"]) - 1)
        assert d.value.predicted == pytest.approx(truth, abs=0.03)
        assert d.value.measured == pytest.approx(truth, abs=0.5)
        assert d.sign_agrees
        peak = c.parts[0].peaks[0]
        assert (peak.metric, abs(peak.rpm_error) < 120) == ("torque", True)


def test_other_weather_and_another_basis_are_brought_together(day):
    """The same engine forecast at 950 hPa and 10 C: observed torque moves by the ratio of J1349 factors."""
    here = correction_factor("j1349", 99100.0, 297.15, 0.45).factor
    there = correction_factor("j1349", 95000.0, 283.15, 0.2).factor
    cold = model_days.curve(RPM, base() * here / there, pressure=95000.0, temperature=283.15, humidity=0.2)
    for basis in ("j1349", "observed"):
        c = compare(day(order="AAA", basis=basis, noise=0.001), {"A": cold})
        assert abs(c.parts[0].percent.error) < 0.3
        assert any("weather" in n for n in c.notes)
    corrected = model_days.curve(RPM, base()).corrected(correction_factor("std", 99100.0, 297.15, 0.45).factor, "std")
    c = compare(day(order="AAA", noise=0.001), {"A": corrected})
    assert abs(c.parts[0].percent.error) < 0.3


def test_error_band_and_intervals(day):
    high = {"A": of_curve("a", spread().attach(model_days.curve(RPM, 1.03 * base())))}
    c = compare(day(order="AAAA", noise=0.001), high, dyno=0.01)
    p = c.parts[0]
    assert p.percent.error == pytest.approx(3.0, abs=0.2)
    assert p.percent.predicted_sd == pytest.approx(100 * 1.03 * math.hypot(0.02, 0.015 * 0.75), rel=0.05)
    assert p.percent.measured_sd > 1.0  # the dynamometer's own level
    assert p.value.inside(0.95)
    assert not compare(day(order="AAAA", noise=0.001), high, dyno=0.0).parts[0].value.inside(0.5)
    assert p.curve.sd == pytest.approx(100 * np.hypot(np.hypot(0.02, 0.015), p.curve.measured_sd))
    assert repr(p).startswith("A, mean torque 2400 to 5400 rpm: forecast +2.9 % off, stated ±")


def test_what_is_shared_cancels_in_a_difference(day):
    given = {k: of_curve(k, spread(shared=0.04, own=0.003 * (k == "B")).attach(model_days.curve(*PULLS[k])))
             for k in "AB"}
    d = compare(day(), given).differences[0]
    assert d.predicted_sd == pytest.approx(100 * math.hypot(0.003, 0.007))
    assert 0.3 < d.value.predicted_sd < 0.75
    assert d.value.inside(0.95)
    assert d.share_inside(0.95) > 0.9
    other = {k: of_curve(k, replace(spread(), keys=("friction.factor", k)).attach(model_days.curve(*PULLS[k])))
             for k in "AB"}
    with pytest.raises(InputError, match="two forecasts spread other unknowns"):
        compare(day(), other)


def test_a_band_that_agrees_by_chance_is_seen_through(day):
    crossed = {"A": of_curve("a", spread().attach(model_days.curve(*PULLS["A"]))),
               "B": of_curve("b", spread().attach(model_days.curve(RPM, base(gain=0.02, tilt=-0.06))))}
    d = compare(day(noise=0.001, ripple=0.0005), crossed).differences[0]
    assert d.value.inside(0.95)
    assert d.share_inside(0.95) < 0.6


def test_several_parts_and_their_order(day):
    c = compare(day(order="AABBCCAA", noise=0.001), {k: model_days.curve(*PULLS[k]) for k in "ABC"})
    assert c.rank.kendall[0] == pytest.approx(1.0)
    assert c.rank.best
    assert c.rank.kendall[1] <= c.rank.kendall[0]
    wrong = {"A": PULLS["A"], "B": (RPM, base(gain=-0.02)), "C": (RPM, base(gain=0.04))}
    c = compare(day(order="AABBCCAA", noise=0.001), {k: model_days.curve(*wrong[k]) for k in "ABC"})
    assert c.rank.spearman[0] == pytest.approx(-1.0)
    assert not c.rank.best
    assert [d.sign_agrees for d in c.differences] == [False, False]


def test_order_agreement_widens_with_noise():
    tight = rank_agreement("ABCD", [1, 2, 3, 4], [1, 2, 3, 4], [0.05] * 4)
    loose = rank_agreement("ABCD", [1, 2, 3, 4], [1, 2, 3, 4], [2.0] * 4)
    assert tight.kendall == pytest.approx((1.0, 1.0, 1.0))
    assert loose.kendall[1] < 0.0
    from scipy.stats import kendalltau, spearmanr

    rows = np.random.default_rng(4).integers(0, 5, (20, 6)).astype(float)  # with ties
    x = np.array([1.0, 2.0, 2.0, 3.0, 5.0, 4.0])
    assert kendall(x, rows) == pytest.approx([kendalltau(x, r).statistic for r in rows])
    assert spearman(x, rows) == pytest.approx([spearmanr(x, r).statistic for r in rows])
    assert rank_agreement("AB", [1, 2], [1, 2], [0.1] * 2) is None


def test_fitted_pulls_never_score(day):
    card = day()
    _, parts = measured_parts(read_session(card))
    stamp = " ".join(parts[0].digests)
    given = {k: Curve(model_days.curve(*PULLS[k]).dataset.assign_attrs({FITTED: stamp})) for k in "AB"}
    c = compare(card, given)
    assert c.parts[0].refused == "the forecast was fitted to 6 of these 6 pulls"
    assert c.parts[1].refused == ""
    assert c.calibrated
    assert c.differences[0].refused == ""  # B was foretold, not fitted
    given["B"] = Curve(given["B"].dataset.assign_attrs({FITTED: " ".join(parts[1].digests)}))
    c = compare(card, given)
    assert c.differences[0].refused == "the forecast was fitted to these pulls"


def test_a_lock_is_taken_by_name(day, tmp_path):
    made = lock(tmp_path / "d.lock.json", {"short pipe": model_days.curve(*PULLS["A"]),
                                           "the second": spread().attach(model_days.curve(*PULLS["B"]))})
    c = compare(day(), made, names={"B": "the second"})
    assert [p.forecast for p in c.parts] == ["short pipe", "the second"]
    assert c.sealed == made.seal
    assert c.parts[1].value.predicted_sd is not None  # a spread survives sealing
    only = compare(day(), made)
    assert [p.part for p in only.parts] == ["A"]
    assert any("part B (long pipe) has no forecast" in n for n in only.notes)
    with pytest.raises(InputError, match="holds no curve 'nothing'"):
        compare(day(), made, names={"B": "nothing"})
    other = lock(tmp_path / "e.lock.json", {"x": model_days.curve(*PULLS["A"])})
    with pytest.raises(InputError, match=r"none is called as a part of day\.toml"):
        compare(day(), other)


def test_refusals(day):
    short = model_days.curve(RPM[RPM < 5000], base(RPM[RPM < 5000]))
    with pytest.raises(InputError, match="covers 2200 to 4800 rpm, not the band 2400 to 5400 rpm"):
        compare(day(), {"A": short})
    with pytest.raises(InputError, match="no used run has the part 'Z'; parts run: A, B"):
        compare(day(), {"Z": short})
    with pytest.raises(InputError, match="names no engine card, so nothing can be predicted"):
        compare(day())
    with pytest.raises(InputError, match="interval shape forecasts made now"):
        compare(day(), {"A": short}, interval=False)
    unknown = compare(day(recorded="unknown", basis="observed"), {k: model_days.curve(*PULLS[k]) for k in "AB"})
    assert "only differences" in unknown.parts[0].refused
    assert unknown.differences[0].refused == ""


def test_peaks_only():
    session = read_session(SESSIONS / "peaks_only.toml")
    rpm = np.arange(2100.0, 6601.0, 250.0)
    torque = 620.0 - 110.0 * ((rpm - 4600.0) / 2000.0) ** 2
    given = {"A": model_days.curve(rpm, torque), "B": model_days.curve(rpm, 0.9 * torque)}
    c = compare(session, given)
    assert {(p.part, p.what) for p in c.parts} == {(a, f"peak {m}") for a in "AB" for m in ("power", "torque")}
    found = {(p.part, p.what): p.percent.error for p in c.parts}
    assert found["A", "peak torque"] == pytest.approx(100 * (620.0 / (463 * 1.3558179) - 1), abs=0.02)
    assert [d.value.predicted for d in c.differences] == pytest.approx([-10.0, -10.0])
    assert all(d.sign_agrees for d in c.differences)
    assert c.band is None


def test_parts_of_a_session_card_become_swaps(day):
    session = read_session(SESSIONS / "intake_day.toml")
    assert part_swaps(session, "B") == {"intake": "intakes/v8_single_plenum.toml"}
    assert part_name(session, "B") == "single plenum"
    assert engine_of(session, "B").intake.name != engine_of(session, "A").intake.name
    told = replace(session, parts={"A": "x, cam.advance = 4 deg, cam = cams/v8_warm.toml", "B": "odd.toml",
                                   "C": "intakes/a.toml, intakes/b.toml"})
    assert part_swaps(told, "A") == {"cam.advance": "4 deg", "cam": "cams/v8_warm.toml"}
    with pytest.raises(InputError, match=r"'odd.toml' does not say what it is"):
        part_swaps(told, "B")
    with pytest.raises(InputError, match="intake is changed twice"):
        part_swaps(told, "C")


@pytest.mark.parametrize("basis", sorted(REFERENCE))
def test_reference_weather_corrects_by_one(basis):
    pressure, temperature = REFERENCE[basis]
    assert correction_factor(basis, pressure, temperature, 0.0).factor == pytest.approx(1.0, abs=3e-5)


def test_weather_of_the_setting(day):
    s = setting_of(read_session(day()))
    assert (s.day.pressure, s.day.humidity) == pytest.approx((99100.0, 0.45))
    assert s.factor == pytest.approx(correction_factor("j1349", 99100.0, 297.15, 0.45).factor)
    bare = replace(read_session(day()), runs=tuple(replace(r, weather=None) for r in read_session(day()).runs))
    assert setting_of(replace(bare, recorded="j1349")).factor == 1.0
    with pytest.raises(InputError, match="observed numbers without weather"):
        setting_of(replace(bare, basis="observed"))


def test_level_and_scatter_of_the_pulls_are_found(day):
    """Ten pulls with noise .5 % and ripple .3 % a sample (20 rpm): level within three of its sds."""
    _, (a,) = measured_parts(read_session(day(order="A" * 10, noise=0.005, ripple=0.003, seed=5)))
    truth = model_days.band_mean(*PULLS["A"]) * correction_factor("j1349", 99100.0, 297.15, 0.45).factor
    assert abs(a.level / truth - 1) < 3 * a.level_sd
    assert 0.001 < a.level_sd < 0.01
    assert 0.0002 < a.own.mean() < 0.001


def test_a_peak_at_the_edge_is_no_peak():
    rpm = np.arange(2000.0, 5001.0, 100.0)
    assert all(map(math.isnan, peak_of(rpm, rpm)))
    assert peak_of(rpm, 400 - ((rpm - 3333.0) / 100) ** 2) == pytest.approx((3333.0, 400.0), abs=1e-6)


def test_values_are_plain():
    assert Scored(1.0, 2.0, None, 0.1).inside(0.95) is None
    assert math.isnan(Scored(1.0, 2.0, None, 0.1).sd)
    assert Scored(1.0, 2.0, 0.3, 0.4).sd == pytest.approx(0.5)
    assert json.dumps(UsedPull("s", 1, "A", "ff").__dict__)
