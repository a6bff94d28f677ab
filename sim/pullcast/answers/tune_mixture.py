"""Mixture loops: torque and consumption over lambda, each lambda at its own best spark, from one gas exchange."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers.tune_loop import Base, SparkLoop, loop_of
from pullcast.errors import InputError
from pullcast.gasdata.tables import gas_table
from pullcast.solve.charge import Charge, at_lambda

LAMBDAS = (0.78, 0.82, 0.85, 0.88, 0.91, 0.94, 0.97, 1.0, 1.04, 1.09, 1.15)
HALF = 9.0  # deg of the short spark loop of a lambda, on either side of the spark that keeps the CA50 of MBT
SHORT = 7  # sparks of it


@dataclass(frozen=True)
class MixtureLoop:
    """A mixture loop at ``rpm``: rows over ``lambdas``. ``torque`` N m, ``bsfc`` kg/J, ``spark`` deg; ``how`` says at
    which spark each lambda was run ("mbt" or "knock-limited")."""

    rpm: float
    lambdas: np.ndarray
    torque: np.ndarray
    bsfc: np.ndarray
    spark: np.ndarray
    how: str

    @property
    def best_torque_lambda(self) -> float:
        """Lambda of the highest torque (spline; an end of the loop if it is there)."""
        return _lowest(self.lambdas, -self.torque)

    @property
    def best_economy_lambda(self) -> float:
        """Lambda of the lowest consumption per work. Misfire of a lean mixture is not in the model."""
        return _lowest(self.lambdas, self.bsfc)

    def torque_at(self, lambda_: float) -> float:
        """Torque, N m, between the rows."""
        from scipy.interpolate import CubicSpline

        return float(CubicSpline(self.lambdas, self.torque, extrapolate=False)(lambda_))

    def loss(self, lambda_: float) -> float:
        """Share of the best torque lost at ``lambda_``."""
        return 1.0 - self.torque_at(lambda_) / self.torque_at(self.best_torque_lambda)

    @property
    def flat(self) -> tuple[float, float]:
        """Richest and leanest lambda that keep torque within half a per cent of the best."""
        from scipy.interpolate import CubicSpline

        best = self.best_torque_lambda
        curve = CubicSpline(self.lambdas, self.torque - 0.995 * self.torque_at(best))
        roots = [r for r in curve.roots(extrapolate=False) if np.isfinite(r)]
        low = max((r for r in roots if r < best), default=self.lambdas[0])
        return float(low), float(min((r for r in roots if r > best), default=self.lambdas[-1]))


def _lowest(x: np.ndarray, y: np.ndarray) -> float:
    from scipy.interpolate import CubicSpline

    curve = CubicSpline(x, y)
    bottoms = [s for s in curve.derivative().roots(extrapolate=False) if np.isfinite(s)]
    return float(min([*bottoms, x[0], x[-1]], key=curve))


def mixture_loop(charge: Charge, loop: SparkLoop, how: str = "mbt", lambdas=LAMBDAS) -> MixtureLoop:
    """The mixture loop of a charge whose spark loop is ``loop``; every lambda is run at its own best spark.

    Raises InputError for fewer than 5 lambdas or ones that do not rise.
    """
    lambdas = np.asarray(lambdas, dtype=float)
    if lambdas.size < 5 or (np.diff(lambdas) <= 0).any():
        msg = f"a mixture loop needs 5 or more rising lambdas, not {lambdas.tolist()}"
        raise InputError(msg)
    base, rows, middle = loop.base, [], loop.mbt
    speed = charge.rpm / 120
    for lam in lambdas:
        mixed = at_lambda(charge, float(lam))
        short = _short_loop(mixed, base, middle)
        spark = short.best(how)
        torque = short.at("torque", spark)
        fuel = base.fuel * mixed.fuel / base.trapped_fuel * speed
        power = torque * charge.rpm * np.pi / 30
        rows.append((torque, fuel / power if power > 0 else np.nan, spark))
        middle = short.mbt
    torque, bsfc, spark = (np.array(c) for c in zip(*rows, strict=True))
    return MixtureLoop(charge.rpm, lambdas, torque, bsfc, spark, how)


def _short_loop(charge: Charge, base: Base, middle: float) -> SparkLoop:
    """A spark loop about ``middle``, moved on while its best torque is at an end."""
    for _ in range(5):
        high = min(middle + HALF, 59.0)
        loop = loop_of(charge, base, np.linspace(high - 2 * HALF, high, SHORT))
        if loop.inside or (loop.mbt >= 59.0):
            return loop
        middle = loop.mbt
    return loop


def combustion_efficiency(fuel_key: str, lambda_: float) -> float:
    """Share of the fuel's lower heating value set free by burning to equilibrium products frozen at 1700 K, 5 bar.

    From the gas tables: (formation enthalpy of mixture less that of products)/(fuel's share x LHV) at 298.15 K. Rich
    mixtures lack the oxygen for all of it. What burns incompletely for other reasons is not in here.

    >>> round(combustion_efficiency("petrol", 1.1), 3)
    1.0
    """
    gas = gas_table(fuel_key, lambda_)
    yf = 1.0 / (1.0 + gas.mix[2])
    mixture = (1.0 - yf) * gas.hf[0] + yf * gas.hf[1]
    return float((mixture - gas.hf[2]) / (yf * gas.mix[4]))


def with_lambda(engine, lambda_: float):
    """The engine at another mixture."""
    return replace(engine, mixture=replace(engine.mixture, lambda_=float(lambda_)))
