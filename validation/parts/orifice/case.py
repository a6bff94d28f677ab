"""Flow function of an orifice: closed form, critical ratios, choked restrictor.

Heywood 1988, app. C (relations); critical values recomputed from them by maximising the flow function numerically.
"""

from __future__ import annotations

import math

from scipy.integrate import quad
from scipy.optimize import minimize_scalar
from validation.harness import absolute, relative

from pullcast.kernels import orifice
from pullcast.network.port_flow import psi, through_valve

SOURCE = "energy equation along an isentrope, integrated"


def flux(ratio: float, gamma: float) -> float:
    """Flow function by integrating v dp along the isentrope from 1 to ``ratio``."""
    work = quad(lambda r: r ** (-1 / gamma), ratio, 1.0)[0]
    return ratio ** (1 / gamma) * math.sqrt(2 * work)


def checks():
    out = []
    for gamma in (1.40, 1.35, 1.30):
        best = minimize_scalar(lambda r, g=gamma: -flux(r, g), bounds=(0.3, 0.8), method="bounded",
                               options={"xatol": 1e-10})
        out.append(absolute(f"critical ratio, gamma {gamma}", SOURCE, best.x, orifice.critical_ratio(gamma), 1e-4))
        out.append(relative(f"choked flow function, gamma {gamma}", SOURCE, -best.fun, orifice.psi(0.0, gamma), 1e-8))
        for ratio in (0.999, 0.9, 0.7):
            out.append(relative(f"flow function at {ratio:g}, gamma {gamma}", SOURCE, flux(ratio, gamma),
                                float(psi(ratio, gamma)), 1e-8))
    area = math.pi / 4 * 0.020**2
    choked = -minimize_scalar(lambda r: -flux(r, 1.4), bounds=(0.3, 0.8), method="bounded").fun
    expected = area * choked * 101325.0 / math.sqrt(287.05 * 298.15)
    got = float(through_valve(area, 101325.0, 298.15, 3e4))
    out.append(relative("20 mm restrictor, choked", SOURCE, expected, got, 1e-6, "kg/s"))
    return out
