"""Valve lift over crank angle, from a lobe of the cam card or a measured table."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from pullcast.card.engine import Duration, Lobe
from pullcast.errors import InputError
from pullcast.network.lobe import LobeShape, fit_lobe

CYCLE = 720.0
SAMPLES = 1441


@dataclass(frozen=True)
class LiftCurve:
    """Valve lift of one cylinder over its own cycle; angle 0 is its overlap top dead centre.

    ``angle_deg``, ``lift_m`` float64[1441] every half degree, periodic in 720. ``opening_deg`` and ``closing_deg``
    (0 to 720) are where the valve leaves and meets its seat. ``max_velocity`` (mm/deg) and ``max_acceleration``
    (mm/deg2, the positive peak) are per crank degree at the valve, between the seat events. ``nose_acceleration``
    (mm/deg2, negative) is the largest deceleration. ``estimated`` lists durations that the card did not give.
    """

    side: str
    angle_deg: np.ndarray
    lift_m: np.ndarray
    opening_deg: float
    closing_deg: float
    max_velocity: float
    max_acceleration: float
    nose_acceleration: float
    notes: tuple[str, ...] = ()
    estimated: tuple[Duration, ...] = ()

    @property
    def max_lift(self) -> float:
        """Largest sampled lift, m."""
        return float(self.lift_m.max())

    @property
    def open_deg(self) -> float:
        """Angle from seat to seat, deg."""
        return (self.closing_deg - self.opening_deg) % CYCLE

    def duration_at(self, lift: float) -> float:
        """Crank degrees spent above valve ``lift`` (m); 0 if never reached."""
        opening, closing = self.events_at(lift)
        return closing - opening

    def events_at(self, lift: float) -> tuple[float, float]:
        """Opening and closing angle (deg; closing may exceed 720) at valve ``lift`` (m)."""
        top = int(np.argmax(self.lift_m[:-1]))
        ring = np.roll(self.lift_m[:-1], 720 - top)  # the peak at index 720
        if not 0.0 <= lift < ring[720]:
            return float(self.angle_deg[top]), float(self.angle_deg[top])
        i = 720 - int(np.argmax(ring[720::-1] <= lift))
        j = 720 + int(np.argmax(ring[720:] <= lift))
        rise = i + (lift - ring[i]) / (ring[i + 1] - ring[i])
        fall = j - (lift - ring[j]) / (ring[j - 1] - ring[j])
        start = float(0.5 * (top - 720 + rise)) % CYCLE
        return start, start + 0.5 * float(fall - rise)

    def __repr__(self) -> str:
        """Events and lift in one line."""
        return (f"LiftCurve({self.side}: {1e3 * self.max_lift:.2f} mm, opens {self.opening_deg:.1f}, closes "
                f"{self.closing_deg:.1f} deg after overlap TDC, {self.duration_at(1e-3):.0f} deg at 1 mm)")


@lru_cache(maxsize=512)
def valve_lift(lobe: Lobe, side: str) -> LiftCurve:
    """Lift curve of a valve; ``side`` "intake" (peak at +centreline) or "exhaust" (peak at 720 - centreline).

    Raises InputError for numbers that contradict each other and for events that last a whole cycle.
    The curve is shared between callers: its arrays are read-only.
    """
    if side not in ("intake", "exhaust"):
        msg = f"valve side {side!r}: give 'intake' or 'exhaust'."
        raise InputError(msg)
    centre = lobe.centreline_deg if side == "intake" else CYCLE - lobe.centreline_deg
    return _from_table(lobe, side, centre) if lobe.table else _from_shape(lobe, side, centre, fit_lobe(lobe))


def _from_shape(lobe: Lobe, side: str, centre: float, shape: LobeShape) -> LiftCurve:
    start, end = shape.crossing(lobe.lash / lobe.rocker_ratio)
    angle, offset = _angles(centre)
    lift = np.where((offset > start) & (offset < end), lobe.rocker_ratio * shape.lift(offset) - lobe.lash, 0.0)
    fine = np.linspace(start, end, 4001)
    velocity = 1e3 * lobe.rocker_ratio * shape.lift(fine, 1)
    acceleration = 1e3 * lobe.rocker_ratio * shape.lift(fine, 2)
    notes = []
    if shape.estimated:
        d = shape.estimated[0]
        notes.append(f"duration at {1e3 * d.lift:.3f} mm tappet lift not given: {d.duration_deg:.0f} deg estimated "
                     "(+/- 12 deg, common practice, no source)")
    if len(shape.levels) < 3:
        notes.append("two check lifts leave the duration at half lift open by 5 to 12 deg")
    return _curve(side, centre, (start, end), angle, lift, velocity, acceleration, notes, shape.estimated)


def _from_table(lobe: Lobe, side: str, centre: float) -> LiftCurve:
    at, lift = _checked_table(lobe)
    spline = CubicSpline(at, lift, bc_type="clamped")
    fine = np.linspace(at[0], at[-1], 20 * len(at) + 1)
    notes = ["lift from the measured table"]
    step = np.diff(spline(fine))
    top = fine[np.argmax(spline(fine))]
    wrong = np.where(fine[1:] <= top, -step, step).max()
    if wrong > 1e-4 * lift.max() or spline(fine).min() < -1e-4 * lift.max():
        spline = PchipInterpolator(at, lift)
        notes.append("table too coarse or rough for a smooth curve: monotone interpolation, its acceleration is not "
                     "to be trusted")
    angle, offset = _angles(centre)
    inside = (offset > at[0]) & (offset < at[-1])
    values = np.where(inside, np.maximum(spline(np.clip(offset, at[0], at[-1])), 0.0), 0.0)
    velocity, acceleration = 1e3 * spline(fine, 1), 1e3 * spline(fine, 2)
    return _curve(side, centre, (float(at[0]), float(at[-1])), angle, values, velocity, acceleration, notes, ())


def _checked_table(lobe: Lobe) -> tuple[np.ndarray, np.ndarray]:
    """Angles (deg from the centreline) and lifts (m) of a measured table, trimmed to the open part."""
    at, lift = np.array(lobe.table, float).T
    top = lift.max()
    problem = None
    if len(at) < 7:
        problem = f"has {len(at)} points; at least 7 are needed"
    elif not np.all(np.isfinite(at)) or not np.all(np.isfinite(lift)):
        problem = "holds a value that is no number"
    elif np.any(np.diff(at) <= 0.0):
        problem = "has angles that do not rise from row to row"
    elif lift.min() < 0.0:
        problem = f"has a lift below zero ({1e3 * lift.min():g} mm)"
    elif max(lift[0], lift[-1]) > 0.01 * top or top <= 0.0:
        problem = (f"must start and end at zero lift; it starts at {1e3 * lift[0]:g} mm and ends at "
                   f"{1e3 * lift[-1]:g} mm")
    elif _peaks(lift) != 1:
        problem = f"has {_peaks(lift)} peaks; a lobe has one"
    elif lobe.lift > 0.0 and abs(top - lobe.lift) > 0.02 * lobe.lift:
        problem = f"peaks at {1e3 * top:g} mm but the card gives {1e3 * lobe.lift:g} mm of lift"
    if problem:
        msg = f"lift table {problem}. Give (crank deg from the centreline, valve lift) rows, lash taken off."
        raise InputError(msg)
    first, last = _open_rows(lift)
    at, lift = at[first:last + 1], lift[first:last + 1].copy()
    lift[[0, -1]] = 0.0
    return at, lift


def _open_rows(lift: np.ndarray) -> tuple[int, int]:
    """First and last row of the event: out from 1e-4 of the peak for as long as lift falls, so that dial noise on the
    base circle is left out and a smooth ramp is kept."""
    above = np.flatnonzero(lift > 1e-4 * lift.max())
    first, last = above[0], above[-1]
    while first > 0 and lift[first - 1] < lift[first]:
        first -= 1
    while last < len(lift) - 1 and lift[last + 1] < lift[last]:
        last += 1
    return int(first), int(last)


def _peaks(lift: np.ndarray) -> int:
    """Number of separate rises, ripples under 0.2 % of the lift not counted."""
    count, rising, low, high = 0, False, lift[0], lift[0]
    ripple = 2e-3 * lift.max()
    for value in lift:
        if rising:
            high = max(high, value)
            if value < high - ripple:
                rising, low = False, value
        else:
            low = min(low, value)
            if value > low + ripple:
                rising, high, count = True, value, count + 1
    return count


def _angles(centre: float) -> tuple[np.ndarray, np.ndarray]:
    """Sample angles 0 to 720 and their distance (-360 to 360) from the peak."""
    angle = np.linspace(0.0, CYCLE, SAMPLES)
    return angle, (angle - centre + 360.0) % CYCLE - 360.0


def _curve(side, centre, span, angle, lift, velocity, acceleration, notes, estimated) -> LiftCurve:
    if span[1] - span[0] >= CYCLE or not np.all(np.isfinite(lift)):
        msg = f"{side} valve is open for {span[1] - span[0]:.0f} deg of a 720 deg cycle: check the durations."
        raise InputError(msg)
    lift[-1] = lift[0]
    angle.flags.writeable = lift.flags.writeable = False
    return LiftCurve(side, angle, lift, (centre + span[0]) % CYCLE, (centre + span[1]) % CYCLE,
                     float(np.abs(velocity).max()), float(acceleration.max()), float(acceleration.min()),
                     tuple(notes), estimated)


def flat_tappet_velocity_limit(diameter: float) -> float:
    """Largest tappet velocity, m per cam degree, that keeps contact on a flat face of ``diameter`` (m).

    The contact point sits (ds/d angle in rad) off the axis: r pi/180 (Norton, flat-faced follower; from memory).

    >>> round(flat_tappet_velocity_limit(0.842 * 0.0254) / 0.0254, 6)
    0.007348
    """
    return 0.5 * diameter * np.pi / 180.0


def tappet_velocity(lobe: Lobe, side: str = "intake") -> float:
    """Largest tappet velocity of ``lobe``, m per cam degree (two crank degrees)."""
    return 2e-3 * valve_lift(lobe, side).max_velocity / lobe.rocker_ratio


def float_speed(curve: LiftCurve, *, mass: float, preload: float, rate: float) -> float:
    """Crank speed (rpm) at which the spring can no longer turn the valve gear back: an estimate.

    ``mass`` kg is that of valve, retainer, a third of the spring and the gear referred to the valve; ``preload`` N is
    the spring force on the seat, ``rate`` N/m its stiffness. Newton's law at every angle of deceleration. Rigid gear,
    no surge: real gear floats earlier (10 to 20 %, common practice, no source). InputError for values not above zero.
    """
    if min(mass, preload) <= 0.0 or rate < 0.0:
        msg = (f"float speed with mass {mass:g} kg, preload {preload:g} N, rate {rate:g} N/m: "
               "mass and preload must be above zero.")
        raise InputError(msg)
    lift = curve.lift_m
    second = (lift[2:] - 2 * lift[1:-1] + lift[:-2]) / 0.25  # m/deg2
    lifted = lift[1:-1] > 0.02 * curve.max_lift
    slowing = lifted & (second < -1e-9)
    force = preload + rate * lift[1:-1][slowing]
    per_second = np.sqrt(force / (mass * -second[slowing]))  # deg/s
    return float(per_second.min() / 6.0)
