"""Every control on every shipped engine: it does what it says, nothing else, and the written card holds it."""

import tomllib
from pathlib import Path

import pytest

from pullcast.card import read_engine_text
from pullcast.errors import InputError
from pullcast.show.lab.bench import Bench, set_up
from pullcast.show.lab.knob import in_system
from pullcast.show.lab.knobs import KNOBS
from pullcast.show.lab.shelf import Shelf
from pullcast.solve.keys import march_sha256

SHELF = Shelf(Path(__file__).parents[3] / "configs")
ENGINES = [*(ref for ref in SHELF.engines if ref.startswith("engines/")), "starter/street_2v_v8", "starter/twin"]


def turned(knob, setup):
    """A text a few steps away from the card's value, inside the slider."""
    own = knob.shown(knob.read(setup.own, setup.data))
    low, high = knob.span(own)
    new = own + 3 * knob.step if own + 3 * knob.step <= high else own - 3 * knob.step
    assert low <= own <= high
    return new


@pytest.mark.parametrize("reference", ENGINES)
def test_each_control_moves_its_number_alone_and_survives_writing(reference):
    setup = set_up(Bench(reference), SHELF)
    for knob in setup.knobs:
        new = turned(knob, setup)
        moved = set_up(setup.bench.with_knob(knob.key, f"{new:.10g}"), SHELF)
        data = tomllib.loads(moved.text)
        assert knob.shown(knob.read(moved.engine, data)) == pytest.approx(new, rel=1e-6), knob.key
        for other in setup.knobs:
            if other is not knob:
                assert other.read(moved.engine, data) == pytest.approx(other.read(setup.own, setup.data),
                                                                       rel=1e-6, abs=1e-9), (knob.key, other.key)
        assert march_sha256(read_engine_text(moved.text)) == march_sha256(moved.engine), knob.key
        assert not [f for f in moved.engine.findings if f.level == "contradiction"]


@pytest.mark.parametrize("reference", ENGINES)
def test_a_control_set_to_the_cards_own_value_changes_no_number(reference):
    setup = set_up(Bench(reference), SHELF)
    bench = setup.bench
    for knob in setup.knobs:
        bench = bench.with_knob(knob.key, f"{knob.shown(knob.read(setup.own, setup.data)):.12g}")
    again = set_up(bench, SHELF).engine
    for a, b in ((again.cam.intake, setup.own.cam.intake), (again.cam.exhaust, setup.own.cam.exhaust)):
        assert (a.lift, a.centreline_deg) == pytest.approx((b.lift, b.centreline_deg), rel=1e-7)
        assert [d.duration_deg for d in a.durations] == pytest.approx([d.duration_deg for d in b.durations])
    for tract in ("intake", "exhaust"):
        new, old = getattr(again, tract), getattr(setup.own, tract)
        for p, q in zip(new.pipes, old.pipes, strict=True):
            new_shape, old_shape = ([x for s in pipe.segments for x in (s.length, s.area_start, s.area_end)]
                                    for pipe in (p, q))
            assert new_shape == pytest.approx(old_shape, rel=1e-6), p.name


def test_the_order_in_which_controls_are_turned_does_not_matter(shelf):
    pairs = [("advance", "2"), ("separation", "108"), ("intake_lift", "8.5"), ("intake_ratio", "1.6"),
             ("intake_duration", "224"), ("spark", "30")]
    one = two = Bench("engines/hillclimb_v8.toml")
    for key, text in pairs:
        one = one.with_knob(key, text)
    for key, text in reversed(pairs):
        two = two.with_knob(key, text)
    first, second = (set_up(b, shelf).engine for b in (one, two))
    assert march_sha256(first) == march_sha256(second)
    assert first.cam.intake.lift == pytest.approx(8.5e-3 * 1.6)
    assert first.cam.intake.centreline_deg == pytest.approx(106.0)


def test_a_longer_duration_moves_every_reference_alike(shelf):
    engine = set_up(Bench("engines/hillclimb_v8.toml").with_knob("intake_duration", "226"), shelf).engine
    assert sorted(d.duration_deg for d in engine.cam.intake.durations) == [226.0, 278.0]


def test_another_unit_may_be_typed(shelf):
    engine = set_up(Bench("engines/club_four.toml").with_knob("runner_length", "10 in"), shelf).engine
    assert engine.intake.facts["runner_length"] == pytest.approx(0.254)
    assert KNOBS["temperature"].internal("68 F") == pytest.approx(293.15)


@pytest.mark.parametrize(("key", "text", "says"), [
    ("spark", "10 mm", "is a length"), ("lambda", "rich", "does not start with a number"),
    ("runner_length", "nan", "number"), ("plenum", "", "does not start with a number")])
def test_a_text_that_is_no_value_says_what_fits(key, text, says):
    with pytest.raises(InputError, match=says):
        KNOBS[key].internal(text)


def test_a_measured_lobe_has_no_lift_or_duration_to_turn(shelf):
    text = set_up(Bench("engines/lab_single.toml"), shelf).text
    lobe = '[cam.intake.table]\nangle = "-100 -50 0 50 100 deg"\nlift = "0 4 7 4 0 mm"\n\n[cam.exhaust]'
    setup = set_up(Bench(text=text.replace("[cam.exhaust]", lobe, 1)), shelf)
    keys = {k.key for k in setup.knobs}
    assert "exhaust_lift" in keys
    assert not keys & {"intake_lift", "intake_duration", "intake_ratio"}


@pytest.mark.parametrize("reference", ENGINES)
def test_in_us_units_each_control_shows_the_same_number_and_says_it_back(reference):
    setup = set_up(Bench(reference), SHELF)
    for knob in setup.knobs:
        shown = in_system(knob, "us")
        assert shown.unit not in {"mm", "cm2", "L", "hPa", "C"}, knob.key
        own = knob.read(setup.own, setup.data)
        value = shown.shown(own)
        low, high = shown.span(value)
        assert low <= value <= high, knob.key
        assert all(abs(v / shown.step - round(v / shown.step)) < 1e-6 for v in (low, high)), knob.key
        said = shown.told(f"{value!r}")
        assert knob.internal(said) == pytest.approx(own, rel=1e-9, abs=1e-12), knob.key


def test_a_bare_number_is_in_the_unit_shown_and_says_so_in_the_link():
    knob = KNOBS["runner_length"]
    assert in_system(knob, "us").told("10.5") == "10.5 in"
    assert in_system(knob, "us").told("270 mm") == "270 mm"
    assert in_system(knob, "us").told("ten") == "ten"
    assert in_system(knob, "si").told("270") == "270 mm"
    assert knob.internal("10.5 in") == pytest.approx(0.2667)
    assert in_system(KNOBS["temperature"], "us").shown(293.15) == pytest.approx(68.0)
    assert in_system(KNOBS["lambda"], "us").told("0.9") == "0.9"
