"""Thermally perfect three-species gas: air, fuel vapour, burned gas.

Mass fractions of fuel ``yf`` and burned gas ``yb`` are carried; air is the rest.
cp(T) is one polynomial per species in t = T/1000 K; sensible enthalpy is its
integral from 298.15 K. Burned gas in the ducts is frozen; in the cylinder
increments from a table in (T, ln p) bring it to equilibrium when hot.
"""

from typing import NamedTuple

import numpy as np

from pullcast.kernels.jit import kernel
from pullcast.kernels.packed import pack

AIR, FUEL, BURNED = 0, 1, 2
NCP = 7
T_REF = 298.15


class GasTable(NamedTuple):
    """Properties of the three species for one fuel, lambda and humidity (filled by ``pullcast.gasdata``)."""

    R: np.ndarray  # (3,) J/(kg K)
    cp: np.ndarray  # (3, NCP) J/(kg K) over powers of T/1000
    h: np.ndarray  # (3, NCP+1) J/kg over powers of T/1000; zero at 298.15 K
    hf: np.ndarray  # (3,) formation enthalpy at 298.15 K, J/kg
    eq_T: np.ndarray  # (3,) first T (K), step, number of nodes
    eq_lnp: np.ndarray  # (3,) first ln(p/Pa), step, number of nodes
    eq_dh: np.ndarray  # (nT, nP) J/kg, equilibrium minus frozen burned gas
    eq_dR: np.ndarray  # (nT, nP) J/(kg K)
    mix: np.ndarray  # (6,) stoichiometric AFR, lambda, AFR, heat of evaporation and LHV J/kg, fuel kg/mol
    packed: np.ndarray  # all of it but cp in one array, see kernels.packed


@kernel
def poly(c, t):
    """Horner evaluation of ``sum c[k] t**k``."""
    s = c[c.shape[0] - 1]
    for k in range(c.shape[0] - 2, -1, -1):
        s = s * t + c[k]
    return s


@kernel
def mix_R(gas, yf, yb):
    """Gas constant of a mixture, J/(kg K)."""
    return (1.0 - yf - yb) * gas.R[AIR] + yf * gas.R[FUEL] + yb * gas.R[BURNED]


@kernel
def mix_cp(gas, T, yf, yb):
    """Specific heat cp of a frozen mixture, J/(kg K)."""
    t = T * 1e-3
    return (1.0 - yf - yb) * poly(gas.cp[AIR], t) + yf * poly(gas.cp[FUEL], t) + yb * poly(gas.cp[BURNED], t)


@kernel
def mix_h(gas, T, yf, yb):
    """Sensible enthalpy of a frozen mixture, J/kg, zero at 298.15 K."""
    t = T * 1e-3
    return (1.0 - yf - yb) * poly(gas.h[AIR], t) + yf * poly(gas.h[FUEL], t) + yb * poly(gas.h[BURNED], t)


@kernel
def mix_hf(gas, yf, yb):
    """Formation enthalpy of a mixture at 298.15 K, J/kg."""
    return (1.0 - yf - yb) * gas.hf[AIR] + yf * gas.hf[FUEL] + yb * gas.hf[BURNED]


def packed_table(R, cp, h, hf, eq_T, eq_lnp, eq_dh, eq_dR, mix):
    """GasTable of these arrays, with its packed form."""
    return GasTable(R, cp, h, hf, eq_T, eq_lnp, eq_dh, eq_dR, mix, pack(R, h, hf, eq_T, eq_lnp, eq_dh, eq_dR, mix))


def perfect_gas(gamma=1.4, R=287.05):
    """Table of a gas with constant gamma (all three species alike): for benches, acoustics and exact solutions."""
    cp = np.zeros((3, NCP))
    cp[:, 0] = gamma * R / (gamma - 1.0)
    h = np.zeros((3, NCP + 1))
    h[:, 1] = 1e3 * cp[:, 0]
    h[:, 0] = -cp[:, 0] * T_REF
    never = np.array([1e5, 1.0, 2.0])
    return packed_table(np.full(3, R), cp, h, np.zeros(3), never, np.array([0.0, 1.0, 2.0]), np.zeros((2, 2)),
                        np.zeros((2, 2)), np.array([14.7, 1.0, 14.7, 0.0, 44e6, 0.114]))
