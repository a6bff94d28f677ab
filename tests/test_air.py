import doctest
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast import air
from pullcast.errors import InputError
from pullcast.gasdata.tables import gas_table

pressures, temperatures, humidities = st.floats(7e4, 1.06e5), st.floats(260.0, 315.0), st.floats(0.0, 1.0)


def test_saturation_of_water_at_20_and_30_celsius():
    """IAPWS SR1-86(1992), to the digits of the printed values."""
    assert air.saturation_pressure(293.15) == pytest.approx(2339.19, abs=0.005)
    assert air.saturation_pressure(303.15) == pytest.approx(4246.92, abs=0.005)
    assert air.saturation_pressure(373.12) == pytest.approx(101325.0, rel=5e-4)


def test_dry_air_is_that_of_the_tables():
    assert float(gas_table("petrol", 1.0).R[0]) == pytest.approx(air.R_DRY, rel=1e-6)
    water = 8314.462618 / 18.01528
    assert water == pytest.approx(air.R_WATER, rel=1e-5)


@given(pressures, temperatures, humidities)
def test_pressures_add_up(p, T, rh):
    dry, vapour = air.dry_pressure(p, T, rh), air.vapour_pressure(T, rh)
    assert dry + vapour == pytest.approx(p, rel=1e-12)
    w = air.humidity_ratio(p, T, rh)
    assert w == pytest.approx(air.MOLAR_RATIO * vapour / dry, rel=1e-12)
    density = air.air_density(p, T, rh)
    assert density == pytest.approx(dry / (air.R_DRY * T) * (1 + w), rel=1e-12)
    assert density <= air.air_density(p, T) * (1 + 1e-12)


@given(st.floats(8e4, 1.05e5), st.floats(276.0, 313.0), st.floats(0.05, 1.0))
def test_dew_point_gives_the_humidity_back(p, T, rh):
    low, high = 230.0, T
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if air.humidity_from_dew_point(T, middle) < rh else (low, middle)
    assert air.humidity_from_dew_point(T, low) == pytest.approx(rh, abs=1e-9)
    assert air.vapour_pressure(T, rh) == pytest.approx(air.saturation_pressure(low), rel=1e-8)


def test_wet_bulb_at_saturation_is_full_humidity():
    assert air.humidity_from_wet_bulb(101325.0, 295.0, 295.0) == pytest.approx(1.0, abs=1e-12)


@given(st.floats(280.0, 310.0), st.floats(0.5, 6.0))
def test_a_lower_wet_bulb_means_drier_air(T, gap):
    near = air.humidity_from_wet_bulb(1e5, T, T - gap)
    assert air.humidity_from_wet_bulb(1e5, T, T - gap / 2) > near


@pytest.mark.parametrize(("call", "text"), [
    (lambda: air.saturation_pressure(20.0), "air temperature 20 K is outside 230 to 373.15: check the value"),
    (lambda: air.vapour_pressure(293.15, 45.0), r"relative humidity 45 \(a fraction\) is outside 0 to 1"),
    (lambda: air.dry_pressure(1013.25, 293.15, 0.5), "station pressure 1013.25 Pa is outside 30000 to 120000"),
    (lambda: air.humidity_from_dew_point(290.0, 295.0), "dew point 295 K is above the air temperature 290 K"),
    (lambda: air.humidity_from_wet_bulb(1e5, 290.0, 295.0), "wet bulb 295 K is above the air temperature 290 K"),
    (lambda: air.humidity_from_wet_bulb(1e5, 310.0, 275.0), "wet bulb 275 K is too low for air at 310 K"),
    (lambda: air.air_density(math.nan, 293.15), "station pressure nan Pa is outside"),
])
def test_slips_are_refused_with_what_to_do(call, text):
    with pytest.raises(InputError, match=text):
        call()


def test_examples_in_docstrings():
    result = doctest.testmod(air)
    assert result.attempted > 0
    assert result.failed == 0
