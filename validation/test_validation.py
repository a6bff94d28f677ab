"""The validation cases as tests: one test per case, every miss shown at once."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from validation import harness

PARAMS = [pytest.param(c, id=c.key, marks=[pytest.mark.long] if harness.is_slow(c) else []) for c in harness.cases()]


@pytest.mark.parametrize("case", PARAMS)
def test_case(case):
    """Every check of the case passes."""
    outcome = harness.run(case)
    assert not outcome.error, outcome.error
    missed = [f"{c.name}: got {c.got:.8g} {c.unit}, expected {c.expected:.8g} {c.band} ({c.source})"
              for c in outcome.checks if not c.passed]
    assert not missed, "\n".join(missed)
