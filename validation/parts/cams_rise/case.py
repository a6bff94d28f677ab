"""Velocity and acceleration peaks of classical rises, read through the measured-table path.

Norton, *Cam Design and Manufacturing Handbook*, ch. 3 (from memory; the peaks are recomputed from the polynomials).
"""

from __future__ import annotations

import numpy as np
from validation.harness import relative

from pullcast.card.engine import Lobe
from pullcast.network.lift import valve_lift

SOURCE = "Norton, Cam Design, ch. 3 (rise functions)"
BETA, LIFT = 120.0, 0.010  # deg of rise, m
POLY = np.polynomial.Polynomial
RISES = {
    "3-4-5": POLY([0, 0, 0, 10, -15, 6]),
    "4-5-6-7": POLY([0, 0, 0, 0, 35, -84, 70, -20]),
}


def peaks(rise) -> tuple[float, float]:
    """Largest velocity and acceleration of a polynomial rise over unit angle."""
    x = np.linspace(0.0, 1.0, 100001)
    return float(rise.deriv(1)(x).max()), float(rise.deriv(2)(x).max())


def table(rise, step: float = 1.0) -> tuple[tuple[float, float], ...]:
    """Rise and mirrored fall sampled every ``step`` degrees."""
    at = np.arange(-BETA, BETA + step / 2, step)
    return tuple((float(a), float(LIFT * rise(1 - abs(a) / BETA))) for a in at)


def checks():
    out = []
    cycloid = (lambda t: t - np.sin(2 * np.pi * t) / (2 * np.pi), (2.0, 2 * np.pi))
    families = {name: (p, peaks(p)) for name, p in RISES.items()} | {"cycloidal": cycloid}
    for name, (rise, (v, a)) in families.items():
        curve = valve_lift(Lobe(LIFT, (), 110.0, table=table(rise)), "intake")
        got_v = curve.max_velocity * BETA / (1e3 * LIFT)
        got_a = curve.max_acceleration * BETA**2 / (1e3 * LIFT)
        out.append(relative(f"{name} rise, peak velocity", SOURCE, v, got_v, 1e-3, "h/beta"))
        out.append(relative(f"{name} rise, peak acceleration", SOURCE, a, got_a, 5e-3, "h/beta2"))
    return out
