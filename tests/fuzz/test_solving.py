"""Odd but legal engines converge or say why; mass and energy close; density and pressure stay positive; none hangs.

The campaign of 500 is marked long; PULLCAST_FUZZ_ENGINES sets its count.
"""

import os
from collections import Counter

import pytest
from solving import GOOD, march

COUNT = int(os.environ.get("PULLCAST_FUZZ_ENGINES", "500"))
LONGEST = 240.0  # s of processor time for one engine: 60 cycles of the largest network at its smallest step


def ends(seeds, most=12):
    """Outcomes of the engines of ``seeds``, every third by the lumped model."""
    return [march(seed, "lumped" if seed % 3 == 0 else "wave", most) for seed in seeds]


def checked(outcomes):
    assert not [(o.seed, o.faults) for o in outcomes if o.faults]
    assert {o.kind for o in outcomes} <= set(GOOD)
    assert all(o.message for o in outcomes if o.kind != "converged")
    assert max(o.seconds for o in outcomes) < LONGEST
    return Counter(o.kind for o in outcomes)


def test_a_dozen_odd_engines():
    counts = checked(ends(range(12), most=2))
    assert counts["converged"] >= 8


@pytest.mark.long
def test_odd_engines():
    counts = checked(ends(range(2000, 2000 + COUNT)))
    marched = COUNT - counts["card refused"]
    assert counts["converged"] >= 0.8 * marched
    assert counts["broke down, says why"] <= 0.04 * marched  # small junctions at these coarse cells
