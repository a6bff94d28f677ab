"""Where the shipped tables have their nodes, and the polynomials between them.

Shared by the builder and the loader, so that both agree. Numbers only.
"""

from __future__ import annotations

import numpy as np

T_REF = 298.15
T_FROZEN, P_FROZEN = 1700.0, 5.0e5  # the frozen burned composition is that of equilibrium here, K and Pa
T_BLEND = (1500.0, 1750.0)  # the equilibrium increment fades in between these temperatures, K

# Dense about lambda = 1, where the burned composition turns from carbon monoxide to oxygen.
LAMBDAS = np.array([0.70, 0.75, 0.80, 0.85, 0.89, 0.92, 0.945, 0.965, 0.98, 0.99, 0.995, 0.998, 0.9995,
                    1.0, 1.0005, 1.002, 1.005, 1.01, 1.02, 1.04, 1.07, 1.11, 1.17, 1.24, 1.32, 1.40])
HUMIDITIES = np.array([0.0, 0.035])  # kg water per kg dry air

# Stored: Chebyshev coefficients in (T, ln p). Served: values on a uniform grid.
EQ_T = (1400.0, 3600.0)
EQ_LNP = (float(np.log(0.2e5)), float(np.log(250.0e5)))
CHEB = (22, 12)
GRID = (111, 37)


def cheb_points(low: float, high: float, count: int) -> np.ndarray:
    """Chebyshev points of the first kind in [low, high], shape (count,)."""
    return low + (high - low) * (np.polynomial.chebyshev.chebpts1(count) + 1.0) / 2.0


def cheb_matrix(x: np.ndarray, low: float, high: float, count: int) -> np.ndarray:
    """Chebyshev polynomials 0..count-1 at ``x`` scaled to [low, high], shape (x.size, count)."""
    return np.polynomial.chebyshev.chebvander(2.0 * (np.asarray(x) - low) / (high - low) - 1.0, count - 1)


def cheb_coefficients(values: np.ndarray) -> np.ndarray:
    """Coefficients from values at ``cheb_points`` in T (rows) and ln p (columns); shape kept."""
    for axis in (0, 1):
        n = values.shape[axis]
        inverse = np.linalg.inv(cheb_matrix(cheb_points(-1.0, 1.0, n), -1.0, 1.0, n))
        values = np.moveaxis(np.tensordot(inverse, values, (1, axis)), 0, axis)
    return values


def grid_axes() -> tuple[np.ndarray, np.ndarray]:
    """Uniform T (K) and ln(p/Pa) nodes of the served increment tables."""
    return np.linspace(*EQ_T, GRID[0]), np.linspace(*EQ_LNP, GRID[1])


def blend(T: np.ndarray) -> np.ndarray:
    """Weight of the equilibrium increment: 0 up to 1500 K, 1 from 1750 K, smooth (3 s^2 - 2 s^3) between."""
    s = np.clip((np.asarray(T, float) - T_BLEND[0]) / (T_BLEND[1] - T_BLEND[0]), 0.0, 1.0)
    return s * s * (3.0 - 2.0 * s)


def fit_cp(T: np.ndarray, cp: np.ndarray, weight: np.ndarray, count: int) -> np.ndarray:
    """Weighted least-squares coefficients of cp (J/(kg K)) over powers of T/1000, shape (count,)."""
    A = (T[:, None] * 1e-3) ** np.arange(count)
    return np.linalg.lstsq(A * weight[:, None], cp * weight, rcond=None)[0]


def integrate_cp(cp: np.ndarray) -> np.ndarray:
    """Coefficients of sensible enthalpy (J/kg, zero at 298.15 K) from those of cp; last axis grows by one."""
    cp = np.asarray(cp)
    k = np.arange(1, cp.shape[-1] + 1)
    tail = 1000.0 * cp / k
    zero = -(tail * (T_REF * 1e-3) ** k).sum(axis=-1, keepdims=True)
    return np.concatenate([zero, tail], axis=-1)
