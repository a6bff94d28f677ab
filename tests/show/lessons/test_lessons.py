"""Every lesson runs, bears out what its sources say, fills its texts, and knows right answers from wrong ones."""

import math
import re
import runpy
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from pullcast.card import with_changes
from pullcast.card.tree import plant
from pullcast.errors import InputError, NotConverged
from pullcast.sheets.files import read_sheet
from pullcast.show.lessons import KEYS, all_lessons, lesson_named, runs
from pullcast.show.lessons import lesson as lesson_module
from pullcast.show.lessons.advance import crossing
from pullcast.show.lessons.filling import nearest
from pullcast.show.lessons.mystery import SUSPECTS, closest
from pullcast.show.lessons.throttle import shape

EXAMPLES = Path(__file__).parents[3] / "examples"


@cache
def run(key):
    return lesson_named(key).run()


def test_course():
    """At least eight lessons (eleven topics), none longer than a school hour; each says where it comes from."""
    lessons = all_lessons()
    assert len(lessons) == 11
    for lesson in lessons:
        assert 10 <= lesson.minutes <= 50
        assert lesson.sources
        assert lesson.teacher.care
        assert lesson.card.is_file()
        assert lesson.prediction.expected in lesson.prediction.choices
        assert set(lesson.replies) == set(lesson.prediction.choices)


def test_what_a_lesson_needs_lies_in_the_package():
    """An installation has no project folder beside it."""
    inside = Path(lesson_module.__file__).parent
    for lesson in all_lessons():
        assert (inside / "configs" / lesson.engine).is_file()
        tree = plant(read_sheet(lesson.card, lesson.card.name), lesson.card.parent)
        assert tree.problems == []


def test_unknown_lesson():
    with pytest.raises(InputError, match="no lesson is called 'advanse': there are advance"):
        lesson_named("advanse")


@pytest.mark.parametrize("key", KEYS)
def test_engines_of_a_lesson_do_not_contradict_themselves(key):
    """A change of one number of a cam card must bring its fellows along."""
    lesson = lesson_named(key)
    for changes in ({}, *(s.changes for s in lesson.settings)):
        engine = with_changes(lesson.card, {**lesson.presets, **changes})
        assert [f for f in engine.findings if f.level == "contradiction"] == []


@pytest.mark.parametrize("key", KEYS)
def test_nothing_that_did_not_come_about_is_told_as_a_number(key):
    lesson, result = lesson_named(key), run(key)
    question = lesson.question(result)
    told = [lesson.explain(result), question.text, question.hint, question.shown,
            *(text for _, text in question.slips), *question.choices.values(), lesson.teacher.see.format_map(
                result.facts), *(lesson.reply(letter, result).hint for letter in lesson.prediction.choices),
            *(cell for row in result.table for cell in row)]
    assert [t for t in told if re.search(r"\bnan\b", t)] == []
    assert all(v == v for v, _ in question.slips)


@pytest.mark.parametrize("key", KEYS)
def test_run_bears_out_the_sources(key):
    """``right`` is computed from the run; ``expected`` stands in the card with its source."""
    lesson, result = lesson_named(key), run(key)
    assert result.right == lesson.prediction.expected
    assert "open question" not in lesson.explain(result)


@pytest.mark.parametrize("key", KEYS)
def test_texts_are_filled(key):
    lesson, result = lesson_named(key), run(key)
    texts = [lesson.explain(result), lesson.question(result).text, lesson.teacher.see.format_map(result.facts)]
    texts += [lesson.reply(letter, result).hint for letter in lesson.prediction.choices]
    texts += [text for _, text in lesson.question(result).slips]
    for text in texts:
        assert not re.search(r"[{}]|\bnan\b|\binf\b", text)
    verdicts = [lesson.reply(letter, result).ok for letter in lesson.prediction.choices]
    assert verdicts.count(True) == 1
    assert all(math.isfinite(v) for v in result.facts.values() if isinstance(v, float))


@pytest.mark.parametrize("key", KEYS)
def test_answers(key):
    """The right answer is taken as shown, each usual mistake gets its own hint, anything else the general one."""
    lesson, result = lesson_named(key), run(key)
    question = lesson.question(result)
    shown = str(question.answer) if question.choices else question.shown
    assert question.check(shown).ok
    assert question.slips
    hints = set()
    for value, text in question.slips:
        verdict = question.check(value if isinstance(value, str) else f"{value:.6f}")
        assert verdict == (False, text)
        hints.add(text)
    assert len(hints) == len(question.slips)
    if question.choices:
        assert "none of the choices" in question.check("z").hint
        return
    assert question.check(f"{question.answer + 0.9 * question.tolerance:.6f}").ok
    assert question.check(f"{question.answer + 1e4}") == (False, question.hint)
    assert "not a number" in question.check("about right").hint
    assert question.check("").ok is False
    assert str(question.shown.split()[0]) not in question.hint.split()
    if question.unit:
        assert f"answer in {question.unit}" in question.check("3 furlongs").hint


def test_pictures_match_settings():
    """The lines of a picture are the engines compared."""
    for key in ("filling", "advance", "corners", "separation", "primaries", "peaks"):
        labels = [s.label for s in lesson_named(key).settings]
        for panel in run(key).panels:
            assert [line.label for line in panel.lines] == labels
            assert all(len(line.x) == len(line.y) for line in panel.lines)


def test_same_numbers_again():
    for key in ("filling", "reading", "noise"):
        again = lesson_named(key).run()
        assert again == run(key)


def test_filling_by_hand():
    """Heywood 1988, eq. 2.27: air over what the swept volume holds at the density outside, half a filling a turn."""
    facts = run("filling").facts
    fillings = facts["rpm"] / 60 / 2
    assert run("filling").answer == pytest.approx(
        100 * facts["air"] / (facts["litres"] * round(facts["density_cold"], 4) * fillings), rel=1e-6)
    assert run("filling").answer == pytest.approx(facts["ve_cold"], abs=0.1)


def test_reading_by_hand():
    """216 deg about 107 deg closes 107 + 108 - 180 = 35 deg after bottom centre."""
    assert run("reading").answer == pytest.approx(35.0)


def test_separation_by_hand():
    """Base 45 deg; centreline 6 deg later and 6 deg more on the closing side: 57 deg."""
    assert run("separation").answer == pytest.approx(57.0)
    assert run("separation").table[3][2] == "?"


def test_primaries_by_hand():
    """1.500 in tube of 0.049 in wall: 1.402 in inside, 1.5438 in2."""
    assert run("primaries").answer == pytest.approx(math.pi / 4 * 1.402**2 * 6.4516, rel=1e-6)


def test_correction_by_hand():
    """J1349 at 961.0 hPa dry and 32 deg C; the undried slip lies clear of it."""
    assert run("correction").answer == pytest.approx(1.18 * 990 / 961.0 * math.sqrt(305 / 298) - 0.18, abs=2e-4)


def test_noise_by_hand():
    first, second, third = ([float(t) for t in run("noise").table[1][1 + i:4 + i]] for i in (0, 3, 6))
    around = (sum(first) / 3 + sum(third) / 3) / 2
    assert run("noise").answer == pytest.approx(100 * (sum(second) / 3 / around - 1), abs=1e-9)
    facts = run("noise").facts
    assert facts["low"] < run("noise").answer < facts["high"]
    assert facts["bias_three"] == pytest.approx(0.4 * 0.846, abs=0.002)  # Harter 1961 (from memory)
    assert facts["bias_ten"] == pytest.approx(0.4 * 1.539, abs=0.002)


def test_peaks_by_hand():
    row = [float(t) for t in run("peaks").table[1][1:5]]
    assert run("peaks").answer == pytest.approx((row[0] / 2 + row[1] + row[2] + row[3] / 2) / 3)
    facts = run("peaks").facts
    assert facts["peak_gain"] < 0 < facts["gain"]  # the text says that A has the higher peak
    assert run("peaks").answer == pytest.approx(facts["mean_first"], abs=0.1)


def test_corners_as_told():
    """What the paragraphs say in words holds in numbers."""
    facts = run("corners").facts
    assert facts["best_low"] == "early closing, long runner"
    assert facts["late_at_low"] < -5 < facts["late_at_high"]
    assert facts["long_at_high"] < facts["long_at_low"]
    assert run("corners").answer > 0


def test_advance_as_told():
    facts = run("advance").facts
    assert facts["low"] < facts["pivot"] < facts["high"]
    assert (facts["early_low"][:5], facts["late_low"][:5]) == ("gains", "loses")


def test_separation_as_told():
    facts = run("separation").facts
    assert facts["overlap_less"] < facts["overlap_base"]
    assert facts["kept_low_pct"] < facts["held_low_pct"] - 3


def test_throttle_as_told():
    facts = run("throttle").facts
    assert facts["drop_small"] > 2 * facts["drop_big"]
    assert run("throttle").answer == pytest.approx(facts["drop_small"], rel=0.15)  # the square law is near the model
    assert 0.9 < facts["a_kpa"] < 2.0  # "one percent or a little more" (common practice, no source)


def test_mystery_as_told():
    """Torque alone leaves two suspects; air flow and plenum pressure leave one."""
    facts = run("mystery").facts
    assert abs(facts["air_c"]) < 0.5 > abs(facts["air_d"])
    assert facts["first_plenum"] < -2 < -0.1 < facts["plenum_b"]
    assert facts["exhaust_c"] > 30
    assert "throttle" in facts["by_torque"]
    assert " and " in facts["by_torque"]
    assert run("mystery").answer == "b"
    assert set(SUSPECTS) == set(lesson_named("mystery").prediction.choices)


def test_disagreement_is_said():
    """Were the model to part from its sources, the lesson would not hide it."""
    lesson, result = lesson_named("advance"), run("advance")
    other = replace(result, right="c")
    assert "does not bear out" in lesson.explain(other)
    assert not lesson.reply("b", other).ok


def test_predictions_follow_the_numbers():
    """What counts as right comes from the numbers, not from the card."""
    assert [nearest(0.9, 1.1), nearest(0.1, 0.9), nearest(0.1, 0.1), nearest(1.0, 0.0)] == list("abcd")
    assert [shape(5.0, 5.5), shape(1.0, 6.0), shape(6.0, 1.0), shape(0.1, 0.2)] == list("abcd")
    assert all(math.isnan(x) for x in crossing((1.0, 2.0), (1.0, 1.0), (0.0, 0.0)))
    import numpy as np

    flat, rising = np.array([-5.0, -5, -5, 0, 0, 0]), np.array([0.0, -3, -9, 0.5, -9, 0])
    assert closest(0.3 * rising, {"a": flat, "b": rising}) == "b"


def test_guess_is_read_kindly_and_refused_clearly():
    guess = lesson_named("advance").prediction
    assert guess.letter(" B) ") == "b"
    with pytest.raises(InputError, match="'f' is none of the choices: answer a, b, c, d, e"):
        guess.letter("f")


def test_progress_counts_all_engines():
    seen = []
    lesson_named("filling").run(lambda rpm, done, total, note: seen.append((done, total)))
    counted = [pair for pair in seen if pair[0] > 0]
    assert counted[-1] == (6, 6)
    assert counted == sorted(counted)


def test_unconverged_point_is_named(monkeypatch):
    class Curve:
        failures = ((2400.0, "not converged"),)

    monkeypatch.setattr("pullcast.answers.curves.predict", lambda *a, **k: Curve())
    with pytest.raises(NotConverged, match="lesson 'filling', 'cold, dense day': not converged at 2400 rpm"):
        runs.curves(lesson_named("filling"), (2400.0,))


def test_every_lesson_has_its_script():
    scripts = sorted(EXAMPLES.glob("lesson_*.py"))
    assert {runpy.run_path(str(s))["KEY"] for s in scripts} == set(KEYS)
    assert all(s.stem == f"lesson_{runpy.run_path(str(s))['KEY']}" for s in scripts)
