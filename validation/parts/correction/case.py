"""Power correction against values worked by hand from the printed formulas, and one published example.

SAE J1349 (June 1990 form), SAE J607, ISO 1585 / UN Regulation 85, DIN 70020; saturation pressure by IAPWS-95 as
evaluated by CoolProp (Bell et al. 2014).
"""

from __future__ import annotations

import math

from validation.harness import Check, absolute

from pullcast.pulls.correction import correction_factor

INHG = 3386.389
STATES = ((99000.0, 25.0, 0.0), (101325.0, 15.0, 0.0), (97500.0, 32.0, 0.7), (83500.0, 20.0, 0.3))


def checks() -> list[Check]:
    """Factors at four weathers, the moisture from CoolProp; the example of J607."""
    from CoolProp.CoolProp import PropsSI

    out = []
    for p, celsius, humidity in STATES:
        kelvin = celsius + 273.15
        dry = (p - humidity * PropsSI("P", "T", kelvin, "Q", 0, "Water")) / 100.0
        hand = {
            "j1349": ("SAE J1349 JUN90", 1.18 * 990.0 / dry * math.sqrt((celsius + 273.0) / 298.0) - 0.18),
            "std": ("SAE J607", 1013.25 / dry * math.sqrt((1.8 * celsius + 491.7) / 519.7)),
            "iso1585": ("ISO 1585, UN R85 (from memory)", (990.0 / dry) ** 1.2 * ((celsius + 273.0) / 298.0) ** 0.6),
            "din70020": ("DIN 70020 (from memory)", 1013.0 / (p / 100.0) * math.sqrt((celsius + 273.0) / 293.0)),
        }
        at = f"{p / 100:g} hPa, {celsius:g} C, {humidity:.0%}"
        for basis, (source, expected) in hand.items():
            got = correction_factor(basis, p, kelvin, humidity)
            out.append(absolute(f"{basis} at {at}", source, expected, got.factor, 1e-4,
                                note="in range" if got.in_range else f"flagged: {got.note}"))
    example = correction_factor("std", 28.85 * INHG, (85.0 - 32.0) / 1.8 + 273.15, 0.85).factor
    out.append(absolute("std at 28.85 inHg, 85 F, 85 %", "SAE J607, printed example", 1.1005, example, 1e-3,
                        note="the example's vapour pressure is .5 mbar below IAPWS"))
    return out
