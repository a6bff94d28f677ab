import numpy as np
import pytest

from pullcast.answers.check import check
from pullcast.show.lab import tables
from pullcast.show.lab.bench import Bench, set_up
from pullcast.show.lab.readings import Curve

pytest.importorskip("bokeh", reason="the live page's libraries are not installed")

from pullcast.show.lab import telling


def curve(*torque, **more):
    speeds = np.array([2000.0, 3000.0, 4000.0])
    t = np.array(torque)
    return Curve(speeds, {"torque": t, "power": t * speeds * np.pi / 30} | {k: np.array(v) for k, v in more.items()})


def test_the_sentence_names_peaks_model_and_difference():
    told = telling.sentence(curve(100, 121, 110), curve(100, 110, 110), "wave", "si", True)
    assert told == ("121.0 N m at 3000 rpm and 46.1 kW at 4000 rpm by the wave model. "
                    "Against the base: +3.3 % of torque on average, +10.0 % at 3000 rpm.")


def test_a_gain_here_and_a_loss_there_are_both_named():
    assert telling.difference(curve(90, 110, 121), curve(100, 110, 110)) == (
        "Against the base: +0.0 % of torque on average, +10.0 % at 4000 rpm and -10.0 % at 2000 rpm.")


def test_a_difference_below_the_models_own_error_is_none():
    assert telling.difference(curve(100.1, 110, 110), curve(100, 110, 110)) == (
        "Against the base: no difference that the model can tell.")


def test_where_nothing_repeats_it_is_said():
    empty = Curve(np.array([2000.0]), {}, ("2000 rpm: not converged",))
    assert "At no speed" in telling.sentence(empty, empty, "lumped", "si", False)


def test_the_caption_says_how_far_the_models_are_apart():
    told = telling.caption("torque", "wave", True, curve(110, 110, 110), curve(100, 110, 110))
    assert "5.8 % away in torque (rms), most at 2000 rpm: +10.0 %" in told
    assert "no waves" in telling.caption("torque", "lumped", False, None, curve(1, 1, 1))


def test_events_are_counted_at_one_millimetre(shelf):
    engine = set_up(Bench("engines/club_four.toml"), shelf).engine
    told = telling.events(engine, 3000.0)  # the card: 13 BTDC, 45 ABDC, 44 BBDC, 10 ATDC at 1 mm
    assert told == ("At 1 mm of lift the intake is open from 13° before TDC to 45° after BDC, the exhaust from 44° "
                    "before BDC to 10° after TDC.")


def test_numbers_now_base_and_difference():
    sheet = tables.numbers(curve(100, 121, 110), curve(100, 110, 110), 3000.0, "wave", "si")
    assert sheet.rows[0] == ("peak torque", "121.0 N m at 3000", "110.0 N m at 3000", "+11.0")
    assert sheet.rows[2] == ("mean torque over the range", "110.3 N m", "106.7 N m", "+3.7")
    assert all(len(row) == 4 for row in sheet.rows)


def test_a_limit_that_is_passed_is_marked(shelf):
    engine = set_up(Bench("engines/hillclimb_v8.toml"), shelf).engine
    sheet = tables.limits(engine, curve(500, 700, 600, knock_integral=[0.5, 1.2, 0.9]), "si")
    marks = {row[0]: mark for row, mark in zip(sheet.rows, sheet.marks, strict=True)}
    assert marks["knock integral"] == "passed"
    assert marks["torque into the driveline"] == "passed"
    assert marks["mean piston speed"] == ""
    assert "injector duty" not in marks


def test_what_follows_marks_what_changed_and_assumed_shows_ranges(shelf):
    base = set_up(Bench("engines/club_four.toml"), shelf)
    now = set_up(base.bench.with_knob("separation", "110"), shelf)
    sheet = tables.derived(check(now.engine), check(base.engine), "si")
    changed = {row[0] for row, mark in zip(sheet.rows, sheet.marks, strict=True) if mark}
    assert {"lobe separation", "intake centreline", "exhaust centreline"} <= changed
    assert "displacement" not in changed
    rows = {row[0]: row for row in tables.assumed(check(base.engine), "si").rows}
    assert rows["walls.piston"][1:4] == tuple(f"{v} °C" for v in (rows["walls.piston"][1].split()[0],
                                                                  rows["walls.piston"][2].split()[0],
                                                                  rows["walls.piston"][3].split()[0]))


def test_findings_come_contradictions_first_and_failed_speeds_too(shelf):
    text = set_up(Bench("engines/lab_single.toml"), shelf).text.replace(
        "[cam.intake]", '[cam.intake]\ncentreline = "95 deg"')
    found = tables.findings(check(set_up(Bench(text=text), shelf).engine), ("2000 rpm: it broke",))
    assert found[0][0] == "contradiction"
    assert found[-1] == ["no result", "2000 rpm: it broke.", ""]
