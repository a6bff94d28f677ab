"""Flow-bench arithmetic and the inversion of a flow sheet through a port that loses nothing.

Isentropic flow of real air as evaluated by CoolProp (Bell et al. 2014); rules of the trade as named.
"""

from __future__ import annotations

import math

import numpy as np
from validation.harness import relative

from pullcast.card.engine import FlowSheet, Segment, ValveSide
from pullcast.network import flow_sheet as fs
from pullcast.network.port_flow import through_valve

CFM, INCH = 0.3048**3 / 60, 0.0254
DROP, T, P = 28 * 249.08891, (60 + 459.67) / 1.8, 101325.0
TRADE = "incompressible, sqrt(2 dp/rho) (the trade's rule)"
AIR = "isentropic nozzle, real air, CoolProp"


def real_air_flux(p: float, T0: float, ratio: float) -> float:
    """Mass flux (kg/(m2 s)) of real air expanding isentropically from p, T0 to ratio p."""
    from CoolProp.CoolProp import PropsSI

    s, h0 = (PropsSI(k, "P", p, "T", T0, "Air") for k in ("S", "H"))
    best = 0.0
    for r in (ratio,) if ratio > 0.54 else np.linspace(0.5, 0.56, 301):
        h, rho = (PropsSI(k, "P", r * p, "S", s, "Air") for k in ("H", "D"))
        best = max(best, rho * math.sqrt(2 * max(h0 - h, 0.0)))
    return best


def wide(flows: tuple[float, ...], lifts: tuple[float, ...]) -> ValveSide:
    """Valves on a port so wide and smooth that it loses nothing."""
    sheet = FlowSheet(lifts, flows, DROP, T, P)
    return ValveSide(1, 0.05, 0.045, 0.008, 45.0, (Segment(0.05, 1.0, 1.0, roughness=0.0, friction=0.0),), sheet)


def checks():
    out = [relative("ideal flow at 28 inH2O, 60 F", TRADE, 146.01, fs.ideal_flow_per_area(DROP) * INCH**2 / CFM, 1e-4,
                    "CFM/in2")]
    for have in (15.0, 20.0, 25.0):
        out.append(relative(f"{have:g} to 28 inH2O", TRADE, math.sqrt(28 / have), fs.depression_factor(have, 28.0),
                            1e-12))
        flux = [real_air_flux(P, T, 1 - k * 249.08891 / P) for k in (have, 28.0)]
        out.append(relative(f"{have:g} to 28 inH2O, compressible", AIR, flux[1] / flux[0],
                            fs.compressible_factor(have * 249.08891, DROP), 5e-4))
    out.append(relative("750 CFM at 1.5 inHg, at 28 inH2O", TRADE, 878.8,
                        750 * fs.depression_factor(1.5 * 3386.389, DROP), 5e-4, "CFM"))
    side = wide((100 * CFM, 200 * CFM), (0.006, 0.012))
    area = float(fs.effective_area(side, 0.006)) * 1e6
    rho = P / (287.05 * T)
    real = 100 * CFM * rho / real_air_flux(P, T, 1 - DROP / P) * 1e6
    out.append(relative("effective area of 100 CFM", AIR, real, area, 2e-3, "mm2"))
    incompressible = 100 * CFM / math.sqrt(2 * DROP / rho) * 1e6
    out.append(relative("error of taking it incompressible", AIR, real / incompressible - 1,
                        area / incompressible - 1, 0.05, "", "relative tolerance on a 3.9 % effect"))
    for ratio in (0.99, 0.9, 0.7, 0.3):
        got = float(through_valve(1e-4, P, 298.15, ratio * P)) * 1e3
        expected = real_air_flux(P, 298.15, ratio) * 0.1
        out.append(relative(f"1 cm2 at pressure ratio {ratio:g}", AIR, expected, got, 2e-3, "g/s"))
    return out
