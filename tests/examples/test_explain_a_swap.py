"""The example runs and gives the numbers it shows."""

import runpy
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).parents[2] / "examples" / "explain_a_swap.py"


def test_example():
    names = runpy.run_path(str(EXAMPLE))
    assert sum(names["parts"].values()) == pytest.approx(names["whole"])
    assert 0.5 < names["parts"]["compression"] < 4.0  # about 2.5 to 3 % a ratio at best (common practice, no source)
    assert set(names["parts"]) == {"runner length", "compression"}
