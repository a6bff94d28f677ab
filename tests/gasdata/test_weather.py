import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.errors import InputError
from pullcast.gasdata import weather
from pullcast.gasdata.tables import gas_table

pressures, temperatures, humidities = st.floats(7e4, 1.06e5), st.floats(260.0, 315.0), st.floats(0.0, 1.0)


def test_saturation_of_water_at_20_and_30_celsius():
    """IAPWS SR1-86(1992), to the digits of the printed values."""
    assert weather.saturation_pressure(293.15) == pytest.approx(2339.19, abs=0.005)
    assert weather.saturation_pressure(303.15) == pytest.approx(4246.92, abs=0.005)
    assert weather.saturation_pressure(373.12) == pytest.approx(101325.0, rel=5e-4)


def test_dry_air_is_that_of_the_tables():
    assert float(gas_table("petrol", 1.0).R[0]) == pytest.approx(weather.R_DRY, rel=1e-6)
    water = 8314.462618 / 18.01528
    assert water == pytest.approx(weather.R_WATER, rel=1e-5)


@given(pressures, temperatures, humidities)
def test_pressures_add_up(p, T, rh):
    dry, vapour = weather.dry_pressure(p, T, rh), weather.vapour_pressure(T, rh)
    assert dry + vapour == pytest.approx(p, rel=1e-12)
    w = weather.humidity_ratio(p, T, rh)
    assert w == pytest.approx(weather.MOLAR_RATIO * vapour / dry, rel=1e-12)
    density = weather.air_density(p, T, rh)
    assert density == pytest.approx(dry / (weather.R_DRY * T) * (1 + w), rel=1e-12)
    assert density <= weather.air_density(p, T) * (1 + 1e-12)


@given(st.floats(8e4, 1.05e5), st.floats(276.0, 313.0), st.floats(0.05, 1.0))
def test_dew_point_gives_the_humidity_back(p, T, rh):
    low, high = 230.0, T
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if weather.humidity_from_dew_point(T, middle) < rh else (low, middle)
    assert weather.humidity_from_dew_point(T, low) == pytest.approx(rh, abs=1e-9)
    assert weather.vapour_pressure(T, rh) == pytest.approx(weather.saturation_pressure(low), rel=1e-8)


def test_wet_bulb_at_saturation_is_full_humidity():
    assert weather.humidity_from_wet_bulb(101325.0, 295.0, 295.0) == pytest.approx(1.0, abs=1e-12)


@given(st.floats(280.0, 310.0), st.floats(0.5, 6.0))
def test_a_lower_wet_bulb_means_drier_air(T, gap):
    near = weather.humidity_from_wet_bulb(1e5, T, T - gap)
    assert weather.humidity_from_wet_bulb(1e5, T, T - gap / 2) > near


@pytest.mark.parametrize(("call", "text"), [
    (lambda: weather.saturation_pressure(20.0), "air temperature 20 K is outside 230 to 373.15: check the value"),
    (lambda: weather.vapour_pressure(293.15, 45.0), r"relative humidity 45 \(a fraction\) is outside 0 to 1"),
    (lambda: weather.dry_pressure(1013.25, 293.15, 0.5), "station pressure 1013.25 Pa is outside 30000 to 120000"),
    (lambda: weather.humidity_from_dew_point(290.0, 295.0), "dew point 295 K is above the air temperature 290 K"),
    (lambda: weather.humidity_from_wet_bulb(1e5, 290.0, 295.0), "wet bulb 295 K is above the air temperature 290 K"),
    (lambda: weather.humidity_from_wet_bulb(1e5, 310.0, 275.0), "wet bulb 275 K is too low for air at 310 K"),
    (lambda: weather.air_density(math.nan, 293.15), "station pressure nan Pa is outside"),
])
def test_slips_are_refused_with_what_to_do(call, text):
    with pytest.raises(InputError, match=text):
        call()
