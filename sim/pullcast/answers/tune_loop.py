"""Spark loops: torque over spark at one speed from one marched gas exchange; best, knock-limited and lost torque."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from pullcast.answers.performance import friction_pressure, plenum
from pullcast.card.engine import Engine
from pullcast.errors import InputError
from pullcast.kernels import closed as C
from pullcast.kernels import layout as L
from pullcast.solve.charge import Charge, own_sparks, spark_loop
from pullcast.solve.settle import Point

# MBT is by tradition the *minimum* advance for best torque (Heywood 1988, note in sec. 9.1; from memory): the latest
# spark whose torque cannot be told from the highest. Averaged readings of a steady brake resolve about a tenth of a
# per cent, the accuracy class of usual load cells (common practice, no source); single pulls repeat to 0.3 to 0.7 %.
RESOLUTION = 0.001
FLAT = 0.005  # share of the best torque within which a loop counts as flat
AIM = 7.0  # deg after TDC, CA50 about which a loop is laid
BELOW, ABOVE = 24.0, 12.0  # deg of the loop on either side of the spark that gives AIM
EARLIEST, LATEST = 58.0, -10.0  # deg before TDC that the cylinder can be asked for
OCTANE_POWER = 3.402  # Douaud & Eyzat 1978: the delay grows as octane to this power


@dataclass(frozen=True)
class Base:
    """The marched point a loop starts from, apart from its closed cycles: work per cycle (J) and what else counts."""

    engine: Engine
    rpm: float
    work: float  # gross and pumping work of all cylinders at the march's own spark, J
    closed: float  # of it the closed part, by the same kernel as the loop's
    spark: float
    ca50: float
    torque: float
    p_intake: float
    work_open: float  # of it that between exhaust opening and bottom centre, J
    p_open: float  # Pa, at exhaust opening, mean over cylinders
    fuel: float  # kg per cycle, all cylinders
    trapped_fuel: float
    residual: float

    def torque_of(self, closed: float, p_max: float, p_open: float) -> float:
        """Brake torque, N m, with another closed work (J), mean peak pressure and pressure at exhaust opening (Pa).

        The work of the blow-down's part of the expansion stroke goes with the pressure it starts from.
        """
        V = self.engine.block.displacement
        blow_down = self.work_open * (p_open / self.p_open - 1.0)
        indicated = (self.work + closed - self.closed + blow_down) / V
        return (indicated - friction_pressure(self.engine, self.rpm, p_max, self.p_intake)) * V / (4 * np.pi)


def base_of(engine: Engine, point: Point, charge: Charge) -> Base:
    """What a loop needs of a marched point."""
    out = point.out
    own = own_sparks(charge, out[:, L.C_SPARK])
    p_intake, _ = plenum(engine, point)
    base = Base(engine, point.rpm, float((out[:, L.C_WORK_GROSS] + out[:, L.C_WORK_PUMP]).sum()),
                float(own[:, C.R_WORK].sum()), float(out[:, L.C_SPARK].mean()), float(own[:, C.R_CA50].mean()), 0.0,
                p_intake, float(out[:, L.C_WORK_OPEN].sum()), float(own[:, C.R_P_OPEN].mean()),
                float(point.books[L.B_FUEL]), charge.fuel, float(out[:, L.C_RESIDUAL].mean()))
    return replace(base, torque=base.torque_of(base.closed, float(out[:, L.C_P_MAX].mean()), base.p_open))


def base_between(bases: Sequence[Base], weights: Sequence[float]) -> Base:
    """What a loop needs between marched points that differ in mixture alone: their numbers by ``weights``."""
    names = ("work", "closed", "spark", "ca50", "torque", "p_intake", "work_open", "p_open", "fuel", "trapped_fuel",
             "residual")
    return replace(bases[0], **{n: float(np.dot(weights, [getattr(b, n) for b in bases])) for n in names})


@dataclass(frozen=True)
class SparkLoop:
    """A spark loop at ``rpm``: rows over ``sparks`` (deg before firing TDC, rising).

    ``torque`` N m; ``knock`` the highest integral of any cylinder; ``ca50`` and ``duration`` (10-90 %) deg, ``p_max``
    Pa, ``t_open`` K at exhaust opening: means over cylinders. ``octane`` is the fuel's.
    """

    rpm: float
    sparks: np.ndarray
    torque: np.ndarray
    knock: np.ndarray
    ca50: np.ndarray
    duration: np.ndarray
    p_max: np.ndarray
    t_open: np.ndarray
    octane: float
    base: Base

    def at(self, name: str, spark: float) -> float:
        """A column between its rows by a cubic spline; nan outside the loop."""
        from scipy.interpolate import CubicSpline

        values = getattr(self, name)
        good = np.isfinite(values)
        if good.sum() < 4:
            return float("nan")
        return float(CubicSpline(self.sparks[good], values[good], extrapolate=False)(spark))

    @cached_property
    def peak(self) -> float:
        """Spark of the highest torque, deg: the top of the spline through the loop, an end if it rises there."""
        from scipy.interpolate import CubicSpline

        curve = CubicSpline(self.sparks, self.torque)
        tops = [s for s in curve.derivative().roots(extrapolate=False) if np.isfinite(s)]
        return float(max([*tops, self.sparks[0], self.sparks[-1]], key=curve))

    @cached_property
    def mbt(self) -> float:
        """Minimum spark for best torque, deg: the latest that is within ``RESOLUTION`` of the highest torque; the
        loop's end where that is its highest."""
        return self._within(RESOLUTION)[0] if self.inside else self.peak

    @property
    def inside(self) -> bool:
        """True when the highest torque lies within the loop, not at its end."""
        return bool(self.sparks[0] < self.peak < self.sparks[-1])

    @property
    def knock_limit(self) -> float:
        """Spark at which the worst cylinder's end gas just ignites by itself, deg; see :meth:`knock_at`."""
        return self.knock_at(1.0)

    def knock_at(self, level: float) -> float:
        """Spark at which the worst cylinder's knock integral reaches ``level``, deg; inf when it never does in the
        loop, -inf when it is above at every spark of it."""
        from scipy.interpolate import PchipInterpolator

        if self.knock.max() < level:
            return float("inf")
        if self.knock[0] > level:
            return float("-inf")
        return float(PchipInterpolator(self.sparks, self.knock).solve(level, extrapolate=False)[0])

    def best(self, how: str = "mbt", level: float = 1.0) -> float:
        """Spark to run at, deg: "mbt", or "knock-limited" (MBT or where the knock integral reaches ``level``, the
        later of the two)."""
        if how == "mbt":
            return self.mbt
        return float(np.clip(self.knock_at(level), self.sparks[0], self.mbt))

    @property
    def highest(self) -> float:
        """The highest torque, N m."""
        return self.at("torque", self.peak)

    @property
    def best_torque(self) -> float:
        """Torque at MBT, N m."""
        return self.at("torque", self.mbt)

    def loss(self, off: float) -> float:
        """Share of the torque at MBT lost ``off`` deg later (negative: earlier); nan outside the loop."""
        return 1.0 - self.at("torque", self.mbt - off) / self.best_torque

    @property
    def flat(self) -> tuple[float, float]:
        """Latest and earliest spark that keep torque within ``FLAT`` of the highest, deg."""
        return self._within(FLAT)

    def _within(self, share: float) -> tuple[float, float]:
        """Latest and earliest spark within ``share`` of the highest torque, deg; the loop's ends at most."""
        from scipy.interpolate import CubicSpline

        curve = CubicSpline(self.sparks, self.torque - (1.0 - share) * self.highest)
        roots = [r for r in curve.roots(extrapolate=False) if np.isfinite(r)]
        low = max((r for r in roots if r < self.peak), default=self.sparks[0])
        return float(low), float(min((r for r in roots if r > self.peak), default=self.sparks[-1]))

    def octane_needed(self, spark: float | None = None) -> float:
        """Octane number that just bears ``spark`` (default MBT); the integral goes as octane^-3.402."""
        return self.octane * self.at("knock", self.mbt if spark is None else spark) ** (1.0 / OCTANE_POWER)


def sparks_about(base: Base, count: int, aim: float = AIM, below: float = BELOW, above: float = ABOVE) -> np.ndarray:
    """``count`` sparks about the one that would put CA50 at ``aim``, deg before firing TDC, rising."""
    middle = base.spark + (base.ca50 - aim)
    high = min(middle + above, EARLIEST)
    return np.linspace(max(high - below - above, LATEST), high, count)


def loop_of(charge: Charge, base: Base, sparks: Sequence[float]) -> SparkLoop:
    """The spark loop of a charge. Raises InputError for fewer than 5 sparks, or ones that do not rise or fit."""
    sparks = np.asarray(sparks, dtype=float)
    if sparks.size < 5 or (np.diff(sparks) <= 0).any() or sparks[0] < -30.0 or sparks[-1] > 60.0:
        msg = f"a spark loop needs 5 or more rising sparks from -30 to 60 deg before TDC, not {sparks.tolist()}"
        raise InputError(msg)
    r = spark_loop(charge, sparks)
    p_max = r[:, :, C.R_P_MAX].mean(axis=1)
    columns = r[:, :, C.R_WORK].sum(axis=1), p_max, r[:, :, C.R_P_OPEN].mean(axis=1)
    torque = [base.torque_of(*row) for row in zip(*columns, strict=True)]
    return SparkLoop(charge.rpm, sparks, np.array(torque), r[:, :, C.R_KNOCK].max(axis=1),
                     r[:, :, C.R_CA50].mean(axis=1), r[:, :, C.R_DURATION].mean(axis=1), p_max,
                     r[:, :, C.R_T_OPEN].mean(axis=1), charge.octane, base)
