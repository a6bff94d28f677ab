"""The shipped gas tables against Cantera itself, against other thermodynamic data, and against formation enthalpies.

Fits and interpolation are held to direct Cantera (same NASA data): what the tables lose. Heating values, air/fuel
ratios and flame temperatures are held to other data: what the tables got wrong.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.interpolate import RegularGridInterpolator
from scipy.optimize import brentq
from validation.harness import Check, absolute, at_most, relative

from pullcast.gasdata import cantera_tables, nodes
from pullcast.gasdata.fuels import FUELS
from pullcast.gasdata.tables import gas_table

CANTERA = "Cantera equilibrate, NASA polynomials (McBride, Gordon & Reno 1993)"
FORMATION = "formation enthalpies of the NIST WebBook (from memory); atomic weights of IUPAC"
GRI = "Cantera equilibrate HP, GRI-Mech 3.0 data (Smith et al. 1999)"
# C, H, O atoms; formation enthalpy of the vapour, kJ/mol (NIST WebBook, from memory)
MOLECULES = {"methane": (1, 4, 0, -74.6), "ethanol": (2, 6, 1, -234.8), "methanol": (1, 4, 1, -201.0),
             "isooctane": (8, 18, 0, -224.0), "propane": (3, 8, 0, -104.7)}
SEED, SAMPLES = 20, 400


def heating_value(key: str) -> tuple[float, float]:
    """Lower heating value (J/kg) and stoichiometric air/fuel ratio of a pure fuel by hand."""
    c, h, o, formation = MOLECULES[key]
    mass = (12.011 * c + 1.008 * h + 15.999 * o) * 1e-3
    heat = formation + 393.51 * c + 241.826 * h / 2
    air = (c + h / 4 - o / 2) / 0.2095 * 28.9652e-3
    return heat * 1e3 / mass, air / mass


def table_burned(gas, T: float, p: float) -> tuple[float, float]:
    """Enthalpy with formation (J/kg) and gas constant of equilibrium burned gas, bilinear in T, ln p."""
    axes = nodes.grid_axes()
    point = (T, math.log(p))
    dh, dR = (float(RegularGridInterpolator(axes, z)(point)) for z in (gas.eq_dh, gas.eq_dR))
    return gas.hf[2] + float(np.polynomial.polynomial.polyval(T * 1e-3, gas.h[2])) + dh, float(gas.R[2]) + dR


def flame_temperature(key: str, lam: float = 1.0, p: float = 101325.0) -> float:
    """Adiabatic flame temperature at constant pressure from 298.15 K, K, by the tables."""
    gas = gas_table(key, lam)
    fuel = 1.0 / (1.0 + float(gas.mix[2]))
    start = (1.0 - fuel) * float(gas.hf[0]) + fuel * float(gas.hf[1])
    return brentq(lambda T: table_burned(gas, T, p)[0] - start, 1450.0, 3500.0)


def flame_by_cantera(key: str, data: str, lam: float = 1.0) -> float:
    """The same by Cantera with thermodynamic data ``data`` ("nasa" or "gri30")."""
    import cantera as ct

    mixture = cantera_tables.charge(key, lam, 0.0)
    if data == "gri30":
        gas = ct.Solution("gri30.yaml")
        mixture = {{"Ar": "AR"}.get(s, s): x for s, x in mixture.items()}
    else:
        wanted = {*cantera_tables.PRODUCTS, *mixture}
        gas = ct.Solution(thermo="ideal-gas",
                          species=[s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in wanted])
    gas.TPX = 298.15, 101325.0, mixture
    gas.equilibrate("HP", rtol=1e-9)
    return gas.T


def equilibrium_misses(T_range: tuple, p_range: tuple, lam_range: tuple) -> tuple[float, float]:
    """Largest miss of enthalpy (J/kg) and gas constant (J/(kg K)) over random fuels, states and humidities."""
    draw = np.random.default_rng(SEED)
    worst_h = worst_R = 0.0
    for _ in range(SAMPLES):
        key, lam, w = draw.choice(list(FUELS)), draw.uniform(*lam_range), draw.uniform(*nodes.HUMIDITIES)
        T, p = draw.uniform(*T_range), math.exp(draw.uniform(*np.log(p_range)))
        h, R, _ = cantera_tables.burned(key, lam, w, T, p)
        mine = table_burned(gas_table(key, lam, w), T, p)
        worst_h, worst_R = max(worst_h, abs(mine[0] - h)), max(worst_R, abs(mine[1] - R))
    return worst_h, worst_R


def kernel_miss() -> float:
    """Largest miss of enthalpy (J/kg) of the solver's ``hot_h`` for burned petrol, lambda 0.88 and 1."""
    from pullcast.kernels.mixture import hot_h

    worst = 0.0
    for lam in (0.88, 1.0):
        gas = gas_table("petrol", lam)
        for T in (1800.0, 2210.0, 2630.0, 2890.0):
            for p in (4.1e5, 23e5, 77e5):
                exact, _, _ = cantera_tables.burned("petrol", lam, 0.0, T, p)
                worst = max(worst, abs(hot_h(gas, T, p, 0.0, 1.0)[0] - exact))
    return worst


def frozen_misses(kind: int) -> tuple[float, float]:
    """Largest relative miss of cp and of enthalpy above 298.15 K (J/kg) over 250-1900 K, all fuels, between nodes.

    ``kind`` 0 air, 1 fuel vapour, 2 burned gas; lambda .76, .9, 1.1 and humidity ratio .01.
    """
    T = np.linspace(250.0, 1900.0, 166)
    worst_cp = worst_h = 0.0
    for key in FUELS:
        for lam in (0.76, 0.9, 1.1):
            gas = gas_table(key, lam, 0.01)
            composition = (cantera_tables.humid_air(0.01), FUELS[key].mole_fractions(),
                           cantera_tables.burned(key, lam, 0.01, nodes.T_FROZEN, nodes.P_FROZEN)[2])[kind]
            exact = cantera_tables.exact_cp(composition, T)
            mine = np.polynomial.polynomial.polyval(T * 1e-3, gas.cp[kind])
            steps = np.diff(T) * ((mine - exact)[1:] + (mine - exact)[:-1]) / 2
            drift = np.concatenate([[0.0], np.cumsum(steps)])
            worst_h = max(worst_h, float(np.abs(drift - np.interp(298.15, T, drift)).max()))
            worst_cp = max(worst_cp, float(np.abs(mine / exact - 1).max()))
    return worst_cp, worst_h


def checks() -> list[Check]:
    """Fits, equilibrium, heating values, air/fuel ratios, flame temperatures."""
    return [*_fuel_checks(), *_flame_checks(), *_frozen_checks(), *_equilibrium_checks()]


def _fuel_checks() -> list[Check]:
    out = []
    for key in MOLECULES:
        heat, air = heating_value(key)
        mix = gas_table(key, 1.0).mix
        out.append(relative(f"lower heating value of {key}", FORMATION, heat, mix[4], 1e-3, "J/kg",
                            "formation enthalpies agree to 0.2 kJ/mol"))
        out.append(relative(f"stoichiometric air/fuel ratio of {key}", FORMATION, air, mix[0], 5e-4, "",
                            "oxygen in air .2095 or .20946"))
    return out


def _flame_checks() -> list[Check]:
    out = []
    for key, data, source, tolerance in (("methane", "gri30", GRI, 2.0), ("propane", "gri30", GRI, 2.0),
                                         ("methanol", "gri30", GRI, 2.0), ("isooctane", "nasa", CANTERA, 0.5),
                                         ("ethanol", "nasa", CANTERA, 0.5), ("petrol", "nasa", CANTERA, 0.5)):
        for lam in (0.8, 1.0, 1.25):
            note = "other data set: up to 2 K" if data == "gri30" else "fit and interpolation"
            out.append(absolute(f"flame temperature of {key}, lambda {lam}, 1 atm", source,
                                flame_by_cantera(key, data, lam), flame_temperature(key, lam), tolerance, "K", note))
    return out


def _frozen_checks() -> list[Check]:
    out = []
    for kind, name, cp_limit, h_limit in ((0, "air", 0.003, 300.0), (1, "fuel vapour", 0.04, 8000.0),
                                          (2, "burned gas", 0.003, 400.0)):
        cp, h = frozen_misses(kind)
        out.append(at_most(f"{name}: largest relative miss of cp, 250-1900 K", CANTERA, cp_limit, cp, "",
                            "sixth-degree polynomial"))
        out.append(at_most(f"{name}: largest miss of enthalpy, 250-1900 K", CANTERA, h_limit, h, "J/kg",
                            "300 J/kg is 0.3 K of air"))
    return out


def _equilibrium_checks() -> list[Check]:
    out = []
    bands = (("engine states 1750-3000 K, 3-150 bar", (1750.0, 3000.0), (3e5, 150e5), 2500.0, 0.03),
             ("the whole table 1750-3600 K, 0.2-250 bar", (1750.0, 3600.0), (2e4, 250e5), 12000.0, 0.2))
    for name, T, p, h_limit, R_limit in bands:
        h, R = equilibrium_misses(T, p, (0.70, 1.40))
        out.append(at_most(f"equilibrium enthalpy, largest miss, {name}", CANTERA, h_limit, h, "J/kg",
                            "2 kJ/kg is about 1 K; bilinear in T, ln p; linear in humidity"))
        out.append(at_most(f"equilibrium gas constant, largest miss, {name}", CANTERA, R_limit, R, "J/(kg K)",
                            "0.03 is 0.01 %"))
    out.append(at_most("equilibrium enthalpy through the solver's kernel, largest miss", CANTERA, 2500.0,
                       kernel_miss(), "J/kg", "hot_h, as the cylinder calls it"))
    return out
