"""Steady one-dimensional flow of a perfect gas: isentropic nozzle, normal shock, Fanno, Rayleigh, and all at once.

Relations: Liepmann & Roshko 1957, *Elements of Gasdynamics*, ch. 2 and 5; Shapiro 1953, *The Dynamics and
Thermodynamics of Compressible Fluid Flow*, vol. 1, ch. 6-8 (influence coefficients, table 8.1) (equation places from
memory). Ratios are dimensionless; where dimensions appear they are SI.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq


def area_ratio(mach: float, gamma: float = 1.4) -> float:
    """A/A* of isentropic flow."""
    k = (gamma + 1) / (2 * (gamma - 1))
    return (2 / (gamma + 1) * (1 + 0.5 * (gamma - 1) * mach**2)) ** k / mach


def mach_at(ratio: float, supersonic: bool, gamma: float = 1.4) -> float:
    """Mach number at A/A* = ``ratio`` (>= 1) on the branch asked for."""
    if ratio <= 1:
        return 1.0
    span = (1.0, 50.0) if supersonic else (1e-9, 1.0)
    return brentq(lambda m: area_ratio(m, gamma) - ratio, *span, xtol=1e-15)


def total_over_static(mach: float, gamma: float = 1.4) -> float:
    """p0/p."""
    return (1 + 0.5 * (gamma - 1) * mach**2) ** (gamma / (gamma - 1))


def normal_shock(mach: float, gamma: float = 1.4) -> tuple[float, float, float]:
    """Mach number behind, p2/p1 and p02/p01 of a normal shock at Mach ``mach`` >= 1."""
    m2 = mach**2
    behind = np.sqrt((1 + 0.5 * (gamma - 1) * m2) / (gamma * m2 - 0.5 * (gamma - 1)))
    p = 1 + 2 * gamma / (gamma + 1) * (m2 - 1)
    return behind, p, p * total_over_static(behind, gamma) / total_over_static(mach, gamma)


class ShockedNozzle(NamedTuple):
    """Nozzle choked at its throat with a shock in the divergence."""

    mach_ahead: float
    area_at_shock: float  # over the throat area
    total_ratio: float  # p02/p01
    mach_exit: float


def nozzle_with_shock(exit_area: float, back_pressure: float, gamma: float = 1.4) -> ShockedNozzle:
    """Shock of a nozzle by its exit area over throat area and back pressure over inlet total pressure.

    ValueError if no normal shock stands inside at that pressure.
    """
    def through(m: float) -> float:  # p A/(p01 A_throat) at the exit, from p02 A2* = p01 A_throat
        return area_ratio(m, gamma) / total_over_static(m, gamma)

    target = back_pressure * exit_area
    low = f"no shock inside: back pressure ratio {back_pressure:g} is too low for exit area ratio {exit_area:g}"
    if target <= through(1.0):
        raise ValueError(low)
    exit_mach = brentq(lambda m: through(m) - target, 1e-6, 1.0, xtol=1e-15)
    total = area_ratio(exit_mach, gamma) / exit_area
    if total >= 1:
        msg = f"no shock inside: back pressure ratio {back_pressure:g} leaves the throat subsonic"
        raise ValueError(msg)
    ahead = brentq(lambda m: normal_shock(m, gamma)[2] - total, 1.0, 50.0, xtol=1e-14)
    if area_ratio(ahead, gamma) > exit_area:
        raise ValueError(low)
    return ShockedNozzle(ahead, area_ratio(ahead, gamma), total, exit_mach)


def fanno_length(mach: float, gamma: float = 1.4) -> float:
    """Darcy f L*/D from Mach ``mach`` to choking (= 4 f L*/D with Fanning's f)."""
    m2 = mach**2
    k = (gamma + 1) * m2 / (2 + (gamma - 1) * m2)
    return (1 - m2) / (gamma * m2) + (gamma + 1) / (2 * gamma) * np.log(k)


def rayleigh_total_temperature(mach: float, gamma: float = 1.4) -> float:
    """T0/T0* of frictionless heating in a straight pipe."""
    m2 = mach**2
    return (gamma + 1) * m2 * (2 + (gamma - 1) * m2) / (1 + gamma * m2) ** 2


def mass_flux(p0: float, T0: float, mach: float, gamma: float = 1.4, R: float = 287.05) -> float:
    """rho u (kg/(m2 s)) at Mach ``mach`` with total state p0 (Pa), T0 (K)."""
    k = (gamma + 1) / (2 * (gamma - 1))
    return p0 * mach * np.sqrt(gamma / (R * T0)) * (1 + 0.5 * (gamma - 1) * mach**2) ** -k


class Duct(NamedTuple):
    """A round duct for ``generalised_flow``; functions of x (m)."""

    length: float
    area: Callable[[float], float]  # m2
    roughness: float = 0.0  # m
    loss: float = 0.0  # loss coefficient spread evenly over the length
    friction: float = 0.0  # factor on the Darcy factor
    heat: float = 0.0  # factor on the Nusselt number
    wall: float = 300.0  # K


def viscosity(T: float) -> float:
    """Sutherland's law for air, Pa s (White, *Viscous Fluid Flow*, table 1-2; from memory)."""
    return 1.716e-5 * (T / 273.15) ** 1.5 * (273.15 + 110.4) / (T + 110.4)


def darcy(re: float, relative_roughness: float) -> float:
    """Darcy friction factor, laminar to rough turbulent (Churchill 1977)."""
    a = (-2.457 * np.log((7 / re) ** 0.9 + 0.27 * relative_roughness)) ** 16
    b = (37530 / re) ** 16
    return 8 * ((8 / re) ** 12 + (a + b) ** -1.5) ** (1 / 12)


def generalised_flow(duct: Duct, flow: float, p: float, T: float, gamma: float = 1.4, R: float = 287.05,
                     points: int = 201) -> np.ndarray:
    """Subsonic flow with area change, friction and wall heat, from the inlet's static p (Pa) and T (K).

    Returns (5, points): x (m), p (Pa), T (K), u (m/s), Mach. Heat flows by 4 h/D (T_wall - T) with T the static
    temperature and h by Colburn's analogy 0.023 Re^0.8 Pr^(1/3), Pr 0.71. ``flow`` in kg/s. Shapiro's influence
    coefficients in conservation form: mass, momentum and energy are integrated as algebraic-differential equations
    for p and T.
    """
    cp = gamma * R / (gamma - 1)

    def slopes(x: float, y: np.ndarray) -> list[float]:
        p, T = y
        A = duct.area(x)
        h = 1e-6 * duct.length
        dlnA = (np.log(duct.area(x + h)) - np.log(duct.area(x - h))) / (2 * h)
        D = np.sqrt(4 * A / np.pi)
        rho = p / (R * T)
        u = flow / (rho * A)
        mu = viscosity(T)
        re = rho * u * D / mu
        drag = 0.5 * (duct.friction * darcy(re, duct.roughness / D) / D + duct.loss / duct.length) * u**2
        nu = duct.heat * max(0.023 * re**0.8 * 0.71 ** (1 / 3), 3.66)
        heat = 4 * nu * mu * cp / 0.71 / D**2 * (duct.wall - T) / (rho * u)  # J/kg per metre
        # dp/rho + u du = -drag dx;  cp dT + u du = heat dx;  du/u = dT/T - dp/p - dA/A
        m = np.array([[1 / rho - u**2 / p, u**2 / T], [-(u**2) / p, cp + u**2 / T]])
        return np.linalg.solve(m, [u**2 * dlnA - drag, u**2 * dlnA + heat])

    def near_sonic(x: float, y: np.ndarray) -> float:
        return flow * R * y[1] / (y[0] * duct.area(x)) - 0.999 * np.sqrt(gamma * R * y[1])

    near_sonic.terminal = True
    x = np.linspace(0, duct.length, points)
    sol = solve_ivp(slopes, (0, duct.length), [p, T], t_eval=x, rtol=1e-10, atol=1e-8, events=near_sonic)
    if sol.status != 0:
        msg = f"the flow chokes before the end of the duct (flow {flow:g} kg/s, inlet {p:g} Pa)"
        raise ValueError(msg)
    p, T = sol.y
    A = np.array([duct.area(v) for v in x])
    u = flow * R * T / (p * A)
    return np.array([x, p, T, u, u / np.sqrt(gamma * R * T)])


def orifice_flux(p0: float, T0: float, p: float, gamma: float = 1.4, R: float = 287.05) -> float:
    """Flow per effective area (kg/(m2 s)) of a compressible orifice, choked or not (Heywood 1988, app. C)."""
    r = max(p / p0, (2 / (gamma + 1)) ** (gamma / (gamma - 1)))
    return p0 / np.sqrt(R * T0) * np.sqrt(2 * gamma / (gamma - 1) * (r ** (2 / gamma) - r ** ((gamma + 1) / gamma)))
