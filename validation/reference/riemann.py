"""Exact solution of the Riemann problem of a perfect gas.

Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, ch. 4: pressure function eqs. 4.5-4.7, star
velocity eq. 4.9, star densities eqs. 4.50-4.60, sampling sec. 4.5. Consistent units of any kind.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq


class State(NamedTuple):
    """Density, velocity, pressure."""

    rho: float
    u: float
    p: float

    def sound(self, gamma: float) -> float:
        """Sound speed."""
        return float(np.sqrt(gamma * self.p / self.rho))


class Star(NamedTuple):
    """Pressure and velocity between the two outer waves, and the densities on both sides of the contact."""

    p: float
    u: float
    rho_left: float
    rho_right: float


SOD = (State(1.0, 0.0, 1.0), State(0.125, 0.0, 0.1), 0.25)  # Sod 1978; left, right, time
LAX = (State(0.445, 0.698, 3.528), State(0.5, 0.0, 0.571), 0.14)  # Lax 1954
TORO_2 = (State(1.0, -2.0, 0.4), State(1.0, 2.0, 0.4), 0.15)  # Toro table 4.1, test 2: near vacuum
TORO_3 = (State(1.0, 0.0, 1000.0), State(1.0, 0.0, 0.01), 0.012)  # test 3: strong shock
TORO_5 = (State(5.99924, 19.5975, 460.894), State(5.99242, -6.19633, 46.095), 0.035)  # test 5: two shocks collide


def _rise(p: float, s: State, gamma: float) -> float:
    """Velocity change across the wave that joins state ``s`` to pressure ``p`` (Toro eqs. 4.6, 4.7)."""
    if p > s.p:
        return (p - s.p) * np.sqrt(2 / ((gamma + 1) * s.rho) / (p + (gamma - 1) / (gamma + 1) * s.p))
    return 2 * s.sound(gamma) / (gamma - 1) * ((p / s.p) ** ((gamma - 1) / (2 * gamma)) - 1)


def _density(p: float, s: State, gamma: float) -> float:
    """Density behind that wave: Rankine-Hugoniot for a shock, isentropic for a rarefaction."""
    ratio = p / s.p
    if ratio <= 1:
        return s.rho * ratio ** (1 / gamma)
    m = (gamma - 1) / (gamma + 1)
    return s.rho * (ratio + m) / (m * ratio + 1)


def star(left: State, right: State, gamma: float = 1.4) -> Star:
    """Star state. ValueError if a vacuum forms between the states."""
    gap = 2 / (gamma - 1) * (left.sound(gamma) + right.sound(gamma)) - (right.u - left.u)
    if gap <= 0:
        msg = f"the states part so fast that a vacuum forms (u right - u left = {right.u - left.u:g})"
        raise ValueError(msg)

    def residual(p: float) -> float:
        return _rise(p, left, gamma) + _rise(p, right, gamma) + right.u - left.u

    top = max(left.p, right.p)
    while residual(top) < 0:
        top *= 2
    p = brentq(residual, 1e-14 * top, top, xtol=1e-16 * top, rtol=1e-14)
    u = 0.5 * (left.u + right.u) + 0.5 * (_rise(p, right, gamma) - _rise(p, left, gamma))
    return Star(p, u, _density(p, left, gamma), _density(p, right, gamma))


def shock_speed(p: float, s: State, side: int, gamma: float = 1.4) -> float:
    """Speed of the shock that raises ``s`` to ``p``; ``side`` -1: left wave, +1: right (eqs. 4.52, 4.59)."""
    mach = np.sqrt((gamma + 1) / (2 * gamma) * p / s.p + (gamma - 1) / (2 * gamma))
    return s.u + side * s.sound(gamma) * mach


def _side(xi: np.ndarray, s: State, side: int, p: float, u: float, gamma: float) -> np.ndarray:
    """(3, n) solution on one side of the contact; for the left side call with everything mirrored."""
    out = np.empty((3, xi.size))
    rho = _density(p, s, gamma)
    a = s.sound(gamma)
    if p > s.p:
        outer = xi > shock_speed(p, s, side, gamma)
        out[:] = np.where(outer, np.array([[s.rho], [s.u], [s.p]]), np.array([[rho], [u], [p]]))
        return out
    head, tail = s.u + a, u + a * (p / s.p) ** ((gamma - 1) / (2 * gamma))
    fan_u = 2 / (gamma + 1) * (-a + 0.5 * (gamma - 1) * s.u + xi)
    fan_a = np.maximum(xi - fan_u, 0)
    fan_rho = s.rho * (fan_a / a) ** (2 / (gamma - 1))
    fan_p = s.p * (fan_a / a) ** (2 * gamma / (gamma - 1))
    for row, (outside, fan, inside) in enumerate(((s.rho, fan_rho, rho), (s.u, fan_u, u), (s.p, fan_p, p))):
        out[row] = np.where(xi >= head, outside, np.where(xi <= tail, inside, fan))
    return out


def sample(left: State, right: State, xi: np.ndarray, gamma: float = 1.4) -> np.ndarray:
    """(3, n) rho, u, p at the speeds ``xi`` = (x - x0)/t."""
    xi = np.asarray(xi, dtype=float)
    s = star(left, right, gamma)
    after = _side(xi, right, 1, s.p, s.u, gamma)
    mirrored = _side(-xi, State(left.rho, -left.u, left.p), 1, s.p, -s.u, gamma)
    mirrored[1] *= -1
    return np.where(xi > s.u, after, mirrored)
