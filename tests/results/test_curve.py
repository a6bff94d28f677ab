import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.errors import InputError, NotConverged


def test_peaks_are_the_highest_points(sample_curve):
    curve = sample_curve()
    torque, power = curve.dataset["torque"].values, curve.dataset["power"].values
    assert curve.peak_torque == (torque.max(), curve.speeds[torque.argmax()])
    assert curve.peak_power == (power.max(), curve.speeds[power.argmax()])


def test_a_failed_point_is_never_the_peak(sample_curve):
    whole = sample_curve()
    k = int(np.argmax(whole.dataset["torque"].values))
    curve = sample_curve(failed=(k,))
    curve.dataset["torque"].values[k] = 1e6  # a number left by a point that did not converge
    assert curve.peak_torque.rpm != whole.peak_torque.rpm
    assert curve.failures == ((whole.peak_torque.rpm, "broke down at 131.5 deg crank, in primary 3"),)
    assert not curve.converged


def test_a_point_marched_at_smaller_steps_is_told(sample_curve):
    whole = sample_curve()
    assert whole.remedied == ()
    status = whole.dataset["status"].values.copy()
    status[1] = "converged; marched at half the usual time step, at which it broke down (why)"
    told = type(whole)(whole.dataset.assign(status=("speed", status)))
    assert told.remedied == ((float(whole.speeds[1]), status[1]),)


def test_nothing_converged(sample_curve):
    curve = sample_curve(failed=(0, 1, 2, 3, 4))
    assert curve.peak_power is None
    assert repr(curve) == "Kestrel test four (4.00 L, 4 cylinders): no point converged."


def test_sentence_in_both_units(sample_curve):
    curve = sample_curve()
    n_m, rpm = curve.peak_torque
    assert f"{n_m:.0f} N m at {rpm:.0f} rpm" in repr(curve)
    assert "observed at 98.90 kPa, 22 °C, 45 % humidity." in repr(curve)
    assert f"{n_m / 1.3558179483:.0f} lb-ft" in curve.sentence("us")
    assert "29.21 inHg, 72 °F" in curve.sentence("us")


def test_html_escapes_names(sample_curve):
    text = sample_curve(engine="<b>V8</b>")._repr_html_()
    assert "&lt;b&gt;V8" in text
    assert "<b>" not in text
    assert "torque<br>N m" in text


@given(low=st.floats(2000, 5900), width=st.floats(1, 3000))
def test_band_average_lies_between_extremes(low, width):
    import runpy
    from pathlib import Path

    make = runpy.run_path(str(Path(__file__).parent / "sample.py"))["sample_curve"]
    curve = make()
    high = min(low + width, 6000.0)
    value = curve.band_average("torque", low, high)
    inside = np.interp(np.linspace(low, high, 400), curve.speeds, curve.dataset["torque"].values)
    assert inside.min() - 1e-6 <= value <= inside.max() + 1e-6


def test_band_average_of_a_straight_line_is_its_middle(sample_curve):
    curve = sample_curve()
    assert curve.band_average("mean_piston_speed", 2300, 5100) == pytest.approx(2 * 0.092 * 3700 / 60, rel=1e-12)
    assert curve.band_average("residual_fraction", 2000, 6000) == pytest.approx(0.05 * 1.015)


def test_band_average_refuses(sample_curve):
    curve = sample_curve(failed=(2,))
    with pytest.raises(NotConverged, match="torque has no band average from 3500 to 5000 rpm: not converged at 4000"):
        curve.band_average("torque", 3500, 5000)
    assert curve.band_average("torque", 5000, 6000) > 0
    with pytest.raises(InputError, match="must rise and lie within the computed 2000 to 6000 rpm"):
        curve.band_average("torque", 1000, 5000)
    with pytest.raises(InputError, match="must rise"):
        curve.band_average("torque", 5000, 5000)
    with pytest.raises(InputError, match="status is not a value per speed"):
        curve.band_average("status", 2000, 3000)


def test_correction_touches_brake_numbers_only(sample_curve):
    curve = sample_curve()
    new = curve.corrected(1.02, "std", "formula")
    for name in curve.dataset:
        same = np.array_equal(curve.dataset[name].values, new.dataset[name].values)
        assert same == (name not in ("torque", "power", "bmep")), name
    assert new.peak_power.value == pytest.approx(1.02 * curve.peak_power.value)
    assert new.dataset["torque"].attrs["units"] == "N m"
    assert "corrected to STD (factor 1.0200)" in repr(new)
    with pytest.raises(InputError, match="already corrected to std"):
        new.corrected(1.01, "j1349")
    with pytest.raises(InputError, match="above zero, not nan"):
        curve.corrected(float("nan"), "std")
