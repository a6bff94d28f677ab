"""Mixture loops: torque and consumption over lambda, each lambda at its own best spark, and at one spark held.

Fuel cools the air on its way in and takes up room, and exhaust is hottest about lambda 1, which moves the tuned
speeds of the pipes: so breathing depends on the mixture. A loop from one march alone leaves most of that out: it was
up to 0.5 % of torque, and 0.02 in the lambda of best torque, from marches of their own. With marches at its ends and
at lambda 1 it keeps within 0.1 % and 0.006.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers.tune_loop import Base, SparkLoop, base_between, loop_of
from pullcast.errors import InputError
from pullcast.gasdata.tables import gas_table
from pullcast.solve.charge import Charge, charge_between, strength_weights

LAMBDAS = (0.78, 0.82, 0.85, 0.88, 0.91, 0.94, 0.97, 1.0, 1.04, 1.09, 1.15)
HALF = 9.0  # deg of the short spark loop of a lambda, on either side of the spark that keeps the CA50 of MBT
SHORT = 7  # sparks of it
NEAR = 0.02  # of lambda: a march so close to another adds nothing


@dataclass(frozen=True)
class MixtureLoop:
    """A mixture loop at ``rpm``: rows over ``lambdas``. ``torque`` N m, ``bsfc`` kg/J, ``spark`` deg; ``how`` says at
    which spark each lambda was run ("mbt" or "knock-limited"). ``held_torque``: N m with the spark held at
    ``held_spark``, the best of the card's mixture, as a loop is pulled on a brake; nan where that is far off."""

    rpm: float
    lambdas: np.ndarray
    torque: np.ndarray
    bsfc: np.ndarray
    spark: np.ndarray
    how: str
    held_torque: np.ndarray
    held_spark: float

    @property
    def held(self) -> MixtureLoop:
        """The loop with the spark held, over the lambdas that bear it."""
        kept = np.isfinite(self.held_torque)
        return replace(self, lambdas=self.lambdas[kept], torque=self.held_torque[kept],
                       bsfc=(self.bsfc * self.torque / self.held_torque)[kept],
                       spark=np.full(kept.sum(), self.held_spark), held_torque=self.held_torque[kept])

    @property
    def best_torque_lambda(self) -> float:
        """Lambda of the highest torque (spline; an end of the loop if it is there)."""
        return _lowest(self.lambdas, -self.torque)

    @property
    def best_economy_lambda(self) -> float:
        """Lambda of the lowest consumption per work. Misfire of a lean mixture is not in the model."""
        return _lowest(self.lambdas, self.bsfc)

    def torque_at(self, lambda_: float) -> float:
        """Torque, N m, between the rows; nan outside them."""
        return float(_between(self.lambdas, self.torque, lambda_))

    def loss(self, lambda_: float) -> float:
        """Share of the best torque lost at ``lambda_``."""
        return 1.0 - self.torque_at(lambda_) / self.torque_at(self.best_torque_lambda)

    @property
    def flat(self) -> tuple[float, float]:
        """Richest and leanest lambda that keep torque within half a per cent of the best."""
        fine = np.linspace(self.lambdas[0], self.lambdas[-1], 1481)
        kept = fine[_between(self.lambdas, self.torque, fine) >= 0.995 * self.torque_at(self.best_torque_lambda)]
        return float(kept[0]), float(kept[-1])


def _between(x: np.ndarray, y: np.ndarray, at) -> np.ndarray:
    """Values between rows: one cubic spline for rich, one for lean, since burning turns a corner at lambda 1."""
    from scipy.interpolate import CubicSpline

    at = np.asarray(at, dtype=float)
    sides = [side for side in (x <= 1.0, x >= 1.0) if side.sum() > 3]
    if len(sides) < 2 or 1.0 not in x:
        return CubicSpline(x, y, extrapolate=False)(at)
    rich, lean = (CubicSpline(x[side], y[side], extrapolate=False) for side in sides)
    return np.where(at <= 1.0, rich(np.minimum(at, 1.0)), lean(np.maximum(at, 1.0)))


def _lowest(x: np.ndarray, y: np.ndarray) -> float:
    """Where the curve through the rows is lowest, to 0.0005."""
    fine = np.linspace(x[0], x[-1], round((x[-1] - x[0]) / 5e-4) + 1)
    return float(fine[np.argmin(_between(x, y, fine))])


def marched_lambdas(engine, lambdas=LAMBDAS) -> tuple[float, ...]:
    """Lambdas to march at for a loop over ``lambdas`` beside the engine's own: the ends of the loop and 1, where the
    exhaust is hottest; none within ``NEAR`` of another or of the engine's."""
    wanted = [float(lambdas[0]), float(lambdas[-1])]
    if lambdas[0] + NEAR < 1.0 < lambdas[-1] - NEAR:
        wanted.insert(1, 1.0)
    return tuple(lam for lam in wanted if abs(lam - engine.mixture.lambda_) > NEAR)


def mixture_loop(charge: Charge, loop: SparkLoop, how: str = "mbt", lambdas=LAMBDAS,
                 others: Sequence[tuple[Charge, Base]] = ()) -> MixtureLoop:
    """The mixture loop of a charge whose spark loop is ``loop``; every lambda is run at its own best spark and at
    that of ``loop``.

    ``others`` are charges and bases of marches of this speed at other lambdas: with them the gas exchange follows the
    mixture; without, air and pumping stay those of ``charge``. Raises InputError for fewer than 5 lambdas or ones
    that do not rise.
    """
    lambdas = np.asarray(lambdas, dtype=float)
    if lambdas.size < 5 or (np.diff(lambdas) <= 0).any():
        msg = f"a mixture loop needs 5 or more rising lambdas, not {lambdas.tolist()}"
        raise InputError(msg)
    rows, middle = [], loop.peak
    charges, bases = [charge, *(c for c, _ in others)], [loop.base, *(b for _, b in others)]
    marched = [c.engine.mixture.lambda_ for c in charges]
    speed, held = charge.rpm / 120, loop.best(how)
    for lam in lambdas:
        mixed, base = charge_between(charges, float(lam)), base_between(bases, strength_weights(marched, float(lam)))
        short = _short_loop(mixed, base, middle)
        spark = short.best(how)
        torque = short.at("torque", spark)
        fuel = base.fuel * mixed.fuel / base.trapped_fuel * speed
        power = torque * charge.rpm * np.pi / 30
        rows.append((torque, fuel / power if power > 0 else np.nan, spark, short.at("torque", held)))
        middle = short.peak
    torque, bsfc, spark, with_held = (np.array(c) for c in zip(*rows, strict=True))
    return MixtureLoop(charge.rpm, lambdas, torque, bsfc, spark, how, with_held, held)


def _short_loop(charge: Charge, base: Base, middle: float) -> SparkLoop:
    """A spark loop about ``middle``, moved on while its best torque is at an end."""
    for _ in range(5):
        high = min(middle + HALF, 59.0)
        loop = loop_of(charge, base, np.linspace(high - 2 * HALF, high, SHORT))
        if loop.inside or (loop.peak >= 59.0):
            return loop
        middle = loop.peak
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
