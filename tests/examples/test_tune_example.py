"""The tuning example runs, and its numbers are in the range of common practice (no source)."""

import runpy
from pathlib import Path

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_tune_before_comparing():
    names = runpy.run_path(str(EXAMPLES / "tune_before_comparing.py"))
    assert all(0.01 < loss < 0.05 for loss in names["late"])
    assert 3.0 < names["step"] < 8.0
    assert [rpm for rpm, _ in names["tuning"].table()] == [3000.0, 5000.0]
