"""Moist air: saturation pressure, humidity and station pressure from weather readings, density. Plain floats, SI."""

from __future__ import annotations

import math

from pullcast.errors import InputError

R_DRY = 287.045  # J/(kg K), dry air of the gas tables (molar mass 28.9655 g/mol)
R_WATER = 461.523  # J/(kg K)
MOLAR_RATIO = R_DRY / R_WATER

_CRITICAL_T, _CRITICAL_P = 647.096, 22.064e6
_SATURATION = ((-7.85951783, 1.0), (1.84408259, 1.5), (-11.7866497, 3.0), (22.6807411, 3.5), (-15.9618719, 4.0),
               (1.80122502, 7.5))


def saturation_pressure(temperature: float) -> float:
    """Saturation pressure of water, Pa, at ``temperature`` (K), 230 to 373.15 K.

    IAPWS SR1-86 (1992), eq. 1 (Wagner & Pruss 1993). Below 273.16 K it is continued over supercooled water, which is
    how relative humidity is counted in weather reports (WMO Guide No. 8).

    >>> round(saturation_pressure(293.15), 2), round(saturation_pressure(303.15), 2)
    (2339.19, 4246.92)
    """
    _within("air temperature", temperature, 230.0, 373.15, "K")
    tau = 1.0 - temperature / _CRITICAL_T
    total = sum(a * tau**power for a, power in _SATURATION)
    return _CRITICAL_P * math.exp(_CRITICAL_T / temperature * total)


def vapour_pressure(temperature: float, relative_humidity: float) -> float:
    """Partial pressure of water, Pa, from temperature (K) and relative humidity (0 to 1)."""
    _within("relative humidity", relative_humidity, 0.0, 1.0, "(a fraction)")
    return relative_humidity * saturation_pressure(temperature)


def humidity_ratio(pressure: float, temperature: float, relative_humidity: float) -> float:
    """Water per dry air, kg/kg, from station pressure (Pa), temperature (K), relative humidity (0 to 1).

    >>> round(humidity_ratio(101325.0, 303.15, 0.5), 5)
    0.01331
    """
    vapour = vapour_pressure(temperature, relative_humidity)
    return MOLAR_RATIO * vapour / _dry(pressure, vapour)


def dry_pressure(pressure: float, temperature: float, relative_humidity: float) -> float:
    """Station pressure less the partial pressure of water, Pa."""
    return _dry(pressure, vapour_pressure(temperature, relative_humidity))


def air_density(pressure: float, temperature: float, relative_humidity: float = 0.0) -> float:
    """Density of moist air as a mixture of ideal gases, kg/m3.

    >>> round(air_density(101325.0, 288.15), 4)
    1.225
    """
    vapour = vapour_pressure(temperature, relative_humidity)
    return (_dry(pressure, vapour) / R_DRY + vapour / R_WATER) / temperature


def humidity_from_dew_point(temperature: float, dew_point: float) -> float:
    """Relative humidity (0 to 1) from air temperature and dew point (K)."""
    if dew_point > temperature:
        msg = f"dew point {dew_point:g} K is above the air temperature {temperature:g} K: check which is which."
        raise InputError(msg)
    return saturation_pressure(dew_point) / saturation_pressure(temperature)


def humidity_from_wet_bulb(pressure: float, temperature: float, wet_bulb: float) -> float:
    """Relative humidity (0 to 1) from station pressure (Pa), air and wet-bulb temperature (K), above freezing.

    Energy balance of adiabatic saturation: ASHRAE Handbook Fundamentals 2009, ch. 1, eq. 35 (from memory).
    """
    _within("wet-bulb temperature", wet_bulb, 273.15, 373.15, "K")
    if wet_bulb > temperature:
        msg = f"wet bulb {wet_bulb:g} K is above the air temperature {temperature:g} K: check which is which."
        raise InputError(msg)
    t, tw = temperature - 273.15, wet_bulb - 273.15
    full = humidity_ratio(pressure, wet_bulb, 1.0)
    w = ((2501.0 - 2.326 * tw) * full - 1.006 * (t - tw)) / (2501.0 + 1.86 * t - 4.186 * tw)
    vapour = pressure * w / (MOLAR_RATIO + w)
    if vapour < 0.0:
        msg = (f"wet bulb {wet_bulb:g} K is too low for air at {temperature:g} K, {pressure:g} Pa: it would need "
               "less than no moisture. Check the two thermometers.")
        raise InputError(msg)
    return vapour / saturation_pressure(temperature)


def station_pressure(sea_level_pressure: float, altitude: float) -> float:
    """Pressure at ``altitude`` (m) from a barometer reading reduced to sea level (Pa).

    ICAO standard atmosphere (Doc 7488, troposphere): p = p0 (1 - 0.0065 h / 288.15)^5.25588. Altitude -400 to 5000 m.

    >>> round(station_pressure(101325.0, 1000.0))
    89875
    """
    _within("altitude", altitude, -400.0, 5000.0, "m")
    _within("sea-level pressure", sea_level_pressure, 9.0e4, 1.1e5, "Pa")
    return sea_level_pressure * (1.0 - 0.0065 * altitude / 288.15) ** 5.25588


def _dry(pressure: float, vapour: float) -> float:
    _within("station pressure", pressure, 3.0e4, 1.2e5, "Pa")
    return pressure - vapour


def _within(name: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        msg = f"{name} {value:g} {unit} is outside {low:g} to {high:g}: check the value and its unit."
        raise InputError(msg)
