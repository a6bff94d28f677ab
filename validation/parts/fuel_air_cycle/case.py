"""The constant-volume fuel-air cycle, through the shipped gas tables and through Cantera itself.

Definition: Taylor, The Internal Combustion Engine in Theory and Practice, vol. 1, ch. 4; Heywood 1988, ch. 5
(from memory): isooctane vapour and air with 5 % (mass) residual at 1 atm, 388 K; isentropic compression with frozen
composition, adiabatic constant-volume burning to equilibrium, isentropic expansion in shifting equilibrium. No heat
loss, no friction.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import RegularGridInterpolator
from scipy.optimize import brentq
from validation.harness import Check, relative

from pullcast.gasdata import cantera_tables, nodes
from pullcast.gasdata.tables import gas_table

SOURCE = "Cantera (frozen SV, equilibrate UV, SV), NASA polynomials; cycle of Heywood 1988 ch. 5, Taylor vol. 1 ch. 4"
T1, P1, RESIDUAL = 388.0, 101325.0, 0.05
FUEL = "C8H18,isooctane"
NO_ARGON = {"O2": 1.0 / 4.76, "N2": 3.76 / 4.76}
CASES = ((0.8, 8.0), (1.0, 8.0), (1.2, 8.0), (1.0, 12.0))  # phi, compression ratio


class Tables:
    """The gas of one table, per kg of mixture: a reading of GasTable apart from the solver's kernels."""

    def __init__(self, phi: float) -> None:
        """Load isooctane at ``phi`` with the case's residual."""
        self.gas = gas_table("isooctane", 1.0 / phi)
        axes = nodes.grid_axes()
        self._dh = RegularGridInterpolator(axes, self.gas.eq_dh)
        self._dR = RegularGridInterpolator(axes, self.gas.eq_dR)
        fuel = 1.0 / (1.0 + self.gas.mix[2])
        self.fuel = (1.0 - RESIDUAL) * fuel
        self.fresh = np.array([(1.0 - RESIDUAL) * (1.0 - fuel), self.fuel, RESIDUAL])

    def frozen(self, T: float) -> tuple[float, float]:
        """R and internal energy with formation of the unburned mixture."""
        R = self.fresh @ self.gas.R
        h = np.polynomial.polynomial.polyval(T * 1e-3, self.gas.h.T)
        return R, self.fresh @ (h + self.gas.hf) - R * T

    def burned(self, T: float, v: float) -> tuple[float, float]:
        """R and internal energy of burned gas in equilibrium at T and specific volume v."""
        R = self.gas.R[2]
        for _ in range(30):
            point = (T, math.log(R * T / v))
            R = self.gas.R[2] + (float(self._dR(point)) if nodes.EQ_T[0] < T else 0.0)
        h = self.gas.hf[2] + np.polynomial.polynomial.polyval(T * 1e-3, self.gas.h[2])
        return R, h + (float(self._dh(point)) if nodes.EQ_T[0] < T else 0.0) - R * T

    def burned_temperature(self, u: float, v: float) -> float:
        """T at which burned gas has internal energy u at specific volume v."""
        return brentq(lambda T: self.burned(T, v)[1] - u, 900.0, 3590.0, xtol=1e-8)


def cycle_by_tables(phi: float, ratio: float) -> tuple[float, float]:
    """Efficiency and imep/p1 by the shipped tables."""
    g = Tables(phi)
    R, u1 = g.frozen(T1)
    v1 = R * T1 / P1
    v2 = v1 / ratio
    T2 = _isentropic_frozen(g, ratio)
    u2 = g.frozen(T2)[1]

    def expand(v, u):
        T = g.burned_temperature(u[0], v)
        return [-g.burned(T, v)[0] * T / v]

    u4 = solve_ivp(expand, (v2, v1), [u2], rtol=1e-8, atol=1e-2).y[0, -1]
    return _answer(u1, u2, u4, g.fuel * float(g.gas.mix[4]), v1, v2)


def _isentropic_frozen(g: Tables, ratio: float) -> float:
    cp = np.concatenate([[0.0], (g.fresh @ g.gas.cp) * (1e-3 ** np.arange(7))])
    R = g.fresh @ g.gas.R

    def entropy(T: float) -> float:
        powers = sum(cp[k + 1] * T**k / k for k in range(1, 7))
        return (cp[1] - R) * math.log(T) + powers

    return brentq(lambda T: entropy(T) - entropy(T1) - R * math.log(ratio), T1, 1500.0)


def cycle_by_cantera(phi: float, ratio: float, air: dict[str, float]) -> tuple[float, float]:
    """Efficiency and imep/p1 by Cantera, with air of the mole composition ``air``."""
    import cantera as ct

    wanted = {*cantera_tables.PRODUCTS, FUEL}
    gas = ct.Solution(thermo="ideal-gas",
                      species=[s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in wanted])
    moles = 12.5 / air["O2"] / phi  # C8H18 + 12.5 O2
    gas.TPX = T1, P1, {FUEL: 1.0} | {s: moles * x for s, x in air.items()}
    fresh = gas.Y
    gas.TP = nodes.T_FROZEN, nodes.P_FROZEN
    gas.equilibrate("TP", rtol=1e-9)
    gas.TPY = T1, P1, (1.0 - RESIDUAL) * fresh + RESIDUAL * gas.Y
    u1, v1, s1 = gas.int_energy_mass, gas.volume_mass, gas.entropy_mass
    gas.SV = s1, v1 / ratio
    u2 = gas.int_energy_mass
    gas.equilibrate("UV", rtol=1e-9)
    gas.SV = gas.entropy_mass, v1
    gas.equilibrate("SV", rtol=1e-9)
    fuel_mass = (1.0 - RESIDUAL) * fresh[gas.species_index(FUEL)]
    heat = fuel_mass * cantera_tables.lower_heating_value({FUEL: 1.0})
    return _answer(u1, u2, gas.int_energy_mass, heat, v1, v1 / ratio)


def _answer(u1: float, u2: float, u4: float, heat: float, v1: float, v2: float) -> tuple[float, float]:
    work = (u2 - u4) - (u2 - u1)
    return work / heat, work / (v1 - v2) / P1


def checks() -> list[Check]:
    """Efficiency and imep/p1 of the four cycles against Cantera with the same air, and with air as O2 + 3.76 N2."""
    out = []
    for phi, ratio in CASES:
        ours = cycle_by_tables(phi, ratio)
        for air, tolerance, note in ((cantera_tables.DRY_AIR, 5e-4, "same air: fit and interpolation only"),
                                     (NO_ARGON, 4e-3, "textbook air, O2 + 3.76 N2: argon adds 0.27 %")):
            reference = cycle_by_cantera(phi, ratio, air)
            for name, got, expected in zip(("efficiency", "imep/p1"), ours, reference, strict=True):
                title = f"fuel-air cycle {name}, phi {phi}, ratio {ratio:g}"
                out.append(relative(title, SOURCE, expected, got, tolerance, note=note))
    return out
