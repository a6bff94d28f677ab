"""Air of the shipped tables against the reference equation of state of CoolProp.

Reference: Lemmon, Jacobsen, Penoncello & Friend 2000, J. Phys. Chem. Ref. Data 29:331, ideal-gas part, as evaluated
by CoolProp (Bell et al. 2014). The ideal-gas heat capacity is compared, since pullcast treats air as an ideal gas.
"""

from __future__ import annotations

import numpy as np
from validation.harness import Check, relative

from pullcast.gasdata.tables import gas_table

SOURCE = "Lemmon et al. 2000 (CoolProp, ideal-gas part)"


def ours(T: float) -> tuple[float, float, float]:
    """cp (J/(kg K)), gamma, speed of sound (m/s) of dry air by the tables."""
    gas = gas_table("petrol", 1.0)
    cp = float(np.polynomial.polynomial.polyval(T * 1e-3, gas.cp[0]))
    gamma = cp / (cp - float(gas.R[0]))
    return cp, gamma, float((gamma * gas.R[0] * T) ** 0.5)


def reference(T: float) -> tuple[float, float, float]:
    """The same by CoolProp."""
    from CoolProp.CoolProp import PropsSI

    cp = PropsSI("CP0MASS", "T", T, "P", 1000.0, "Air")
    R = PropsSI("GAS_CONSTANT", "Air") / PropsSI("M", "Air")
    gamma = cp / (cp - R)
    return cp, gamma, (gamma * R * T) ** 0.5


def enthalpy_rise(T: float) -> tuple[float, float]:
    """Enthalpy from 298.15 K to T by the tables and by CoolProp (integral of its cp), J/kg."""
    from CoolProp.CoolProp import PropsSI
    from scipy.integrate import quad

    gas = gas_table("petrol", 1.0)
    mine = float(np.polynomial.polynomial.polyval(T * 1e-3, gas.h[0]))
    return mine, quad(lambda t: PropsSI("CP0MASS", "T", t, "P", 1000.0, "Air"), 298.15, T)[0]


def checks() -> list[Check]:
    """cp, gamma, sound speed at seven temperatures, enthalpy rise at three."""
    out = []
    note = "0.24 % is the largest misfit of a sixth-degree polynomial; the rest is between the two data sets"
    for T in (250.0, 300.0, 400.0, 600.0, 1000.0, 1500.0, 1900.0):
        for name, unit, tolerance, a, b in zip(("cp", "gamma", "speed of sound"), ("J/(kg K)", "", "m/s"),
                                               (0.003, 0.0015, 0.0008), ours(T), reference(T), strict=True):
            out.append(relative(f"air {name} at {T:g} K", SOURCE, b, a, tolerance, unit, note))
    for T in (600.0, 1000.0, 1900.0):
        a, b = enthalpy_rise(T)
        out.append(relative(f"air enthalpy 298.15 K to {T:g} K", SOURCE, b, a, 0.001, "J/kg", note))
    return out
