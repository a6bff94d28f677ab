"""A known lobe, described by its cam card only, must come back.

The lobes: polydyne 2-4-6-8-10 (Norton, ch. 8; from memory: (1 - x^2)^5), its blunter sister (1 - x^2)^3, and cosine
powers. None belongs to the family that is fitted.
"""

from __future__ import annotations

import numpy as np
from validation.harness import at_most

from pullcast.card.engine import Duration, Lobe
from pullcast.network.lobe import INCH, fit_lobe

SOURCE = "exact lobe functions (Norton, Cam Design, ch. 8)"
PEAK = 0.350 * INCH
LOBES = {  # lift over peak at |angle|/half, and a half-width that gives an ordinary duration
    "(1-x2)^3": (lambda x: (1 - x * x) ** 3, 165.0),
    "polydyne (1-x2)^5": (lambda x: (1 - x * x) ** 5, 200.0),
    "cos^4": (lambda x: np.cos(np.pi / 2 * x) ** 4, 180.0),
}


def duration(function, half: float, lift: float) -> float:
    """Duration (deg) at a tappet lift of an exact lobe."""
    x = np.linspace(0.0, 1.0, 200001)
    return 2 * half * float(np.interp(-lift / PEAK, -function(x), x))


def checks():
    out = []
    x = np.linspace(-1.0, 1.0, 4001)
    for name, (function, half) in LOBES.items():
        exact = function(np.abs(x))
        for checked in ((0.006, 0.050), (0.006, 0.050, 0.200)):
            rows = tuple(Duration(c * INCH, duration(function, half, c * INCH)) for c in checked)
            fitted = fit_lobe(Lobe(PEAK, rows, 110.0)).lift(x * half) / PEAK
            n = len(checked)
            out.append(at_most(f"{name}, lift off by at most, {n} check lifts", SOURCE, (0.08, 0.015)[n - 2],
                               float(np.abs(fitted - exact).max()), "of peak lift"))
            out.append(at_most(f"{name}, area under the curve off, {n} check lifts", SOURCE, (0.06, 0.01)[n - 2],
                               abs(float(fitted.sum() / exact.sum()) - 1.0), ""))
            if n == 2:
                high = 0.200 * INCH
                back = duration(lambda u, f=fitted: np.interp(u, x[2000:], f[2000:]), half, high)
                out.append(at_most(f"{name}, 0.200 in duration (not given) off", SOURCE, 12.0,
                                   abs(back - duration(function, half, high)), "deg"))
            at = INCH * 0.050
            again = duration(lambda u, f=fitted: np.interp(u, x[2000:], f[2000:]), half, at)
            out.append(at_most(f"{name}, 0.050 in duration off, {n} check lifts", "the card", 0.2,
                               abs(again - rows[1].duration_deg), "deg"))
    return out
