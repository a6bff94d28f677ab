"""Correction factors against hand-computed and published values; wrong versions in circulation must not come out."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.air import (
    humidity_from_dew_point,
    humidity_from_wet_bulb,
    saturation_pressure,
    station_pressure,
)
from pullcast.errors import InputError
from pullcast.pulls.correction import BASES, correction_factor

INHG = 3386.389
STATES = {"reference": (99000.0, 298.15, 0.0), "cool": (101325.0, 288.15, 0.0), "high": (83500.0, 293.15, 0.3)}
VALUES = [("j1349", "reference", 1.0), ("std", "reference", 1.04009), ("iso1585", "reference", 1.0),
          ("j1349", "cool", 0.95341), ("std", "cool", 0.99904), ("iso1585", "cool", 0.95281),
          ("j1349", "high", 1.21901)]


def kelvin(fahrenheit):
    return (fahrenheit - 32.0) / 1.8 + 273.15


@pytest.mark.parametrize(("basis", "state", "expected"), VALUES)
def test_hand_computed(basis, state, expected):
    assert correction_factor(basis, *STATES[state]).factor == pytest.approx(expected, abs=1e-4)


def test_din_is_not_dried():
    dry, wet = (correction_factor("din70020", 98000.0, 303.15, rh) for rh in (0.0, 0.9))
    assert dry.factor == wet.factor == pytest.approx(1013.0 / 980.0 * math.sqrt(303.0 / 293.0), abs=1e-9)
    assert wet.dry_pressure < dry.dry_pressure


def test_published_example_of_j607():
    """85 F, 85 % RH, 28.85 inHg: 1.1005 in print, which needs a vapour pressure .5 hPa below IAPWS (why is not
    known); hence 7e-4, not 1e-4."""
    got = correction_factor("std", 28.85 * INHG, kelvin(85.0), 0.85)
    assert got.factor == pytest.approx(1.1005, abs=7e-4)


@pytest.mark.parametrize("basis", list(BASES))
@pytest.mark.parametrize(("pressure", "temperature", "humidity"), [
    (29.92 * INHG, kelvin(77.0), 0.0),  # "29.92 inHg at 77 F"
    (101400.0, 289.15, 0.75),  # "101.4 kPa, 75 % RH, 16 C"
])
def test_wrong_references_never_give_one(basis, pressure, temperature, humidity):
    assert abs(correction_factor(basis, pressure, temperature, humidity).factor - 1.0) > 0.005


def test_990_mbar_is_not_2992_inhg():
    warm = kelvin(77.0)
    assert correction_factor("j1349", 99000.0, warm, 0.0).factor == pytest.approx(1.0, abs=1e-4)
    assert correction_factor("j1349", 29.92 * INHG, warm, 0.0).factor < 0.98
    assert correction_factor("std", 99000.0, kelvin(60.0), 0.0).factor > 1.02


def test_no_constant_between_bases():
    ratios = [correction_factor("std", *w).factor / correction_factor("j1349", *w).factor
              for w in ((101325.0, 308.15, 0.9), (101325.0, 278.15, 0.0))]
    assert ratios[0] < 1.036
    assert ratios[1] > 1.048


@pytest.mark.parametrize("basis", list(BASES))
def test_out_of_range_is_flagged(basis):
    far = correction_factor(basis, *STATES["high"])
    assert not far.in_range
    assert "outside 0.93 to 1.07" in far.note
    assert "OUT OF RANGE" in repr(far)
    assert correction_factor(basis, 98500.0, 296.15, 0.4).in_range


def test_unknown_basis_names_the_nearest():
    with pytest.raises(InputError, match=r"'j1394' is not known\. Did you mean 'j1349'\?.*only be compared within"):
        correction_factor("j1394", 99000.0, 298.15, 0.0)


@pytest.mark.parametrize(("state", "text"), [
    ((990.0, 298.15, 0.3), "station pressure 990 Pa is outside"),
    ((99000.0, 25.0, 0.3), "air temperature 25 K is outside"),
    ((99000.0, 298.15, 45.0), "relative humidity 45 .* is outside 0 to 1"),
    ((math.nan, 298.15, 0.3), "station pressure nan Pa"),
])
def test_unit_slips_are_refused(state, text):
    with pytest.raises(InputError, match=text):
        correction_factor("j1349", *state)


@given(st.sampled_from(sorted(BASES)), st.floats(8e4, 1.05e5), st.floats(265.0, 313.0), st.floats(0.0, 1.0))
def test_factor_falls_with_pressure_and_rises_with_heat(basis, pressure, temperature, humidity):
    here = correction_factor(basis, pressure, temperature, humidity).factor
    assert correction_factor(basis, pressure + 1000.0, temperature, humidity).factor < here
    assert correction_factor(basis, pressure, temperature + 5.0, humidity).factor > here


def test_humidity_three_ways_agree():
    dew = 289.15
    ratio = saturation_pressure(dew) / saturation_pressure(303.15)
    assert humidity_from_dew_point(303.15, dew) == pytest.approx(ratio)
    assert humidity_from_wet_bulb(101325.0, 303.15, 303.15) == pytest.approx(1.0, abs=1e-3)
    assert humidity_from_wet_bulb(101325.0, 303.15, 293.15) == pytest.approx(0.397, abs=0.005)
    with pytest.raises(InputError, match="which is which"):
        humidity_from_dew_point(293.15, 298.15)
    with pytest.raises(InputError, match="less than no moisture"):
        humidity_from_wet_bulb(101325.0, 313.15, 278.15)


def test_station_pressure_at_300_m_is_low_by_a_few_percent():
    assert station_pressure(101325.0, 300.0) / 101325.0 == pytest.approx(0.965, abs=0.001)
    with pytest.raises(InputError, match="sea-level pressure 1013"):
        station_pressure(1013.0, 300.0)
