"""The example runs and gives the number it shows."""

import runpy
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).parents[2] / "examples" / "judge_a_day.py"


def test_example():
    names = runpy.run_path(str(EXAMPLE))
    assert names["difference"].effect.percent == pytest.approx(2.67, abs=0.05)
    assert names["plan"].enough
