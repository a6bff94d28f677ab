"""Power over inlet temperature at one pressure: NACA TR 277 (1928).

The comparative performance of an aviation engine at normal and high inlet air temperatures, NACA TR 277 (Gardiner &
Schey 1928; authors from memory): power falls faster than the inverse square root of the absolute temperature.
"""

from __future__ import annotations

import math

from validation.engines.runs import TEST_SINGLE, run
from validation.harness import Check, at_least, at_most

COLD, HOT = 0.0, 50.0  # deg C


def checks() -> list[Check]:
    """Exponents of brake and indicated power on absolute temperature."""
    speeds = (1600.0, 2400.0)
    cold, hot = (run(TEST_SINGLE, speeds, {"day.temperature": f"{t} C"}) for t in (COLD, HOT))
    span = math.log((HOT + 273.15) / (COLD + 273.15))
    out = []
    for i, rpm in enumerate(speeds):
        brake, indicated = (float(math.log(hot[n].values[i] / cold[n].values[i]) / span) for n in ("power", "imep"))
        out += [at_most(f"exponent of brake power on temperature, {rpm:.0f} rpm", "NACA TR 277", -0.5, brake),
                at_least(f"exponent of indicated power, {rpm:.0f} rpm", "no steeper than density itself", -1.0,
                         indicated)]
    return out
