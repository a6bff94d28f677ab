"""Slips that are told with their remedy: weather in another unit, octane by the pump, tables nothing would read."""

import pytest

from pullcast.answers.check import check
from pullcast.card import read_engine_text, with_changes
from pullcast.card.checks import checks
from pullcast.errors import CardError

FOUR = "engines/club_four.toml"
HEAD = 'name = "x"\nclass = "single_4v"\n[block]\nbore = "90 mm"\nstroke = "80 mm"\n'
PIPES = """[[intake.pipe]]
name = "tube"
from = "ambient"
to = "port 1"
length = "0.4 m"
diameter = "38 mm"
"""


def findings(engine, key):
    return [f for f in checks(engine) if f.key == key]


@pytest.mark.parametrize(("key", "value", "words"), [
    ("day.station_pressure", "1013 kPa", "Is it hPa written as kPa?"),
    ("day.station_pressure", "101.3 hPa", "Is it kPa written as hPa?"),
    ("day.station_pressure", "29.92 kPa", "Is it inHg written as kPa?"),
    ("day.temperature", "68 C", "Is it F written as C?"), ("day.temperature", "293 C", "Is it K written as C?"),
    ("day.humidity", "50", 'Is the % sign missing \\("50 %"\\)?'), ("day.humidity", 50, "Is the % sign missing"),
    ("fuel.octane", "88 MON", "is a motor number"), ("fuel.octane", "9", r"misplaced \(90\)")])
def test_the_other_unit_is_named(configs, key, value, words):
    with pytest.raises(CardError, match=words):
        with_changes(configs / FOUR, {key: value})


def test_a_share_written_as_percent_is_doubted(configs):
    engine = with_changes(configs / FOUR, {"day.humidity": "0.5 %"})
    assert "without the sign" in findings(engine, "day.humidity")[0].remedy


@pytest.mark.parametrize(("text", "octane"), [("91 AKI", 95.5), ("91 (R+M)/2", 95.5), ("95 RON", 95.0), (95, 95.0)])
def test_octane_by_its_scale(configs, text, octane):
    engine = with_changes(configs / FOUR, {"fuel.key": "petrol", "fuel.octane": text})
    assert engine.fuel.octane == octane
    stated = [a for a in engine.assumed if a.key == "fuel.octane"]
    assert (stated[0].low, stated[0].high) == (94.5, 96.5) if octane == 95.5 else not stated


def test_a_plain_number_that_may_be_the_pump_s_is_noted(configs):
    engine = with_changes(configs / FOUR, {"fuel.key": "petrol", "fuel.octane": 91})
    note = findings(engine, "fuel.octane")[0]
    assert note.level == "note"
    assert '"91 AKI"' in note.remedy
    assert not findings(with_changes(configs / FOUR, {"fuel.key": "petrol", "fuel.octane": 98}), "fuel.octane")


def test_tables_of_a_style_beside_a_pipe_list_are_refused():
    read_engine_text(HEAD + PIPES, name="card")
    with pytest.raises(CardError, match=r"intake.runner.length: a \[\[pipe\]\] list is given, beside which nothing"):
        read_engine_text(HEAD + PIPES + '[intake.runner]\nlength = "0.3 m"\n', name="card")
    pipes = PIPES.replace("intake", "exhaust").replace('"ambient"', '"port 1"', 1).replace('to = "port 1"',
                                                                                         'to = "ambient"')
    with pytest.raises(CardError, match=r"exhaust.primary.od: a \[\[pipe\]\] list is given"):
        read_engine_text(HEAD + pipes + '[exhaust.primary]\nod = "45 mm"\n', name="card")


def test_a_lobe_too_fast_for_its_flat_tappet_is_doubted(configs):
    assert not [f for f in check(with_changes(configs / FOUR, {})).findings if f.key == "cam.tappet_diameter"]
    small = check(with_changes(configs / FOUR, {"cam.tappet_diameter": "25 mm"}))
    found = [f for f in small.findings if f.key == "cam.tappet_diameter"]
    assert len(found) == 1
    assert "keeps contact to 0.218" in found[0].text
    assert "26.77 mm" in found[0].remedy
