"""Calibrations: hidden values come back, another intake is then predicted blind; the card; where it may be put."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import model_days
from engines import twin
from pullcast.answers.calibrate import _fitted, calibrate, finished
from pullcast.answers.calibration import UsedPull
from pullcast.answers.calibration_card import read_calibration, save_calibration
from pullcast.answers.compare import compare
from pullcast.answers.curves import predict
from pullcast.answers.fit import Errors, Fit, fit
from pullcast.answers.forecast import of_curve, stamped
from pullcast.answers.measured_parts import MeasuredPart
from pullcast.answers.session_engine import Setting, on_day, setting_of
from pullcast.answers.spread import spread_in, spread_of
from pullcast.answers.torque_model import TorqueModel, Unsettled
from pullcast.answers.unknowns import priors_of
from pullcast.card.engine import Assumed
from pullcast.errors import InputError, StoreError
from pullcast.pulls.session_card import read_session

CONFIGS = Path(__file__).parents[2] / "configs"
HIDDEN = {"friction.factor": 1.13, "burn.duration_10_90": 26.5, "head.flow_factor": 0.955}
NOW = datetime(2026, 5, 2, 12, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def model():
    """A lumped model of a small twin at three speeds: quick, and enough for all but the physics."""
    engine = replace(twin(), assumed=tuple(Assumed(k, *v, "test range") for k, v in model_days.RANGES.items()))
    return TorqueModel(engine, priors_of(engine, ["friction.factor", "burn.duration_10_90", "head.flow_factor"]),
                       [3000.0, 4000.0, 5000.0], fidelity="lumped", workers=1)


@pytest.fixture(scope="module")
def made(model):
    rpm = np.array(model.speeds)
    truth = [HIDDEN[p.key] for p in model.priors]
    seen = model.torque([truth])[0]
    errors = Errors(np.full(3, 0.001), 0.003, 0.002)
    got = fit(model, seen, errors)
    return finished(model.engine, model.priors, got, rpm, seen, errors, Setting(model.engine.day, 1.0, "observed"),
                    "lumped", (UsedPull("day", 1, "A", "ab" * 32), UsedPull("day", 2, "A", "cd" * 32)), NOW)


def test_friction_costs_no_march(model):
    middle = [p.value for p in model.priors]
    model.torque([middle])
    marched = model.marched
    one, two = model.torque([middle, [1.2, *middle[1:]]])
    assert model.marched == marched
    assert (two < one).all()


def test_a_speed_that_does_not_repeat_is_left_out(model):
    """One point of a trial is made to wander; the fit goes on without its speed and says so."""
    rest = TorqueModel(model.engine, model.priors, [2500.0, *model.speeds], fidelity="lumped", workers=1)
    rpm = np.array(rest.speeds)
    seen = rest.torque([[HIDDEN[p.key] for p in model.priors]])[0]
    mine = MeasuredPart("A", rpm, seen, 0 * rpm + 0.002, 0 * rpm + 0.001, 1.0, 0.003, np.zeros((1, 2)), (1,), ("x",))
    middle = [p.value for p in model.priors]
    rest.slopes(middle)
    points = rest._points[tuple(middle[1:])][1]
    points[1] = replace(points[1], converged=False, status="not converged after 40 cycles",
                        history=((40, 1.0, 1.0, 0.01),))
    with pytest.raises(Unsettled, match=r"3000 rpm: not converged after 40 cycles. Choose other speeds"):
        rest.torque([middle])
    left, got, torque, _, notes = _fitted(rest, mine, 0.003, 0.002, 1.0)
    assert left.speeds == (2500.0, 4000.0, 5000.0)
    assert torque == pytest.approx(seen[[0, 2, 3]])
    assert notes == ["3000 rpm left out of the fit: not converged after 40 cycles"]
    assert abs(got.values[2] - HIDDEN["head.flow_factor"]) < 0.03
    few = rest.without(5000.0)
    with pytest.raises(Unsettled):
        _fitted(few, mine, 0.003, 0.002, 1.0)


def test_slopes_have_the_signs_of_the_trade(model):
    torque, slopes = model.slopes([p.value for p in model.priors])
    assert (torque > 0).all()
    assert (slopes[:, 0] < 0).all()  # friction costs
    assert (slopes[:, 1] < 0).all()  # a slow burn costs at fixed CA50
    assert slopes[-1, 2] > 0  # flow pays at the top


def test_lumped_values_come_back(made):
    for f in made.found:
        assert f.low <= HIDDEN[f.key] <= f.high
    flow = made.found[2]
    assert flow.narrowed < 0.9
    assert made.rms(made.after) < 0.2 * made.rms(made.before)
    assert made.chance > 0.01


FIVE = ("friction.factor", "burn.duration_10_90", "mixture.evaporated", "walls.factor", "head.flow_factor")


def test_five_unknowns_at_once_say_what_was_learnt():
    """Truths drawn from the priors, pulls with noise at seven speeds, the model straight along its own slopes:
    intervals hold, and what the pulls cannot tell is said to be not learnt and leaves its prior as it was."""
    engine = replace(twin(), assumed=tuple(Assumed(k, *v, "test range") for k, v in model_days.RANGES.items()))
    rpm = np.linspace(3000.0, 6000.0, 7)
    full = TorqueModel(engine, priors_of(engine, FIVE), rpm, fidelity="lumped", workers=1)
    middle, sd = (np.array([getattr(p, name) for p in full.priors]) for name in ("value", "sd"))
    torque, slopes = full.slopes(middle)
    model = SimpleNamespace(speeds=full.speeds, priors=full.priors, slopes=lambda x: (at([x])[0], slopes),
                            torque=lambda rows: at(rows))

    def at(rows):
        return torque + (np.asarray(rows) - middle) / sd @ slopes.T

    errors, rng = Errors(np.full(7, 0.003), 0.011, 0.015), np.random.default_rng(6)  # dynamometer 1 %, model 1.5 %
    root = np.linalg.cholesky(errors.covariance(rpm, torque))
    inside, found = [], None
    for _ in range(40):
        z = rng.normal(size=5).clip(-2.5, 2.5)
        truth = middle + z * sd
        seen = torque + slopes @ z + root @ rng.normal(size=7)
        found = finished(engine, model.priors, fit(model, seen, errors), rpm, seen, errors,
                         Setting(engine.day, 1.0, "observed"), "lumped", (UsedPull("day", 1, "A", "ab" * 32),), NOW)
        inside.append([f.low <= t <= f.high for f, t in zip(found.found, truth, strict=True)])
    assert np.mean(inside) >= 0.9
    told = {f.key: f for f in found.found}
    assert told["head.flow_factor"].told in ("learnt", "partly learnt")
    blind = [f for f in found.found if f.told == "not learnt"]
    assert blind, "seven speeds of torque cannot tell five unknowns"
    assert all(f.narrowed >= 0.85 for f in blind)
    assert repr(found).count("not learnt") == len(blind)


def test_wall_temperatures_are_fitted_when_named(model):
    from pullcast.answers.unknowns import default_keys, put_all

    engine = model.engine
    assert "walls.temperature" not in default_keys(engine)
    warm = put_all(engine, {"walls.temperature": 20.0})
    assert (warm.walls.piston, warm.walls.head, warm.walls.liner) == pytest.approx(
        [t + 20.0 for t in (engine.walls.piston, engine.walls.head, engine.walls.liner)])
    hot = TorqueModel(engine, priors_of(engine, ["walls.temperature"]), [3000.0, 5000.0], fidelity="lumped",
                      workers=1)
    assert (hot.slopes([0.0])[1] < 0.0).all()  # warmer walls warm the charge


def test_applied_it_moves_values_and_ranges(made, model):
    engine = made.apply(model.engine)
    assert engine.friction.factor == made.found[0].value
    ranges = {a.key: a for a in engine.assumed}
    assert ranges["friction.factor"].why == "calibrated on 2 pulls, 2026-05-02"
    assert ranges["friction.factor"].high - ranges["friction.factor"].low <= 4 * made.found[0].sd + 1e-12
    assert ranges["walls.factor"].why == "test range"
    assert "head.flow_factor" not in ranges
    assert engine.head.intake.flow is not None
    assert "# head.flow_factor = " in engine.text
    draws = made.draws(4000, seed=1)
    spread = np.cov(np.array([[d[k] for k in made.keys] for d in draws]).T)
    assert np.sqrt(np.diag(spread)) == pytest.approx(np.sqrt(np.diag(made.covariance)), rel=0.06)
    assert made.apply(model.engine, draws[0]).friction.factor == draws[0]["friction.factor"]


def test_a_fit_that_misses_widens_its_ranges(made, model):
    rpm = np.array(model.speeds)
    prior = np.array([p.sd for p in model.priors])
    tight = np.diag((0.05 * prior) ** 2)
    tight[0, 1] = tight[1, 0] = -0.5 * np.sqrt(tight[0, 0] * tight[1, 1])

    def told(misfit):
        got = Fit(np.array([1.1, 25.0, 1.0]), tight, ("", "", "high"), made.before, made.after, misfit,
                  np.zeros((3, 3)), 3)
        return finished(model.engine, model.priors, got, rpm, made.measured, Errors(np.full(3, 0.001), 0.003, 0.002),
                        Setting(model.engine.day, 1.0, "observed"), "lumped", made.pulls, NOW)

    assert [f.narrowed for f in told(3.0).found] == pytest.approx([0.05] * 3)
    wide = told(300.0)
    assert [f.narrowed for f in wide.found] == pytest.approx([0.5] * 3)
    assert wide.correlation[0, 1] == pytest.approx(-0.5)
    assert any("ranges are widened 10.0 times" in n for n in wide.notes)
    assert any("flow of the head stands on its high bound" in n for n in wide.notes)
    assert [f.narrowed for f in told(3e6).found] == pytest.approx([1.0] * 3)


def flow_of(engine, base):
    return engine.head.intake.flow.flows[-1] / base.head.intake.flow.flows[-1]


def test_a_candidate_with_another_head_keeps_that_heads_sheet(made):
    from pullcast.answers.calibrated_shortlist import calibrated
    from pullcast.answers.calibration import facts_of
    from pullcast.card.shortlist import read_shortlist

    plain = read_shortlist(CONFIGS / "shortlists" / "hillclimb_shelf.toml")
    first = plain.candidates[0]
    other = replace(first.engine, head=replace(first.engine.head, name="another head"))
    changed = replace(plain, candidates=(replace(first, engine=other),))
    ready = calibrated(changed, replace(made, facts=facts_of(plain.base))).candidates[0].engine
    assert ready.head == other.head
    assert "head.flow_factor" not in {a.key for a in ready.assumed}
    assert ready.friction.factor == made.found[0].value


def test_a_shortlist_stands_at_calibrated_values(made):
    from pullcast.answers.calibrated_shortlist import calibrated
    from pullcast.answers.calibration import facts_of
    from pullcast.answers.sampling import Entrant, engine_at, factors_of
    from pullcast.card.shortlist import read_shortlist

    plain = read_shortlist(CONFIGS / "shortlists" / "hillclimb_shelf.toml")
    c = replace(made, facts=facts_of(plain.base))
    ready = calibrated(plain, c)
    for engine in (ready.base, *(k.engine for k in ready.candidates)):
        assert engine.friction.factor == made.found[0].value
        assert "calibrated" in next(a for a in engine.assumed if a.key == "friction.factor").why
    flow = made.found[2]
    first = ready.candidates[0]
    drawn = Entrant(first.name, first.swaps, first.engine, ready.held)
    factor = drawn.factor("friction.factor")
    high = engine_at(ready.base_path, drawn, {factor: 2.0})
    assert high.friction.factor == pytest.approx(min(made.found[0].value + 2 * made.found[0].sd,
                                                     made.found[0].prior.high))
    # what is not drawn stays calibrated, the flow of the head with it; drawn, it moves by its own sd
    assert high.burn.duration_10_90_deg == pytest.approx(made.found[1].value)
    assert flow_of(high, plain.base) == pytest.approx(flow_of(ready.base, plain.base)) == pytest.approx(flow.value)
    wide = engine_at(ready.base_path, drawn, {drawn.factor("head.flow_factor"): 2.0})
    assert flow_of(wide, plain.base) == pytest.approx(flow.value + 2 * flow.sd)
    assert drawn.factor("head.flow_factor") in factors_of([drawn])
    with pytest.raises(InputError, match="does not fit Kestrel club four"):
        calibrated(read_shortlist(CONFIGS / "shortlists" / "four_runner_search.toml"), c)


def test_it_is_not_put_on_another_engine(made, model):
    bored = replace(model.engine, block=replace(model.engine.block, bore=0.088))
    with pytest.raises(InputError, match=r"does not fit twin: its bore is 0.086, here 0.088"):
        made.apply(bored)
    other = replace(model.engine, friction=replace(model.engine.friction, model="patton"))
    with pytest.raises(InputError, match="its friction model is chen_flynn, here patton"):
        made.apply(other)
    head = replace(model.engine, head=replace(model.engine.head, name="another"))
    assert set(made.carries(head)) == {"friction.factor", "burn.duration_10_90"}
    assert made.apply(head).head.intake.flow is None


def test_the_card_gives_it_back(made, tmp_path):
    file = save_calibration(made, tmp_path / "c.toml")
    again = read_calibration(file)
    assert again.found == tuple(replace(f, value=v.value, sd=v.sd, low=v.low, high=v.high, prior=v.prior)
                                for f, v in zip(made.found, again.found, strict=True))
    assert [f.value for f in again.found] == pytest.approx([f.value for f in made.found], rel=1e-8)
    assert again.covariance == pytest.approx(made.covariance, rel=1e-6)
    assert (again.pulls, again.facts, again.made_utc) == (made.pulls, made.facts, made.made_utc)
    text = file.read_text()
    assert 'range_95 = ["' in text
    assert " deg" in text


def test_a_shortened_list_of_pulls_is_seen(made, tmp_path):
    file = save_calibration(made, tmp_path / "c.toml")
    text = file.read_text()
    file.write_text(text[:text.rindex("[[pull]]")])
    with pytest.raises(StoreError, match="was changed after it was written"):
        read_calibration(file)
    file.write_text("a = 1\n")
    with pytest.raises(InputError, match="is no calibration card"):
        read_calibration(file)
    with pytest.raises(InputError, match="no such calibration card"):
        read_calibration(tmp_path / "none.toml")
    with pytest.raises(InputError, match=r"a calibration card ends in \.toml"):
        save_calibration(made, tmp_path / "c.json")


def test_what_is_left_open_is_less_than_the_range(made, model):
    few = [3300.0, 4200.0, 5100.0]
    how = {"fidelity": "lumped", "workers": 1}
    before = spread_of(replace(model.engine, assumed=tuple(a for a in model.engine.assumed
                                                           if a.key in ("friction.factor", "burn.duration_10_90"))),
                       few, **how)
    after = spread_of(model.engine, few, calibration=made, **how)
    rpm = np.array(few)
    assert (after.sd(rpm) < before.sd(rpm)).all()
    assert after.mean_sd(rpm, np.ones(3)) < 0.6 * before.mean_sd(rpm, np.ones(3))
    curve = before.attach(model_days.curve([*few, 6000.0], [60.0, 70.0, 65.0, 50.0]))
    assert spread_in(curve).sensitivity == pytest.approx(before.sensitivity, rel=1e-6)
    assert of_curve("a", stamped(curve, made)).fitted == made.digests


def test_refusals(tmp_path):
    rpm = np.arange(2200.0, 5601.0, 200.0)
    day = {"A": (rpm, 40.0 + 0.0 * rpm)}
    card = model_days.write_day(tmp_path, day, "AA", recorded="unknown", basis="observed")
    with pytest.raises(InputError, match=r"recorded on an unknown basis: .* nothing can be calibrated on it"):
        calibrate(card)
    card = model_days.write_day(tmp_path, day, "AA")
    with pytest.raises(InputError, match="names no engine card"):
        calibrate(card)
    with pytest.raises(InputError, match="no used run has the part 'B'; parts run: A"):
        calibrate(card, part="B", engine=model_days.engine())
    with pytest.raises(InputError, match="give two or more within the pulls' 2200 to 5600 rpm"):
        calibrate(card, engine=model_days.engine(), speeds=[1000.0, 3000.0])
    with pytest.raises(InputError, match="1 speeds cannot tell friction from flow"):
        calibrate(card, engine=model_days.engine(), speeds=1)


@pytest.mark.slow
def test_hidden_values_are_recovered_and_another_intake_is_predicted_blind(tmp_path):
    """Pulls made by the wave model with hidden friction, burn and flow, and noise: A is fitted, B only predicted.

    No model error is in such pulls, so the fit is told a small one (.3 %: interpolation and smoothing of the files)
    and a dynamometer that is right within .2 %: the intervals are narrow, and can miss.
    """
    rpm = np.arange(2200.0, 5601.0, 200.0)
    flat = model_days.write_day(tmp_path, {"A": (rpm, 40.0 + 0.0 * rpm)}, "A", name="weather")
    setting = setting_of(read_session(flat))
    pulls = {p: (rpm, predict(on_day(model_days.truth(p, HIDDEN), setting), speeds=rpm).dataset["torque"].values)
             for p in "AB"}
    card = model_days.write_day(tmp_path, pulls, "AAABBBAAA")
    made = calibrate(card, engine=model_days.engine("A"), unknowns=list(HIDDEN), dyno=0.002, model_error=0.003,
                     speeds=[2600, 3200, 3800, 4400, 5000])
    for f in made.found:
        assert f.low <= HIDDEN[f.key] <= f.high, (f.key, f.low, f.high)
        assert not f.at_bound
    narrowed = {f.key: f.narrowed for f in made.found}
    assert narrowed["head.flow_factor"] < 0.3
    assert narrowed["friction.factor"] < 0.6
    assert {p.number for p in made.pulls} == {1, 2, 3, 7, 8, 9}
    blind = {p: stamped(predict(made.apply(on_day(model_days.engine(p), setting)), speeds=rpm), made) for p in "AB"}
    a, b = compare(card, blind, dyno=0.0).parts
    assert a.refused == "the forecast was fitted to 6 of these 6 pulls"
    assert b.refused == ""
    assert abs(b.percent.error) < 1.5
    truth = model_days.band_mean(*pulls["B"])
    said = {k: model_days.band_mean(rpm, c) for k, c in (
        ("calibrated", blind["B"].dataset["torque"].values),
        ("card", predict(on_day(model_days.engine("B"), setting), speeds=rpm).dataset["torque"].values))}
    assert abs(said["calibrated"] / truth - 1) < 0.01
    assert abs(said["card"] / truth - 1) > 0.02  # what the calibration was worth
