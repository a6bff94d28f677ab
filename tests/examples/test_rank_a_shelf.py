"""The example runs; without draws, which it has by default, to be quicker."""

import runpy
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).parents[2] / "examples" / "rank_a_shelf.py"


@pytest.mark.slow
def test_example():
    ranking, day = runpy.run_path(str(EXAMPLE))["main"](samples=0)
    assert ranking.place("half a ratio more").gain == pytest.approx(0.0145, abs=0.003)  # common practice: 1.2 to 2 %
    assert day.sequence.startswith("A-B-A")
