"""Engine friction: a published correlation's values, and a published closed-throttle torque as an upper bound.

Barnes-Moss 1975 as Heywood 1988, eq. 13.6 (from memory). Closed-throttle torque of a 2.0 L four: test data published
by the U.S. Environmental Protection Agency (read in a third-party copy of public-domain data).
"""

from __future__ import annotations

import math

from validation.harness import Check, relative

from pullcast.card.engine import Block
from pullcast.network.friction import fmep

HEYWOOD = "Heywood 1988, eq. 13.6 (from memory)"
EPA = "EPA-published closed-throttle torque, 2.0 L four, 83.5 x 91.2 mm"
BLOCK = Block(4, 0.0835, 0.0912, 0.145, 13.0, (1, 3, 4, 2), (180.0,) * 4, ((1, 2, 3, 4),))
PRINTED = ((2000, 1.47), (4000, 2.37), (6000, 3.67))
MOTORED = ((1400, 20.65), (4448, 34.96), (6500, 42.71))  # rpm, N m
CLOSED_INTAKE, CLOSED_PEAK = 35e3, 8e5  # Pa: ordinary values with the throttle shut (common practice, no source)


def checks():
    out = [relative(f"Barnes-Moss at {n} rpm", HEYWOOD, bar, fmep("barnes_moss", block=BLOCK, rpm=n, p_max=1e6,
                                                                  p_intake=1e5) / 1e5, 0.005, "bar")
           for n, bar in PRINTED]
    for model in ("chen_flynn", "patton"):
        for n, torque in MOTORED:
            bound = 4 * math.pi * torque / BLOCK.displacement
            got = fmep(model, block=BLOCK, rpm=n, p_max=CLOSED_PEAK, p_intake=CLOSED_INTAKE)
            out.append(Check(f"{model} at {n} rpm below motored loss", EPA, bound / 1e5, got / 1e5, 0.0, "bar",
                             "the bound holds pumping too", "max"))
            out.append(Check(f"{model} at {n} rpm above 0.4 of it", EPA, 0.4 * bound / 1e5, got / 1e5, 0.0, "bar",
                             "pumping at closed throttle is some 0.6 to 0.7 bar", "min"))
    return out
