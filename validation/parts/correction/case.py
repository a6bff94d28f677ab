"""Power correction against values worked by hand from the printed formulas, and one published example in two halves.

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
    return [*out, *_example(PropsSI)]


def _example(props) -> list[Check]:
    """J607's printed example: its own formula with the moisture of three published laws, and the printed factor."""
    celsius = (85.0 - 32.0) / 1.8
    got = correction_factor("std", 28.85 * INHG, celsius + 273.15, 0.85).factor
    laws = {
        "IAPWS-95 by CoolProp": props("P", "T", celsius + 273.15, "Q", 0, "Water"),
        "Magnus, coefficients of Sonntag 1990 (from memory)": 611.2 * math.exp(17.62 * celsius / (243.12 + celsius)),
        "Antoine, 1 to 100 C (from memory)": 133.3224 * 10.0 ** (8.07131 - 1730.63 / (233.426 + celsius)),
    }
    root = math.sqrt((85.0 + 459.7) / 519.7)
    out = [absolute(f"std at 28.85 inHg, 85 F, 85 %, moisture by {name}", "SAE J607, formula as printed",
                    29.92 / (28.85 - 0.85 * saturation / INHG) * root, got, 1.5e-4)
           for name, saturation in laws.items()]
    implied = 28.85 - 29.92 * root / 1.1005
    out.append(absolute("std at 28.85 inHg, 85 F, 85 %, factor as printed", "SAE J607, printed example", 1.1005, got,
                        7e-4, note=f"not met to 1e-4: 1.1005 needs {implied:.3f} inHg of vapour; 85 % of it are "
                                   f"{0.85 * min(laws.values()) / INHG:.3f} to "
                                   f"{0.85 * max(laws.values()) / INHG:.3f}"))
    return [*out, *_as_printed(root)]


def _as_printed(root: float) -> list[Check]:
    """The print's own way, as far as it can be guessed, and the example's second half."""
    damp = correction_factor("std", 28.85 * INHG, (85.0 - 32.0) / 1.8 + 273.15, 0.85)
    ratio = math.floor(1e3 * 29.92 * INHG / damp.dry_pressure) / 1e3
    dry = correction_factor("std", 30.10 * INHG, (55.0 - 32.0) / 1.8 + 273.15, 0.35)
    source = "SAE J607, printed example"
    return [absolute("std at 28.85 inHg, 85 F, 85 %, pressure ratio cut to three decimals", source, 1.1005,
                     ratio * root, 1e-4, note="a likely reading of the print, not a known one"),
            absolute("std at 30.10 inHg, 55 F, 35 %, factor as printed", source, 0.994, dry.factor, 5e-4,
                     note="half of the last printed digit")]
