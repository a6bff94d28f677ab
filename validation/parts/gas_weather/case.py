"""Saturation pressure and moist air against CoolProp.

References: Wagner & Pruss 2002 (IAPWS-95) for saturation; ASHRAE RP-1485 (Herrmann, Kretzschmar & Gatley 2009)
real-gas moist air, both as evaluated by CoolProp (Bell et al. 2014).
"""

from __future__ import annotations

from validation.harness import Check, absolute, relative

from pullcast import air

STATES = ((101325.0, 293.15, 0.3), (101325.0, 303.15, 0.85), (83500.0, 293.15, 0.3), (97700.0, 308.15, 0.6))
WATER, MOIST = "IAPWS-95 (CoolProp)", "ASHRAE RP-1485 (CoolProp)"


def checks() -> list[Check]:
    """Saturation 5 to 40 C; humidity ratio, density and humidity from wet bulb and dew point at four states."""
    from CoolProp.CoolProp import HAPropsSI, PropsSI

    out = []
    for T in (278.15, 293.15, 303.15, 313.15):
        out.append(relative(f"saturation pressure at {T:g} K", WATER, PropsSI("P", "T", T, "Q", 0, "Water"),
                            air.saturation_pressure(T), 2e-4, "Pa", "auxiliary equation against the full one"))
    for p, T, rh in STATES:
        state = ("P", p, "T", T, "R", rh)
        at = f"{p / 100:g} hPa, {T:g} K, {rh:.0%}"
        ideal = "ideal mixture against real gas (enhancement 0.4 %)"
        out.append(relative(f"humidity ratio at {at}", MOIST, HAPropsSI("W", *state),
                            air.humidity_ratio(p, T, rh), 7e-3, "", ideal))
        density = (1.0 + HAPropsSI("W", *state)) / HAPropsSI("V", *state)
        out.append(relative(f"density at {at}", MOIST, density, air.air_density(p, T, rh), 8e-4, "kg/m3", ideal))
        wet, dew = HAPropsSI("B", *state), HAPropsSI("D", *state)
        out.append(absolute(f"humidity from wet bulb at {at}", MOIST, rh, air.humidity_from_wet_bulb(p, T, wet),
                            0.005, "", "rounded energy balance; a thermometer reads to .01"))
        out.append(absolute(f"humidity from dew point at {at}", MOIST, rh, air.humidity_from_dew_point(T, dew),
                            0.001, "", ideal))
    return out
