"""A vessel that empties through a choked orifice.

Adiabatic, well stirred, perfect gas: p/p0 = (1 + (gamma-1)/2 t/tau)^(-2 gamma/(gamma-1)) (e.g. Shapiro 1953, vol. 1,
ch. 4; derived here from mass and energy conservation). SI units.
"""

from __future__ import annotations

import numpy as np


def time_constant(volume: float, area: float, T0: float, gamma: float = 1.4, R: float = 287.05) -> float:
    """Time constant tau, s: volume over (area times choked flow function times sqrt(R T0))."""
    choked = np.sqrt(gamma) * (2 / (gamma + 1)) ** ((gamma + 1) / (2 * (gamma - 1)))
    return float(volume / (area * choked * np.sqrt(R * T0)))


def choked_pressure(t: float, p0: float, tau: float, gamma: float = 1.4) -> float:
    """Pressure (Pa) after ``t`` seconds while the orifice stays choked."""
    return float(p0 * (1 + 0.5 * (gamma - 1) * t / tau) ** (-2 * gamma / (gamma - 1)))
