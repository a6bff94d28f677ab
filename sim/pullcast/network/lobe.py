"""The shape of a cam lobe, from the few numbers of a cam card.

A card gives the lift and the duration at one to three check lifts. Between them
the lobe is the smoothest profile (least mean square jerk) whose acceleration

* is continuous and piecewise linear in crank angle (so lift is a cubic spline with two continuous derivatives),
* is positive on the flank and the ramp, negative over the nose, with one change of sign,
* vanishes with velocity and lift where the ramp meets the base circle.

The sign pattern makes lift non-negative and each flank monotone; the check lifts
are equality constraints, so every given duration is met. Splines for cam profiles:
Norton, *Cam Design and Manufacturing Handbook*, ch. 5 (from memory); least jerk as the
choice among all profiles through the given points is ours, with the flank allowed three
times the jerk of the nose (common practice, no source). With two check lifts on the card
that choice is worth 5 to 12 deg of the duration at 0.200 in; a third check lift settles it.

All lifts here are tappet lifts, m; angles are crank degrees from the peak.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from scipy.interpolate import BSpline
from scipy.optimize import lsq_linear

from pullcast.card.engine import Duration, Lobe
from pullcast.errors import InputError

INCH = 0.0254
SEAT_CHECK = 0.006 * INCH  # tappet lift of an estimated advertised duration
MAIN_CHECK = 0.050 * INCH
# advertised minus 0.050 in duration, deg: low, middle, high; common practice, no source
SEAT_TO_MAIN = (32.0, 44.5, 57.0)
INTERVALS = 64
DURATION_TOL = 0.1  # deg
FLANK_STEEPNESS = 3.0  # jerk on the flank counts this much less than over the nose
FLANK_START = 0.6  # of the angle of the highest check lift
_NOSE = 8.0  # deg, width of the rounded corner of the asymmetry


@dataclass(frozen=True)
class LobeShape:
    """A fitted lobe: tappet ``peak`` (m), ``half`` (deg from the peak to the base circle on a symmetric lobe)."""

    peak: float
    half: float
    levels: tuple[tuple[float, float], ...]  # (tappet lift m, duration deg), fitted
    estimated: tuple[Duration, ...]
    skew: float  # dimensionless slope of the asymmetry
    acceleration: BSpline  # of normalised lift over normalised angle, 0 to 1

    def lift(self, angle_deg: np.ndarray, derivative: int = 0) -> np.ndarray:
        """Tappet lift (m) or its derivative (m/deg, m/deg2) at angles (deg) from the peak, closing side positive."""
        angle = np.asarray(angle_deg, float)
        u = self._unskewed(angle)
        t = np.minimum(np.abs(u) / self.half, 1.0)
        inside = np.abs(u) < self.half
        value = np.where(inside, 1.0 + self.acceleration.antiderivative(2)(t), 0.0)
        if derivative == 0:
            return self.peak * np.maximum(value, 0.0)
        slope = np.sign(u) * self.acceleration.antiderivative(1)(t) / self.half * inside
        rate, bend = self._warp(u)
        if derivative == 1:
            return self.peak * slope / rate
        curve = self.acceleration(t) / self.half**2 * inside
        return self.peak * (curve - slope * bend / rate) / rate**2

    def crossing(self, lift: float) -> tuple[float, float]:
        """Angles (deg from the peak; opening negative) at which tappet lift equals ``lift`` (m)."""
        if lift <= 0.0:
            u = self.half
        else:
            t = np.linspace(0.0, 1.0, 20001)
            u = self.half * float(np.interp(-lift / self.peak, -(1.0 + self.acceleration.antiderivative(2)(t)), t))
        return -u + self._shift(u), u + self._shift(u)

    def _shift(self, u):
        return self.skew * (np.hypot(u, _NOSE) - _NOSE)

    def _warp(self, u):
        root = np.hypot(u, _NOSE)
        return 1.0 + self.skew * u / root, self.skew * _NOSE**2 / root**3

    def _unskewed(self, angle):
        """Invert angle = u + skew (hypot(u, w) - w), a quadratic in u."""
        e, c = self.skew, angle + self.skew * _NOSE
        if e == 0.0:
            return angle
        return (c - e * np.sqrt(c * c + _NOSE**2 * (1.0 - e * e))) / (1.0 - e * e)


def tappet_lift(lobe: Lobe, lift: float, side: str) -> float:
    """Tappet lift (m) of ``lift`` (m) at ``side`` "tappet" or "valve": (valve lift + lash)/rocker ratio."""
    return lift if side == "tappet" else (lift + lobe.lash) / lobe.rocker_ratio


def expected_difference(low: float, high: float) -> float:
    """Duration at tappet lift ``low`` minus that at ``high`` (m), deg, for an ordinary lobe.

    The start of a lobe with continuous acceleration is a cubic, which scales the middle of ``SEAT_TO_MAIN``
    to other check lifts. A rule of ours on common practice; used only where a card gives one duration.

    >>> round(expected_difference(SEAT_CHECK, MAIN_CHECK), 6)
    44.5
    """
    width = SEAT_TO_MAIN[1] / (1.0 - (SEAT_CHECK / MAIN_CHECK) ** (1 / 3))
    return width * ((high / MAIN_CHECK) ** (1 / 3) - (low / MAIN_CHECK) ** (1 / 3))


@lru_cache(maxsize=512)
def fit_lobe(lobe: Lobe) -> LobeShape:
    """The smoothest lobe through lift and all durations of ``lobe``.

    Durations are met within 0.1 deg, lift exactly. One lone duration is completed by an estimated one
    (``estimated`` says which). Raises InputError where the numbers contradict each other or no profile with
    monotone flanks passes through them.
    """
    peak = (lobe.lift + lobe.lash) / lobe.rocker_ratio
    levels, estimated = _levels(lobe, peak)
    half = _half_width(levels)
    points = [(d / 2 / half, c / peak) for c, d in levels if c > 0.0]
    shape = LobeShape(peak, half, tuple(levels), estimated, _skew(lobe, levels), _smoothest(points))
    _verify(shape)
    return shape


def _levels(lobe: Lobe, peak: float) -> tuple[list[tuple[float, float]], tuple[Duration, ...]]:
    """(tappet lift, duration) rising in lift, completed to two; and what was estimated."""
    if not (lobe.lift > 0.0 and lobe.rocker_ratio > 0.0 and lobe.lash >= 0.0):
        msg = (f"lobe with lift {1e3 * lobe.lift:g} mm, rocker ratio {lobe.rocker_ratio:g}, "
               f"lash {1e3 * lobe.lash:g} mm: lift and ratio must be above zero, lash not below.")
        raise InputError(msg)
    if not lobe.durations:
        msg = "lobe without a duration: give one at 0.050 in or 1 mm, or a lift table."
        raise InputError(msg)
    levels = sorted({(tappet_lift(lobe, d.lift, d.side), d.duration_deg) for d in lobe.durations})
    _in_range(levels, peak)
    estimated = ()
    if len(levels) == 1:
        extra = _partner(levels[0], peak)
        estimated = (extra,)
        levels = sorted([*levels, (extra.lift, extra.duration_deg)])
    for (c0, d0), (c1, d1) in pairwise(levels):
        if c1 <= c0 * (1 + 1e-9) or d1 >= d0:
            msg = (f"durations contradict each other: {d0:g} deg at {1e3 * c0:.3f} mm and {d1:g} deg at "
                   f"{1e3 * c1:.3f} mm of tappet lift; the duration must fall as the check lift rises. "
                   "Check lifts, sides and lash.")
            raise InputError(msg)
    return levels, estimated


def _in_range(levels: list[tuple[float, float]], peak: float) -> None:
    if levels[-1][0] >= 0.9 * peak:
        msg = (f"check lift {1e3 * levels[-1][0]:.3f} mm is not well below the tappet lift {1e3 * peak:.3f} mm of "
               "the lobe: check the side (tappet or valve), the rocker ratio and mm against inches.")
        raise InputError(msg)
    longest, shortest = levels[0][1], levels[-1][1]
    if not (shortest > 0.0 and longest < 600.0):
        msg = (f"duration {longest:g} to {shortest:g} deg: a lobe lasts between 0 and 600 crank degrees. "
               "Check whether cam degrees or event angles were given.")
        raise InputError(msg)


def _partner(level: tuple[float, float], peak: float) -> Duration:
    """Estimate the second duration of a card that gives one."""
    c, d = level
    if c < 0.6 * min(MAIN_CHECK, 0.2 * peak):
        other = min(MAIN_CHECK, 0.2 * peak)
        return Duration(other, d - expected_difference(c, other))
    other = min(SEAT_CHECK, 0.12 * c)
    return Duration(other, d + expected_difference(other, c))


def _half_width(levels: list[tuple[float, float]]) -> float:
    """Half-width (deg) down to the base circle: a cubic start through the two lowest checks."""
    (c0, d0), (c1, d1) = levels[:2]
    if c0 <= 1e-9:
        return d0 / 2
    ratio = (c1 / c0) ** (1 / 3)
    tail = (d0 - d1) / 2 / (ratio - 1.0)
    return d0 / 2 + min(max(tail, 6.0), 40.0)


def _skew(lobe: Lobe, levels: list[tuple[float, float]]) -> float:
    """Slope of the asymmetry: the closing flank is ``asymmetry_deg`` longer than the opening at the lowest check."""
    if lobe.asymmetry_deg == 0.0:
        return 0.0
    u = levels[0][1] / 2
    skew = lobe.asymmetry_deg / (2.0 * (np.hypot(u, _NOSE) - _NOSE))
    if abs(skew) > 0.3:
        msg = (f"asymmetry {lobe.asymmetry_deg:g} deg is more than 0.3 of the duration {2 * u:g} deg: "
               "give a lift table.")
        raise InputError(msg)
    return float(skew)


def _smoothest(points: list[tuple[float, float]]) -> BSpline:
    """Acceleration (linear spline over 0 to 1) of the smoothest half lobe through normalised (angle, lift) points."""
    n = INTERVALS + 1
    knots = np.concatenate([[0.0], np.linspace(0.0, 1.0, n), [1.0]])
    basis = BSpline(knots, np.eye(n), 1)
    at = np.array([t for t, _ in points])
    rows = np.vstack([basis.antiderivative(2)(at), basis.antiderivative(2)([1.0]), basis.antiderivative(1)([1.0])])
    rhs = np.array([*(y - 1.0 for _, y in points), -1.0, 0.0])
    middle = (np.arange(n - 1) + 0.5) / (n - 1)
    weight = np.where(middle > FLANK_START * at.min(), 1.0 / FLANK_STEEPNESS, 1.0)
    jerk = np.diff(np.eye(n), axis=0) * weight[:, None]
    free = np.ones(n, bool)
    free[-1] = False
    x = _equality(jerk, rows, rhs, free)
    if _one_change(x):
        return BSpline(knots, x, 1)
    flank = at.max()
    best, least = x, np.inf
    for j in range(int(0.15 * n), int(flank * n) + 1):
        trial, cost = _signed(jerk, rows, rhs, j)
        if cost < least:
            best, least = trial, cost
    return BSpline(knots, best, 1)


def _equality(jerk, rows, rhs, free) -> np.ndarray:
    """Least squares of ``jerk @ x`` subject to ``rows @ x = rhs``, x zero where not ``free``."""
    J, E = jerk[:, free], rows[:, free]
    k, m = J.shape[1], len(rhs)
    system = np.block([[J.T @ J, E.T], [E, np.zeros((m, m))]])
    x = np.zeros(len(free))
    x[free] = np.linalg.lstsq(system, np.concatenate([np.zeros(k), rhs]), rcond=None)[0][:k]
    return x


def _one_change(x: np.ndarray) -> bool:
    """Negative, then positive."""
    small = 1e-9 * np.abs(x).max()
    sign = np.sign(np.where(np.abs(x) < small, 0.0, x))
    sign = sign[sign != 0]
    return bool(sign[0] < 0 < sign[-1] and np.count_nonzero(np.diff(sign)) == 1)


def _signed(jerk, rows, rhs, j) -> tuple[np.ndarray, float]:
    """The same with x <= 0 before knot ``j`` and >= 0 from it on: bounded least squares, then polished."""
    n = jerk.shape[1]
    low = np.where(np.arange(n) < j, -np.inf, 0.0)
    high = np.where(np.arange(n) < j, 0.0, np.inf)
    high[-1] = 1e-12
    heavy = 1e5
    system, target = np.vstack([jerk, heavy * rows]), np.concatenate([np.zeros(n - 1), heavy * rhs])
    fit = lsq_linear(system, target, (low, high), "bvls")
    free = fit.active_mask == 0
    free[-1] = False
    x = _equality(jerk, rows, rhs, free)
    miss = np.abs(rows @ x - rhs).max()
    wrong = max(float(np.max(low - x, where=np.isfinite(low), initial=0.0)), float(np.max(x[:j], initial=0.0)))
    if miss > 1e-6 or wrong > 1e-3 * np.abs(x).max():
        return x, np.inf
    return np.clip(x, low, high), float(np.sum((jerk @ x) ** 2))


def _verify(shape: LobeShape) -> None:
    """Durations met, flanks monotone; else InputError."""
    t = np.linspace(0.0, 1.0, 2001)
    rises = np.diff(1.0 + shape.acceleration.antiderivative(2)(t)).max() > 1e-9
    for c, d in shape.levels:
        opening, closing = shape.crossing(c)
        if rises or abs(closing - opening - d) > DURATION_TOL:
            given = ", ".join(f"{dd:g} deg at {1e3 * cc:.3f} mm" for cc, dd in shape.levels)
            msg = (f"no lobe with monotone flanks and tappet lift {1e3 * shape.peak:.3f} mm passes through {given}. "
                   "Check check lifts, sides (tappet or valve), rocker ratio and lash.")
            raise InputError(msg)
