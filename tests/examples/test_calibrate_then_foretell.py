"""The example runs: the baseline is fitted and not scored, the other part is foretold within 5 %.

The loose bound is that of an invented session the model had no part in; on pulls the model made itself 1.5 % are kept
(``test_calibration``).
"""

import runpy
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).parents[2] / "examples" / "calibrate_then_foretell.py"


@pytest.mark.slow
def test_example():
    names = runpy.run_path(str(EXAMPLE))
    assert names["baseline"].refused == "the forecast was fitted to 8 of these 8 pulls"
    assert names["other"].refused == ""
    assert abs(names["other"].percent.error) < 5.0
    assert abs(names["baseline"].percent.error) < 5.0
    calibration = names["calibration"]
    assert all(f.narrowed <= 1.0 + 1e-9 for f in calibration.found)
    assert any("ranges are widened" in n for n in calibration.notes) == (calibration.chance < 0.01)
    assert calibration.rms(calibration.after) < calibration.rms(calibration.before)
