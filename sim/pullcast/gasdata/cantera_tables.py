"""Cantera to coefficients: air, fuel vapour and burned gas of one fuel. The only module that imports Cantera.

Thermodynamic data: the NASA polynomials of McBride, Gordon & Reno 1993 (NASA TM-4513) as shipped with
Cantera in ``nasa_gas.yaml``. Dry air by mole: N2 .78084, O2 .20946, Ar .00934, CO2 .00036
(US Standard Atmosphere 1976, table 3, rounded).
"""

from __future__ import annotations

from functools import cache

import numpy as np

from pullcast.gasdata import nodes
from pullcast.gasdata.fuels import fuel_recipe
from pullcast.kernels.gas import NCP

DRY_AIR = {"N2": 0.78084, "O2": 0.20946, "Ar": 0.00934, "CO2": 0.00036}
PRODUCTS = ("CO2", "CO", "H2O", "H2", "O2", "OH", "H", "O", "N2", "NO", "N", "NO2", "N2O", "HO2", "NH3", "HCN",
            "CH4", "Ar")
_FIT_T = np.linspace(200.0, 3500.0, 1651)


@cache
def _phase(species: tuple[str, ...]):
    import cantera as ct

    known = {s.name: s for s in ct.Species.list_from_file("nasa_gas.yaml")}
    return ct.Solution(thermo="ideal-gas", species=[known[s] for s in species])


def _loaded(composition: dict[str, float]):
    """A phase set to a mole composition at 298.15 K, 1 atm."""
    fuel = tuple(s for s in composition if s not in PRODUCTS)
    gas = _phase(PRODUCTS + fuel)
    gas.TPX = nodes.T_REF, 101325.0, composition
    return gas


def humid_air(humidity_ratio: float) -> dict[str, float]:
    """Mole composition (per mole of dry air) of air with ``humidity_ratio`` kg water per kg dry air."""
    gas = _loaded(DRY_AIR)
    water = humidity_ratio * gas.mean_molecular_weight / _loaded({"H2O": 1.0}).mean_molecular_weight
    return DRY_AIR | {"H2O": water}


def stoichiometric_oxygen(fuel: dict[str, float]) -> float:
    """Moles of O2 that burn one mole of fuel to CO2 and H2O."""
    gas = _loaded(fuel)
    atoms = {e: sum(x * gas.species(s).composition.get(e, 0.0) for s, x in fuel.items()) for e in "CHO"}
    return atoms["C"] + atoms["H"] / 4.0 - atoms["O"] / 2.0


def lower_heating_value(fuel: dict[str, float]) -> float:
    """Lower heating value of the vapour at 298.15 K, J/kg: formation enthalpies of fuel less CO2 and H2O vapour."""
    need = stoichiometric_oxygen(fuel)
    gas = _loaded(fuel)
    carbon = sum(x * gas.species(s).composition.get("C", 0.0) for s, x in fuel.items())
    hydrogen = sum(x * gas.species(s).composition.get("H", 0.0) for s, x in fuel.items())
    before = gas.enthalpy_mole + need * _loaded({"O2": 1.0}).enthalpy_mole
    mass = _loaded(fuel).mean_molecular_weight
    after = carbon * _loaded({"CO2": 1.0}).enthalpy_mole + hydrogen / 2.0 * _loaded({"H2O": 1.0}).enthalpy_mole
    return float((before - after) / mass)


def charge(fuel_key: str, lambda_: float, humidity_ratio: float) -> dict[str, float]:
    """Mole composition of unburned mixture: fuel vapour and humid air at ``lambda_``."""
    fuel = fuel_recipe(fuel_key).mole_fractions()
    dry = lambda_ * stoichiometric_oxygen(fuel) / DRY_AIR["O2"]
    return fuel | {s: dry * x for s, x in humid_air(humidity_ratio).items()}


def burned(fuel_key: str, lambda_: float, humidity_ratio: float, T: float, p: float) -> tuple[float, float, dict]:
    """Equilibrium burned gas at T (K), p (Pa): enthalpy (J/kg, formation included), gas constant (J/(kg K)),
    mole composition."""
    import cantera as ct

    gas = _loaded(charge(fuel_key, lambda_, humidity_ratio))
    elements = gas.X
    products = _phase(PRODUCTS)
    products.TPX = T, p, _to_products(gas, elements)
    products.equilibrate("TP", rtol=1e-10, max_steps=5000)
    R = ct.gas_constant / products.mean_molecular_weight
    return products.enthalpy_mass, R, dict(zip(products.species_names, products.X, strict=True))


def _to_products(gas, moles: np.ndarray) -> dict[str, float]:
    """A starting composition of CO2, CO, H2O, H2, O2, N2, Ar with the elements of ``moles``."""
    atom = {e: sum(moles[k] * gas.n_atoms(k, e) for k in range(gas.n_species)) for e in ("C", "H", "O", "N", "Ar")}
    water = atom["H"] / 2.0
    spare = atom["O"] - atom["C"] - water
    if spare < 0.0:  # very rich: part of the hydrogen stays as H2
        return {"CO": atom["C"], "H2O": water + spare, "H2": -spare, "N2": atom["N"] / 2.0, "Ar": atom["Ar"]}
    full = min(spare, atom["C"])
    return {"CO2": full, "CO": atom["C"] - full, "H2O": water, "O2": (spare - full) / 2.0, "N2": atom["N"] / 2.0,
            "Ar": atom["Ar"]}


def frozen(composition: dict[str, float]) -> tuple[float, np.ndarray, float]:
    """Gas constant (J/(kg K)), cp coefficients (NCP,) and formation enthalpy (J/kg) of a fixed composition.

    cp is fitted over 200-3500 K, weighted six to one for 250-1900 K. There the largest misfit of cp is 0.24 % for
    air, 0.22 % for burned gas and 3.6 % for fuel vapour; of enthalpy 0.3, 0.3 and 4.3 kJ/kg.
    """
    import cantera as ct

    gas = _loaded(composition)
    hf, R = float(gas.enthalpy_mass), ct.gas_constant / gas.mean_molecular_weight
    weight = np.where((_FIT_T >= 250.0) & (_FIT_T <= 1900.0), 6.0, 1.0)
    return R, nodes.fit_cp(_FIT_T, exact_cp(composition, _FIT_T), weight, NCP), hf


def exact_cp(composition: dict[str, float], T: np.ndarray) -> np.ndarray:
    """cp (J/(kg K)) of a fixed composition at temperatures T (K), from the NASA polynomials."""
    gas = _loaded(composition)
    out = np.empty(len(T))
    for k, value in enumerate(T):
        gas.TP = value, 101325.0
        out[k] = gas.cp_mass
    return out


def increments(fuel_key: str, lambda_: float, w: float, hf: float, h: np.ndarray, R: float) -> np.ndarray:
    """Equilibrium less frozen burned gas, Chebyshev coefficients (2, *CHEB) of enthalpy (J/kg) and R (J/(kg K)).

    ``hf``, ``h``, ``R`` are the frozen gas's as tabulated, so that table plus increment is the equilibrium value.
    """
    T = nodes.cheb_points(*nodes.EQ_T, nodes.CHEB[0])
    p = np.exp(nodes.cheb_points(*nodes.EQ_LNP, nodes.CHEB[1]))
    base = hf + np.polynomial.polynomial.polyval(T * 1e-3, h)
    values = np.empty((2, T.size, p.size))
    for i in range(T.size):
        for j in range(p.size):
            enthalpy, gas_constant, _ = burned(fuel_key, lambda_, w, T[i], p[j])
            values[:, i, j] = enthalpy - base[i], gas_constant - R
    return np.stack([nodes.cheb_coefficients(v) for v in values])


def burned_node(fuel_key: str, lambda_: float, w: float) -> tuple[float, np.ndarray, float, np.ndarray]:
    """R, cp coefficients, formation enthalpy and increments of burned gas at one lambda and humidity ratio."""
    _, _, composition = burned(fuel_key, lambda_, w, nodes.T_FROZEN, nodes.P_FROZEN)
    R, cp, hf = frozen(composition)
    return R, cp, hf, increments(fuel_key, lambda_, w, hf, nodes.integrate_cp(cp), R)


def fuel_file(fuel_key: str) -> dict[str, np.ndarray]:
    """Everything the table file of a fuel holds, by array name (see ``pullcast.gasdata.tables``)."""
    recipe = fuel_recipe(fuel_key)
    fuel = recipe.mole_fractions()
    air = [frozen(humid_air(w)) for w in nodes.HUMIDITIES]
    fuel_R, fuel_cp, fuel_hf = frozen(fuel)
    dry_mass = _loaded(DRY_AIR).mean_molecular_weight
    molar_mass = _loaded(fuel).mean_molecular_weight
    afr = stoichiometric_oxygen(fuel) / DRY_AIR["O2"] * dry_mass / molar_mass
    grid = [[burned_node(fuel_key, lam, w) for lam in nodes.LAMBDAS] for w in nodes.HUMIDITIES]
    pick = lambda k: np.array([[node[k] for node in row] for row in grid])  # noqa: E731
    return {
        "air_R": np.array([a[0] for a in air]), "air_cp": np.array([a[1] for a in air]),
        "air_hf": np.array([a[2] for a in air]),
        "fuel_R": np.array(fuel_R), "fuel_cp": fuel_cp, "fuel_hf": np.array(fuel_hf),
        "burned_R": pick(0), "burned_cp": pick(1), "burned_hf": pick(2), "increment": pick(3).astype(np.float32),
        "constants": np.array([afr, recipe.evaporation, lower_heating_value(fuel), molar_mass * 1e-3]),
    }
