"""A family of geometries from two peaks: a planted one lies in it, and single causes are judged."""

from pathlib import Path

import numpy as np
import pytest

from pullcast.answers.geometry_family import Range, _engine, geometry_family
from pullcast.errors import InputError

CARD = Path(__file__).parents[2] / "configs" / "engines" / "lab_single.toml"
SPEEDS = [1600, 2200, 2800, 3400]
RANGES = (Range("day.temperature", 5, 50, "degC", 16.0), Range("block.compression_ratio", 6.4, 7.6, "", 7.6))


def peaks(swaps):
    from pullcast.answers.curves import predict

    torque = predict(_engine(CARD, swaps), speeds=SPEEDS, fidelity="lumped", workers=1).dataset["torque"].values
    return (torque * SPEEDS).max(), torque.max()


def test_a_planted_geometry_is_explained():
    truth = peaks({"day.temperature": "38 degC", "block.compression_ratio": 7.0})
    base = peaks({"day.temperature": "16 degC", "block.compression_ratio": 7.6})
    power, torque = (t / b for t, b in zip(truth, base, strict=True))
    found = geometry_family(CARD, RANGES, power, torque, sd=0.006, speeds=SPEEDS, samples=32, fidelity="lumped",
                            workers=1)
    assert found.explained == pytest.approx((power, torque), abs=0.01)
    assert found.weights.sum() == pytest.approx(1.0)
    low, _, high = found.spread(0, 0.02, 0.98)
    assert low < 38.0 < high
    assert next(a for a in found.alone if a.cause == "a dead cylinder").excluded
    assert np.isfinite([a.off for a in found.alone]).all()
    assert "explained by a family" in repr(found)


def test_bad_input_is_told():
    with pytest.raises(InputError, match=r"peak ratios 88 and 0\.9 with 32 samples"):
        geometry_family(CARD, RANGES, 88.0, 0.9, speeds=SPEEDS, samples=32)
    with pytest.raises(InputError, match="samples a power of two"):
        geometry_family(CARD, RANGES, 0.9, 0.9, speeds=SPEEDS, samples=33)
