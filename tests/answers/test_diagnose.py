"""Diagnose: injected faults come out, strange curves do not, the check tells the top two apart; words, pictures."""

import json
from dataclasses import replace

import numpy as np
import pytest

from engines import single, twin
from pullcast.answers import diagnose as d
from pullcast.answers.check_next import next_check
from pullcast.answers.fault_curves import fault_curves, torque_with
from pullcast.answers.faults import FAULTS, Span
from pullcast.errors import InputError

RPM = np.linspace(2500.0, 6500.0, 6)
OWN, LEVEL = np.full(6, 0.003), 0.005
BY_KEY = {f.key: f for f in FAULTS}


@pytest.fixture(scope="module")
def family():
    return fault_curves(single(), RPM, fidelity="lumped", workers=1)


def weighed(family, curve):
    return d.weigh(curve, OWN, LEVEL, family)


@pytest.mark.parametrize(("key", "severity"), [("throttle", 0.45), ("hot air", 25.0), ("leakage", 0.1),
                                               ("exhaust", 0.32), ("part: long", 1.4), ("fuel late", 1.35)])
def test_an_injected_fault_is_in_the_top_three(family, key, severity):
    """On an engine with other friction and wall heat than the diagnosis knows."""
    e = single()
    truth = replace(e, walls=replace(e.walls, factor=1.15), friction=replace(e.friction, factor=1.1))
    effect = np.log(torque_with(truth, BY_KEY[key], severity, RPM, fidelity="lumped")
                    / torque_with(truth, None, 0.0, RPM, fidelity="lumped"))
    found = weighed(family, effect + 0.002)
    assert key in [c.key for c in found.causes[:3]]


def test_chances_sum_to_one_and_the_two_standing_causes_are_there(family):
    found = weighed(family, np.full(6, -0.02))
    assert sum(found.chances.values()) == pytest.approx(1.0)
    assert {d.MEASUREMENT, d.UNEXPLAINED, d.AS_DESIGNED} <= set(found.chances)
    assert "dead cylinder" not in found.chances  # a single has no other cylinder


def test_no_difference_is_the_part_as_designed(family):
    assert weighed(family, np.zeros(6)).causes[0].key == d.AS_DESIGNED


def test_a_constant_offset_is_a_measurement_error_or_like_one(family):
    curve = np.log1p(-0.03 * family.torque.mean() / family.torque)
    assert d.MEASUREMENT in [c.key for c in weighed(family, curve).causes[:3]]


@pytest.mark.parametrize("curve", [[0, -0.1, 0, -0.1, 0, -0.1], [0.05, 0.05, -0.08, -0.08, 0.05, 0.05],
                                   [0.12, 0.1, 0.06, 0.1, 0.12, 0.14]])
def test_what_no_fault_makes_is_not_explained(family, curve):
    found = weighed(family, np.array(curve))
    assert found.causes[0].key == d.UNEXPLAINED


def test_effects_have_the_shape_of_the_trade():
    """A shut throttle spares low speeds; leakage is worst low; a dead cylinder takes half of a twin and more."""
    made = {c.key: c.effect[-1] for c in fault_curves(
        twin(), [2500, 4500, 6500], fidelity="lumped", workers=1,
        faults=[BY_KEY[k] for k in ("throttle", "leakage", "dead cylinder", "spark", "float")]).curves}
    assert made["throttle"][0] > max(made["throttle"][1:])
    assert made["leakage"][0] < made["leakage"][2] < 0.0
    assert (np.expm1(made["dead cylinder"]) < -0.5).all()
    assert (made["spark"] < -0.02).all()
    assert made["float"][0] == 0.0
    assert made["float"][2] < -0.3


def test_the_check_reads_differently_for_both(family):
    shut = next(c.effect for c in family.curves if c.key == "throttle")
    causes = {c.key: c for c in weighed(family, shut[len(shut) // 2]).causes}
    a, b = causes["throttle"], causes["part: small"]
    check = next_check([a, b])
    assert check.reading == "throttle opening"  # the cheapest that tells them apart
    assert check.apart > 3.0
    blind = next_check([replace(a, readings={}), replace(b, readings={})])
    assert "go back to the baseline" in blind.do
    plenum = next_check([replace(x, readings={"plenum pressure": v}) for x, v in ((a, 88.1), (b, 92.4))])
    assert "88.1 kPa if it is a throttle not fully open, or a blocked inlet, 92.4 kPa" in plenum.sentence
    assert next_check([a]) is None


def test_every_fault_at_its_mildest_is_mild_and_says_so():
    span = Span(2500.0, 6500.0, 4500.0)
    for f in FAULTS:
        assert f.what.format(f.nodes[0])
        assert f.prior > 0.0
        if f.change:
            changed = f.change(twin(), f.nodes[-1], 6500.0, span)
            assert changed != twin(), f.key
            assert f.change(twin(), f.nil, 6500.0, span).cam == twin().cam


def test_bad_input_is_told(family):
    with pytest.raises(InputError, match=r"measured ratio of shape \(3,\) against 6 speeds"):
        d.weigh(np.zeros(3), np.zeros(3), 0.0, family)


def test_words_tables_and_picture(family, tmp_path):
    from pullcast.show.diagnose_plots import diagnose_figure
    from pullcast.show.diagnose_tables import diagnosis_document, diagnosis_view, sentences
    from pullcast.show.look import save_figure
    from pullcast.show.tables import console

    throttle = next(c for c in family.curves if c.key == "throttle")
    found = weighed(family, throttle.effect[9])
    assert found.causes[0].key == "throttle"
    assert sentences(found)[1].startswith("Most likely (")
    assert "a throttle not fully open" in sentences(found)[1]
    screen = console(width=90)
    with screen.capture() as got:
        screen.print(diagnosis_view(found))
    assert "What it may be" in got.get()
    json.dumps(diagnosis_document(found), allow_nan=False)
    assert save_figure(diagnose_figure(found), tmp_path / "d.png").stat().st_size > 10_000


def page(found):
    from pullcast.show.diagnose_tables import diagnosis_view
    from pullcast.show.tables import console

    screen = console(width=110)
    with screen.capture() as got:
        screen.print(diagnosis_view(found))
    return " ".join(got.get().split())


def test_a_poor_best_fit_is_told_with_its_misfit_and_no_check_is_offered(family):
    """A curve no fault makes: neither of two causes below 5 % is worth a check."""
    from pullcast.show.diagnose_tables import diagnosis_document

    found = weighed(family, np.array([0, -0.1, 0, -0.1, 0, -0.1]))
    assert found.chances[d.UNEXPLAINED] > 0.9
    assert found.check is None
    assert found.poor
    assert found.named.misfit > 3.0
    told = page(found)
    assert f"fits poorly: it misses the measured curve by {found.named.misfit:.1f} standard deviations" in told
    assert "Do this next: go back to the baseline and repeat its pulls" in told
    assert " if it is " not in told
    assert "Next: go back to the baseline and repeat its pulls" in repr(found)
    document = diagnosis_document(found)
    assert document["check"] is None
    assert document["instead"] == found.instead
    assert next(c["misfit_sd"] for c in document["causes"] if c["cause"] == d.UNEXPLAINED) is None


def test_without_a_likely_cause_the_plenum_is_to_be_measured(family):
    """What the model expects of the part alone is told with it; without a plenum it is left out."""
    found = weighed(family, np.array([0, -0.1, 0, -0.1, 0, -0.1]))

    def reading(value):
        return replace(found, causes=tuple(replace(c, readings={"plenum pressure": value}) for c in found.causes))

    told = reading(95.2).instead
    assert "measure the plenum pressure at full throttle" in told
    assert "as its card has it the model expects 95.2 kPa at 6500 rpm" in told
    assert "plenum" not in reading(float("nan")).instead


def test_a_severity_at_the_end_of_what_was_tried_says_so(family):
    throttle = next(c for c in family.curves if c.key == "throttle")
    ends, inside = (weighed(family, e) for e in (1.5 * throttle.effect[-1], throttle.effect[5]))
    said = [next(c.severity for c in found.causes if c.key == "throttle") for found in (ends, inside)]
    assert said[0].endswith("the most that was tried")
    assert "tried" not in said[1]


def test_a_gain_of_another_shape_is_not_told_as_a_loss(family):
    """More on average than the card leads to expect, but less on top: said so before any cause is named."""
    from pullcast.show.diagnose_tables import sentences

    told = sentences(weighed(family, np.array([0.05, 0.05, 0.04, 0.0, -0.02, -0.05])))
    assert "more torque than the baseline on average" in told[0]
    assert "as much" in told[0]
    assert told[1].startswith("So no more was lost than expected")
    lost = sentences(weighed(family, next(c.effect for c in family.curves if c.key == "leakage")[6]))
    assert not any("no more was lost" in s for s in lost)


def test_a_good_fit_is_not_called_poor_and_keeps_its_check(family):
    leak = next(c for c in family.curves if c.key == "leakage")
    found = weighed(family, leak.effect[6])
    assert not found.poor
    assert found.named.misfit < 1.0
    assert found.check is not None
    assert found.instead == ""
    told = page(found)
    assert "fits poorly" not in told
    assert "Do this next: " + found.check.sentence in told


def test_misfit_is_one_for_one_standard_deviation():
    assert d.misfit(np.full(4, 0.02), np.eye(4) * 0.02**2) == pytest.approx(1.0)
    assert d.misfit(np.array([0.06, 0.0, 0.0, 0.0]), np.eye(4) * 0.02**2) == pytest.approx(1.5)


def test_the_row_of_the_part_alone_is_always_shown(family):
    """However unlikely it is; every other row is the part plus a fault, and the page says so."""
    found = weighed(family, np.full(6, -0.12))
    assert found.causes.index(next(c for c in found.causes if c.key == d.AS_DESIGNED)) >= 8
    assert len(found.shown(8)) == 8
    assert found.shown(8)[-1].key == d.AS_DESIGNED
    told = page(found)
    assert d.AS_DESIGNED in told
    assert "Each row is the part as its card has it, plus the fault named; one row is the part alone." in told
    assert d.AS_DESIGNED in repr(found)
    assert d.AS_DESIGNED in found._repr_html_()


def test_the_lumped_model_is_less_sure_than_waves_and_says_why(family):
    """Its error is larger: it sees no tuning."""
    curve = next(c.effect for c in family.curves if c.key == "throttle")[9]
    waves, lumped = (d.weigh(curve, OWN, LEVEL, family, fidelity=f) for f in ("wave", "lumped"))
    assert lumped.causes[0].chance < waves.causes[0].chance
    assert lumped.causes[0].chance < 0.8  # in a quarter of all cases its curves say nothing
    assert sum(lumped.chances.values()) == pytest.approx(1.0)
    assert min(lumped.chances.values()) > 0.25 * 0.5 / 20.0  # so that nothing is ruled out
    assert "Diagnose by waves before anything is changed" in page(lumped)
    assert "sees no tuning" not in page(waves)
