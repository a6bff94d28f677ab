"""Laminar burning speed and knock delay: published fits as plain-float functions.

Burning speed at 298 K, 1 atm is a parabola in phi = 1/lambda,

    S_0 = B_M + B_2 (phi - phi_M)^2,    S = S_0 (T/298)^alpha (p/p0)^beta (1 - 2.06 x^0.77),

x being the mole fraction of residual burned gas. Sources:

methanol, propane, isooctane
    Metghalchi & Keck 1982, Combust. Flame 48:191 (propane 1980, 38:143); alpha = 2.18 - 0.8 (phi - 1),
    beta = -0.16 + 0.22 (phi - 1). Constants as tabulated in Heywood 1988, table 9.2 (from memory).
petrol
    Rhodes & Keck 1985, SAE 850047; Heywood 1988, eqs. 9.33 to 9.36 (from memory): alpha = 2.4 - 0.271 phi^3.51,
    beta = -0.357 + 0.14 phi^2.77, measured to 12 atm. The residual factor is from here too. Rich of phi 1.23 that
    beta rises past Metghalchi & Keck's of other fuels, measured to 50 atm, and through zero at 1.40: in an engine the
    richest mixture would then burn fastest. Theirs is taken there (the smaller of the two).
ethanol
    Guelder 1984, SAE 841000 (from memory): S_0 = 0.465 phi^0.25 exp(-6.34 (phi - 1.075)^2) m/s, alpha = 1.75,
    beta = -0.17/sqrt(phi) (rich) or -0.17 sqrt(phi) (lean). The parabola is least squares over phi 0.7 to 1.4.
methane
    Gu, Haq, Lawes & Woolley 2000, Combust. Flame 121:41 (from memory), fits at phi 0.8, 1.0, 1.2 and 300 K,
    0.1 MPa, carried to 298 K, 1 atm; the parabola goes through the three.
e10, e85, e85_winter
    petrol and ethanol in proportion to their share of the energy: a rule of ours; each end is published.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from pullcast.errors import InputError
from pullcast.gasdata.fuels import ETHANOL, fuel_recipe

P_ATM = 101325.0
# B_M, B_2 (m/s), phi_M
_KECK = {
    "methanol": (0.369, -1.405, 1.11),
    "propane": (0.342, -1.387, 1.08),
    "isooctane": (0.263, -0.847, 1.13),
    "petrol": (0.305, -0.549, 1.21),
}
_GU_PHI = (0.8, 1.0, 1.2)
_GU = ((0.259, 2.105, -0.504), (0.360, 1.612, -0.374), (0.314, 2.000, -0.438))  # S (m/s), alpha, beta


def burning_coefficients(fuel_key: str, phi: float = 1.0) -> tuple[float, float, float, float, float]:
    """(B_M m/s, B_2 m/s, phi_M, alpha, beta) of a fuel; alpha and beta are those at ``phi``.

    phi 0.6 to 1.5. Raises InputError for an unknown fuel or phi outside.

    >>> burning_coefficients("propane")
    (0.342, -1.387, 1.08, 2.18, -0.16)
    """
    if not 0.6 <= phi <= 1.5:
        msg = f"phi {phi:g} is outside 0.6 to 1.5, where the burning speeds were measured: check lambda."
        raise InputError(msg)
    key = fuel_recipe(fuel_key).key
    share = _ethanol_energy_share(key)
    if share in (0.0, 1.0):
        return _pure(key, phi)
    return _mixed(_pure("petrol", phi), _pure("ethanol", phi), share)


def laminar_speed(fuel_key: str, phi: float, temperature: float, pressure: float, residual: float = 0.0) -> float:
    """Laminar burning speed, m/s, at unburned temperature (K) and pressure (Pa); ``residual`` is a mole fraction.

    Measured over 298 to 700 K, 0.4 to 50 atm, residual up to 0.3; used beyond by extrapolation.

    >>> round(100 * laminar_speed("isooctane", 1.0, 298.0, 101325.0), 2)
    24.87
    >>> round(100 * laminar_speed("isooctane", 1.0, 700.0, 20 * 101325.0), 3)
    99.085
    """
    b_m, b_2, phi_m, alpha, beta = burning_coefficients(fuel_key, phi)
    cold = b_m + b_2 * (phi - phi_m) ** 2
    return cold * (temperature / 298.0) ** alpha * (pressure / P_ATM) ** beta * residual_factor(residual)


def residual_factor(residual: float) -> float:
    """Reduction of burning speed by residual gas of mole fraction ``residual``: 1 - 2.06 x^0.77, not below 0."""
    if not 0.0 <= residual <= 1.0:
        msg = f"residual mole fraction {residual:g} is outside 0 to 1: give a fraction, not per cent."
        raise InputError(msg)
    return max(0.0, 1.0 - 2.06 * residual**0.77)


def knock_delay(octane: float, pressure: float, temperature: float) -> float:
    """Autoignition delay of the end gas, s: Douaud & Eyzat 1978, SAE 780080 (from memory).

    17.68 ms (ON/100)^3.402 p^-1.7 exp(3800/T), p in atm, T in K; octane number 80 to 100, petrol.

    >>> round(1e3 * knock_delay(95.0, 40 * 101325.0, 850.0), 5)
    2.45328
    """
    for name, value in (("octane number", octane), ("pressure", pressure), ("temperature", temperature)):
        if not value > 0.0:
            msg = f"{name} {value:g} must be above zero to give a knock delay."
            raise InputError(msg)
    return 17.68e-3 * (octane / 100.0) ** 3.402 * (pressure / P_ATM) ** -1.7 * math.exp(3800.0 / temperature)


def guelder_ethanol(phi: float) -> float:
    """Ethanol at 298 K, 1 atm, m/s, as published (Guelder 1984): what the parabola stands for."""
    return 0.465 * phi**0.25 * math.exp(-6.34 * (phi - 1.075) ** 2)


def _ethanol_energy_share(key: str) -> float:
    from pullcast.gasdata.tables import gas_table

    mass = {component.species: y for component, y in fuel_recipe(key).mass_fractions()}
    y = mass.get(ETHANOL.species, 0.0)
    if y in (0.0, 1.0):
        return y
    return y * float(gas_table("ethanol", 1.0).mix[4] / gas_table(key, 1.0).mix[4])


def _pure(key: str, phi: float) -> tuple[float, float, float, float, float]:
    if key == "ethanol":
        beta = -0.17 / math.sqrt(phi) if phi >= 1.0 else -0.17 * math.sqrt(phi)
        return (*_ethanol_parabola(), 1.75, beta)
    if key == "methane":
        return _methane(phi)
    b_m, b_2, phi_m = _KECK[key]
    beta = -0.16 + 0.22 * (phi - 1.0)
    if key == "petrol":
        return b_m, b_2, phi_m, 2.4 - 0.271 * phi**3.51, min(-0.357 + 0.14 * phi**2.77, beta)
    return b_m, b_2, phi_m, 2.18 - 0.8 * (phi - 1.0), beta


def _mixed(a: tuple, b: tuple, share_b: float) -> tuple[float, float, float, float, float]:
    """Weighted sum of two parabolas and of their exponents."""
    weights = ((1.0 - share_b, a), (share_b, b))
    curve = sum(s * np.polynomial.Polynomial([f[0] + f[1] * f[2] ** 2, -2.0 * f[1] * f[2], f[1]]) for s, f in weights)
    alpha, beta = (sum(s * f[k] for s, f in weights) for k in (3, 4))
    return (*_vertex(curve.coef), alpha, beta)


def _vertex(c: np.ndarray) -> tuple[float, float, float]:
    """(B_M, B_2, phi_M) of c0 + c1 phi + c2 phi^2."""
    middle = -c[1] / (2.0 * c[2])
    return float(c[0] - c[2] * middle**2), float(c[2]), float(middle)


@cache
def _ethanol_parabola() -> tuple[float, float, float]:
    phi = np.linspace(0.7, 1.4, 71)
    speed = [guelder_ethanol(x) for x in phi]
    return _vertex(np.polynomial.Polynomial.fit(phi, speed, 2).convert().coef)


def _methane(phi: float) -> tuple[float, float, float, float, float]:
    cold = [s * (298.0 / 300.0) ** a * (P_ATM / 1.0e5) ** b for s, a, b in _GU]
    curve = np.polynomial.Polynomial.fit(_GU_PHI, cold, 2).convert()
    alpha = float(np.interp(phi, _GU_PHI, [row[1] for row in _GU]))
    beta = float(np.interp(phi, _GU_PHI, [row[2] for row in _GU]))
    return (*_vertex(curve.coef), alpha, beta)
