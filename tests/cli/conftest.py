"""The invented sample curve as a fixture: ``sample_curve(speeds, failed, traces)`` makes one."""

import runpy
from pathlib import Path

import pytest

SAMPLE = runpy.run_path(str(Path(__file__).parents[1] / "results" / "sample.py"))


@pytest.fixture
def sample_curve():
    return SAMPLE["sample_curve"]


@pytest.fixture
def sample():
    return SAMPLE
