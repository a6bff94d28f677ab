"""Gas tables served to the solver: loaded from the shipped files and interpolated, without Cantera.

A file ``data/<fuel>.npz`` holds (w: humidity ratio nodes, l: lambda nodes, NCP = 7)

================  =====================  ==========================================================
air_R, air_hf     (w,)                   J/(kg K), J/kg
air_cp            (w, NCP)               J/(kg K) over powers of T/1000
fuel_R, fuel_hf   ()                     of the vapour
fuel_cp           (NCP,)
burned_R, _hf     (w, l)                 frozen at the equilibrium composition of 1700 K, 5 bar
burned_cp         (w, l, NCP)
increment         (w, l, 2, *CHEB)       Chebyshev coefficients of equilibrium less frozen h and R
constants         (4,)                   dry stoichiometric AFR, heat of evaporation, LHV, molar mass
================  =====================  ==========================================================

Between nodes: linear in the water mass fraction of the air; in lambda a cubic through the four nearest nodes
on the same side of 1, over the fuel mass fraction of the mixture (in which frozen lean products are linear).
The nodes crowd about lambda 1, where the composition turns. Read bilinearly in T and ln p, equilibrium enthalpy
is within 1 kJ/kg (about 0.3 K) at engine states (1750-3000 K, 3-150 bar) and within 8 kJ/kg over the whole table.
The enthalpy increment can be slightly negative below 1900 K, to -3.3 kJ/kg about lambda 1 at 250 bar: there the gas
is less dissociated than where it was frozen (1700 K, 5 bar).
"""

from __future__ import annotations

import math
from functools import cache, lru_cache
from importlib import resources

import numpy as np

from pullcast.errors import InputError
from pullcast.gasdata import nodes
from pullcast.gasdata.fuels import fuel_recipe
from pullcast.kernels.gas import GasTable, packed_table

PARCELS = 9  # of an uneven mixture


def gas_table(fuel_key: str, lambda_: float, humidity_ratio: float = 0.0) -> GasTable:
    """Air, fuel vapour and burned gas of a fuel at ``lambda_`` and ``humidity_ratio`` (kg water per kg dry air).

    lambda 0.70 to 1.40, humidity ratio 0 to 0.035; cp and h fit 200 to 3500 K. The equilibrium increments span
    1400 to 3600 K and 0.2 to 250 bar. Raises InputError for an unknown fuel or a value outside.

    >>> gas = gas_table("petrol", 0.88)
    >>> round(float(gas.mix[2]), 2)  # air/fuel ratio
    12.85
    """
    lam = _within("lambda", lambda_, nodes.LAMBDAS)
    w = _within("humidity ratio", humidity_ratio, nodes.HUMIDITIES)
    # fresh, writable copies: the caller's own, and one array type for compiled code
    return GasTable(*(np.array(a, order="C") for a in _table(fuel_recipe(fuel_key).key, lam, w)))


def uneven_table(fuel_key: str, lambda_: float, humidity_ratio: float = 0.0, spread: float = 0.0) -> GasTable:
    """The table of a charge whose strength (fuel per air) scatters about that of ``lambda_`` by ``spread``, relative.

    Burned gas is that of ``PARCELS`` parcels of equal air mass at the quantiles of a normal law, each burned to its
    own equilibrium at the common temperature and pressure, none mixing with another: so rich parcels keep carbon
    monoxide beside the oxygen of lean ones (Heywood 1988, sec. 4.9.2; from memory). Air, vapour and the sums of
    elements are those of the even mixture. Near the ends of the tables the spread is narrowed to what they hold.
    Arguments, range and errors otherwise as ``gas_table``.
    """
    even = gas_table(fuel_key, lambda_, humidity_ratio)
    room = min(1.0 - lambda_ / nodes.LAMBDAS[-1], lambda_ / nodes.LAMBDAS[0] - 1.0) / _quantiles()[-1]
    sd = min(float(spread), room * (1.0 - 1e-9))  # so that round-off does not step over the end
    if sd <= 1e-6:
        return even
    strength = 1.0 + sd * _quantiles()
    weight = 1.0 + strength / even.mix[2]
    weight /= weight.sum()
    parts = [gas_table(fuel_key, lambda_ / s, humidity_ratio) for s in strength]

    def mean(name: str) -> np.ndarray:
        return np.tensordot(weight, [getattr(part, name) for part in parts], 1)

    fields = {name: mean(name) for name in ("R", "cp", "h", "hf", "eq_dh", "eq_dR")}
    return packed_table(eq_T=even.eq_T, eq_lnp=even.eq_lnp, mix=even.mix, **fields)


@cache
def _quantiles() -> np.ndarray:
    """Mid-quantiles of the normal law, ``PARCELS`` of them, scaled to a standard deviation of 1."""
    from statistics import NormalDist

    z = np.array([NormalDist().inv_cdf((i + 0.5) / PARCELS) for i in range(PARCELS)])
    return z / math.sqrt(np.mean(z * z))


def _within(name: str, value: float, allowed: np.ndarray) -> float:
    value = float(value)
    low, high = allowed[0], allowed[-1]
    if math.isfinite(value) and low <= value <= high:
        return value
    msg = f"{name} {value:g} is outside the gas tables: give a value from {low:g} to {high:g}."
    raise InputError(msg)


@cache
def _stored(key: str) -> dict[str, np.ndarray]:
    file = resources.files("pullcast.gasdata") / "data" / f"{key}.npz"
    with file.open("rb") as stream, np.load(stream, allow_pickle=False) as data:
        return {name: data[name] for name in data.files}


@lru_cache(maxsize=256)
def _table(key: str, lam: float, w: float) -> GasTable:
    data = _stored(key)
    afr, evaporation, lhv, molar_mass = (float(x) for x in data["constants"])
    wet = _humidity_weight(w)
    near, weights = _lambda_weights(lam, afr)

    def air(name: str) -> np.ndarray:
        return np.tensordot(wet, data[f"air_{name}"], 1)

    def burned(name: str) -> np.ndarray:
        return np.tensordot(weights, np.tensordot(wet, data[name][:, near], 1), 1)

    cp = np.stack([air("cp"), data["fuel_cp"], burned("burned_cp")])
    dh, dR = _increment_grids(burned("increment"))
    T, lnp = nodes.grid_axes()
    humid_afr = afr * (1.0 + w)
    return packed_table(
        R=np.array([air("R"), data["fuel_R"], burned("burned_R")], float),
        cp=cp,
        h=nodes.integrate_cp(cp),
        hf=np.array([air("hf"), data["fuel_hf"], burned("burned_hf")], float),
        eq_T=np.array([T[0], T[1] - T[0], T.size]),
        eq_lnp=np.array([lnp[0], lnp[1] - lnp[0], lnp.size]),
        eq_dh=dh,
        eq_dR=dR,
        mix=np.array([humid_afr, lam, humid_afr * lam, evaporation, lhv, molar_mass]),
    )


def _humidity_weight(w: float) -> np.ndarray:
    """Weights of the two humidity nodes, linear in water mass fraction w/(1 + w)."""
    q, q0, q1 = (x / (1.0 + x) for x in (w, *nodes.HUMIDITIES))
    s = (q - q0) / (q1 - q0)
    return np.array([1.0 - s, s])


def _lambda_weights(lam: float, afr: float) -> tuple[slice, np.ndarray]:
    """The four nodes around ``lam`` on its side of 1, and their Lagrange weights in fuel mass fraction."""
    one = int(np.searchsorted(nodes.LAMBDAS, 1.0))
    first, last = (0, one - 3) if lam <= 1.0 else (one, nodes.LAMBDAS.size - 4)
    start = min(max(int(np.searchsorted(nodes.LAMBDAS, lam)) - 2, first), last)
    near = slice(start, start + 4)
    z, at = 1.0 / (1.0 + afr * nodes.LAMBDAS[near]), 1.0 / (1.0 + afr * lam)
    weights = [math.prod((at - b) / (a - b) for b in z if b != a) for a in z]
    return near, np.array(weights)


@cache
def _grid_matrices() -> tuple[np.ndarray, np.ndarray]:
    T, lnp = nodes.grid_axes()
    rows = nodes.cheb_matrix(T, *nodes.EQ_T, nodes.CHEB[0]) * nodes.blend(T)[:, None]
    return rows, nodes.cheb_matrix(lnp, *nodes.EQ_LNP, nodes.CHEB[1]).T


def _increment_grids(coefficients: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """dh (J/kg) and dR (J/(kg K)) on the uniform grid, faded to zero below 1750 K."""
    rows, columns = _grid_matrices()
    dh, dR = (np.ascontiguousarray(rows @ c @ columns) for c in coefficients.astype(float))
    return dh, dR
