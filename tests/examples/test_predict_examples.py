"""Every example runs, and the number it shows is the one asserted here."""

import runpy
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parents[2] / "examples"


def run(name):
    return runpy.run_path(str(EXAMPLES / name))


def test_predict_a_curve():
    """475 N m is this program's own number; the wide gate lets better physics through and catches broken units."""
    names = run("predict_a_curve.py")
    assert names["torque"] == pytest.approx(475, rel=0.05)
    assert names["engine"].assumed


def test_swap_an_intake():
    """The smaller, longer dual-plane runners lose at the top (common practice, no source)."""
    change = run("swap_an_intake.py")["change"]
    assert change[-1] < -2
    assert change[0] > change[-1]


def test_watch_the_port():
    assert 0.01 < run("watch_the_port.py")["share_back"] < 0.25


def test_teach_runner_length():
    """Longer runners tune lower: a gain low, a loss high (Engelman 1973)."""
    low, high = run("teach_runner_length.py")["gain"]
    assert low > 0.5
    assert high < -3


def test_every_example_is_run_by_a_test():
    """By a test here; the scripts of the lessons by those of the lessons, one for each."""
    from pullcast.show.lessons import all_lessons

    text = "".join(p.read_text(encoding="utf-8") for p in Path(__file__).parent.glob("test_*.py"))
    lessons = {f"lesson_{one.key}.py" for one in all_lessons()}
    scripts = {p.name for p in EXAMPLES.glob("*.py")}
    assert lessons <= scripts
    assert not [name for name in scripts - lessons if name not in text]
