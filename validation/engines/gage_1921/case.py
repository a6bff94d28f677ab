"""Power and friction over air density: Gage 1920 and 1921, NACA TR 46 and TR 108.

V. R. Gage, A study of airplane engine tests, NACA TR 46 (1920), resume: indicated power falls in direct proportion to
air density; against barometric pressure at one temperature its slope on logarithmic paper is unity.
V. R. Gage, Some factors of airplane engine performance, NACA TR 108 (1921), resume: friction torque grows about as a
linear function of speed at one density, and of density at one speed.
"""

from __future__ import annotations

import numpy as np
from validation.engines.runs import TEST_SINGLE, run
from validation.harness import Check, absolute, at_least, at_most

PRESSURES = (50.0, 60.0, 70.0, 80.0, 90.0, 100.0)  # kPa
SPEEDS = (1000.0, 1500.0, 2000.0, 2500.0)


def checks() -> list[Check]:
    """Exponent of IMEP on pressure; straightness of friction with pumping over density and over speed."""
    runs = [run(TEST_SINGLE, SPEEDS, {"day.station_pressure": f"{p} kPa"}) for p in PRESSURES]
    imep = np.array([d["gross_imep"].values for d in runs])
    friction = np.array([(d["fmep"] - d["pmep"]).values for d in runs])  # as motored: rubbing and pumping
    p, rpm = np.array(PRESSURES), np.array(SPEEDS)
    out = []
    for i, speed in enumerate(SPEEDS):
        slope = float(np.polynomial.Polynomial.fit(np.log(p), np.log(imep[:, i]), 1).convert().coef[1])
        out.append(absolute(f"exponent of indicated power on pressure, {speed:.0f} rpm", "NACA TR 46, resume", 1.0,
                            slope, 0.03))
        out += _straight(f"friction over density, {speed:.0f} rpm", p, friction[:, i], 0.03)
    return out + _straight("friction over speed, 100 kPa", rpm, friction[-1], 0.06)


def _straight(name: str, x: np.ndarray, y: np.ndarray, limit: float) -> list[Check]:
    """Rising, and within ``limit`` of a straight line (share of the mean)."""
    fit = np.polynomial.Polynomial.fit(x, y, 1)
    off = float(np.abs(y - fit(x)).max() / y.mean())
    return [at_least(f"{name}: rises", "NACA TR 108, resume", 0.0, float(fit.convert().coef[1])),
            at_most(f"{name}: off a straight line", "NACA TR 108, resume", 100 * limit, 100 * off, "%")]
