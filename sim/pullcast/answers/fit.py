"""Bounded least squares of a few unknowns against a measured curve, with priors, and what it says of each.

The residuals are the measured less the modelled torque, whitened by the covariance of the measurement and of the
model's own error, and one row per unknown that pulls it to its prior: the maximum of the posterior for normal errors.
Its spread is that of the linear model there: inverse of J'J with the prior's rows in J (Tarantola, Inverse Problem
Theory (2005), sec. 3.2.3; Kennedy & O'Hagan, J. R. Stat. Soc. B 63 (2001) 425 for the model's own error as a smooth
random curve; both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pullcast.answers.torque_model import TorqueModel

REACH = 600.0  # rpm over which the model's own error keeps its sign: about a tuning wave (assumption, no source)
NEAR_BOUND = 0.05  # sd: closer counts as on the bound
SETTLED = 0.01  # relative change of the sum of squares, or of the unknowns in prior sds, that ends the fit
MAX_STEPS = 12


@dataclass(frozen=True)
class Errors:
    """Relative standard deviations of what is fitted: ``own`` of each speed by itself (m,), ``level`` common to all
    speeds (pulls, refit, dynamometer), ``model`` of the model's own error, smooth over ``REACH``."""

    own: np.ndarray
    level: float
    model: float

    def covariance(self, rpm: np.ndarray, torque: np.ndarray) -> np.ndarray:
        """Covariance (m, m), N2 m2, of torque (m,) at speeds (m,)."""
        apart = (rpm[:, None] - rpm[None, :]) / REACH
        relative = np.diag(self.own**2) + self.level**2 + self.model**2 * np.exp(-0.5 * apart**2)
        return relative * np.outer(torque, torque)


@dataclass(frozen=True)
class Fit:
    """``values`` (p,) and ``covariance`` (p, p) in internal units; ``at_bound`` (p,) "", "low" or "high"; modelled
    torque ``before`` and ``after`` (m,); ``misfit`` sum of squares of all residuals, the priors' included: chi
    square of m degrees of freedom if noise, model error and priors are as assumed;
    ``slopes`` (m, p) N m per prior sd at the end; ``steps`` taken."""

    values: np.ndarray
    covariance: np.ndarray
    at_bound: tuple[str, ...]
    before: np.ndarray
    after: np.ndarray
    misfit: float
    slopes: np.ndarray
    steps: int


def fit(model: TorqueModel, measured: np.ndarray, errors: Errors, factor: float = 1.0) -> Fit:
    """Fit the unknowns of ``model`` to ``measured`` torque (m,) N m; ``factor`` brings the model's to its basis.

    Raises what the model raises; a fit that does not settle in a few steps says so in ``steps`` (the most there are).
    """
    from scipy.linalg import solve_triangular
    from scipy.optimize import least_squares

    priors = model.priors
    middle, sd = (np.array([getattr(p, name) for p in priors]) for name in ("value", "sd"))
    low, high = ((np.array([getattr(p, name) for p in priors]) - middle) / sd for name in ("low", "high"))
    L = np.linalg.cholesky(errors.covariance(np.array(model.speeds), measured))

    def white(y: np.ndarray) -> np.ndarray:
        return solve_triangular(L, y, lower=True)

    def residual(z: np.ndarray) -> np.ndarray:
        return np.concatenate([white(factor * model.torque([middle + sd * z])[0] - measured), z])

    def jacobian(z: np.ndarray) -> np.ndarray:
        return np.vstack([white(factor * model.slopes(middle + sd * z)[1]), np.eye(z.size)])

    start = np.clip(np.zeros(sd.size), low + 0.1, high - 0.1)
    found = least_squares(residual, start, jac=jacobian, bounds=(low, high), x_scale=1.0, xtol=SETTLED,
                          ftol=SETTLED, gtol=1e-3, max_nfev=MAX_STEPS)
    z = np.clip(found.x, low, high)
    slopes = jacobian(z)
    covariance = np.linalg.inv(slopes.T @ slopes) * np.outer(sd, sd)
    bound = tuple("low" if v - a < NEAR_BOUND else "high" if b - v < NEAR_BOUND else ""
                  for v, a, b in zip(z, low, high, strict=True))
    before, after = factor * model.torque([middle, middle + sd * z])
    return Fit(middle + sd * z, covariance, bound, before, after, float(np.sum(residual(z) ** 2)),
               factor * model.slopes(middle + sd * z)[1], int(found.nfev))
