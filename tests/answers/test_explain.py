"""Explain: parts sum to the total, nothing for what does not differ, mechanisms, remedies, words and pictures."""

import json
from dataclasses import replace

import numpy as np
import pytest

from engines import single, twin
from pullcast.answers.curves import predict
from pullcast.answers.cycle_evidence import _places
from pullcast.answers.explain import band_weights, explain
from pullcast.card.engine import Limits
from pullcast.errors import InputError, SolveError
from pullcast.solve.numerics import Numerics
from pullcast.solve.store import Store

COARSE = Numerics(cell=0.03)
SPEEDS = [3000, 5500]


def poor(engine, **limits):
    """The twin with a small throttle, short runners and a sharp entry."""
    pipes = []
    for p in engine.intake.pipes:
        if p.end.area:
            p = replace(p, end=replace(p.end, area=0.55 * p.end.area))
        else:
            p = replace(p, start=replace(p.start, loss_in=0.5),
                        segments=tuple(replace(s, length=0.1) for s in p.segments))
        pipes.append(p)
    return replace(engine, name="poor twin", intake=replace(engine.intake, pipes=tuple(pipes)))


@pytest.fixture(scope="module")
def explained():
    base = replace(twin(), limits=Limits(7000.0, driveline_torque=88.0))
    return explain(base, poor(base), speeds=SPEEDS, numerics=COARSE, workers=1)


def test_parts_sum_to_the_difference_of_two_forecasts(explained):
    a, b = (predict(e, speeds=SPEEDS, numerics=COARSE, workers=1) for e in (twin(), poor(twin())))
    change = b.band_average("torque", *SPEEDS) - a.band_average("torque", *SPEEDS)
    assert explained.band_parts.sum() == pytest.approx(change, abs=5e-4 * a.band_average("torque", *SPEEDS))
    each = b.dataset["torque"].values - a.dataset["torque"].values
    assert explained.torque.parts.sum(axis=0) == pytest.approx(each)
    assert explained.ve.parts.sum(axis=0) == pytest.approx(explained.ve_other - explained.ve_base)
    assert [a.name for a in explained.attributes] == ["runner length", "runner entry", "throttle"]


def test_a_restriction_costs_most_at_speed(explained):
    i = [a.name for a in explained.attributes].index("throttle")
    low, high = explained.torque.parts[i] / explained.torque_base
    assert high < -0.03
    assert high < 3 * low


def test_mechanisms_sum_and_are_air_for_an_intake(explained):
    change = explained.torque_other - explained.torque_base
    assert explained.mechanisms.sum(axis=0) == pytest.approx(change)
    assert explained.mechanisms[0, 1] / change[1] > 0.8


def test_remedy_and_driveline(explained):
    best = explained.best_remedy
    assert best.attribute == "throttle"
    assert 0.4 < best.regained < 1.0
    assert explained.limits.on_purpose == (explained.torque_base.max() > 88.0 >= explained.torque_other.max())


def test_identical_parts_give_zeros(tmp_path):
    same = explain(twin(), replace(twin(), name="clone"), speeds=[4000], numerics=COARSE, workers=1, ledger=False,
                   store=Store(tmp_path / "s"))
    assert same.attributes == ()
    assert same.band_difference == 0.0
    assert np.abs(same.mechanisms).max() == 0.0
    assert same.best_remedy is None


def test_lumped_and_stored(tmp_path):
    how = {"speeds": [3000, 5000], "fidelity": "lumped", "workers": 1, "store": Store(tmp_path / "s")}
    first = explain(twin(), poor(twin()), **how)
    again = explain(twin(), poor(twin()), **how)
    assert first.ledgers is None
    assert first.evidence == ()
    assert first.points == (16, 0)
    assert again.points == (0, 16)
    assert (again.torque.parts == first.torque.parts).all()
    assert first.fidelity == "lumped"


def test_band_weights_are_those_of_the_straight_line_curve():
    rpm = np.array([1000.0, 2000.0, 4000.0])
    w = band_weights(rpm, (1500.0, 3000.0))
    values = np.array([3.0, 5.0, 9.0])
    fine = np.linspace(1500, 3000, 30001)
    assert w @ values == pytest.approx(np.interp(fine, rpm, values).mean(), rel=1e-6)
    assert w.sum() == pytest.approx(1.0)


def test_bad_input_is_told():
    with pytest.raises(InputError, match="changes are made on a card"):
        explain(twin(), {"intake": "x.toml"})
    with pytest.raises(InputError, match="the band 1000 to 9000 rpm must rise and lie within the speeds 3000"):
        explain(twin(), poor(twin()), speeds=SPEEDS, band=(1000, 9000))
    with pytest.raises(InputError, match="single has 1 cylinders, twin 2"):
        explain(single(), twin(), speeds=SPEEDS)


def test_an_engine_between_that_breaks_down_is_named(monkeypatch):
    from pullcast.solve import jobs

    real = jobs.settle

    def moody(engine, rpm, numerics, **kw):
        if engine.intake.pipes[0].start.loss_in > 0.4:
            raise SolveError("a volume ran empty", rpm=rpm, angle_deg=12.0, component="volume 'plenum'")
        return real(engine, rpm, numerics, **kw)

    monkeypatch.setattr(jobs, "settle", moody)
    with pytest.raises(SolveError, match=r"the base with runner entry of the other\) could not be computed"):
        explain(twin(), poor(twin()), speeds=[4000], numerics=COARSE, workers=1, ledger=False)


def test_evidence_of_the_cycle(explained):
    a, b = explained.evidence[0]
    assert a.rpm == b.rpm == 5500
    assert 0.0 <= a.reversion < 0.2
    assert a.plenum > b.plenum  # the small throttle
    assert a.runner.x[0] < a.runner.x[-1]
    waves = a.runner.waves(0)
    assert waves.together(1.38) == pytest.approx(a.runner.pressure[0], rel=1e-9)
    assert a.runner.velocity.mean() > 0.0  # towards the cylinder
    assert a.primary.velocity.mean() > 0.0  # away from it


def test_a_pipe_seen_ends_in_the_open_air():
    """A single without a plenum: intake and exhaust both end there, and neither is walked on into the other."""
    e = single()
    intake, exhaust = _places(e)
    for seen, tract, port in ((intake, e.intake, e.head.intake.port), (exhaust, e.exhaust, e.head.exhaust.port)):
        length = sum(p.length for p in tract.pipes) + sum(s.length for s in port)
        assert 0.8 * length < seen.x.max() < 1.05 * length
    assert {p for p, _ in intake.stations}.isdisjoint(p for p, _ in exhaust.stations)


def test_words_tables_and_pictures(explained, tmp_path):
    from pullcast.show.explain_plots import explain_figure
    from pullcast.show.explain_tables import explanation_document, explanation_view, how
    from pullcast.show.explain_words import sentences
    from pullcast.show.look import save_figure
    from pullcast.show.report import report
    from pullcast.show.tables import console
    from pullcast.show.why_plots import why_figure

    told = sentences(explained, "si")
    assert "poor twin makes" in told[0]
    assert any("Throttle (13.3 cm2 on the base, 7.3 cm2 on the other)" in s for s in told)
    assert any("Going back to the base's throttle alone would recover" in s for s in told)
    assert any("kPa below the outside's" in s for s in told)
    screen = console(width=100)
    with screen.capture() as got:
        screen.print(explanation_view(explained, "us"))
    assert "lb-ft" in got.get()
    assert "stored before" in how(explained)
    page = report(explained).html()
    assert "stored before" not in page  # differs from run to run
    assert "Torque difference by attribute" in page
    assert "poor twin" in explained._repr_html_()
    document = explanation_document(explained)
    json.dumps(document, allow_nan=False)
    assert sum(a["band_pct"] for a in document["attributes"]) == pytest.approx(document["band_difference_pct"])
    for i, figure in enumerate((explain_figure(explained), why_figure(*explained.evidence[0]))):
        assert save_figure(figure, tmp_path / f"{i}.png").stat().st_size > 20_000
