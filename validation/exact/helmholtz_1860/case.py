"""A neck on a volume: frequencies with the neck as a pipe, not as a lump (Helmholtz 1860; Kinsler & Frey ch. 10)."""

import numpy as np
from validation.exact.rig import End, Rig, Volume, fitted_frequency, pipe
from validation.harness import Check, at_least, relative
from validation.reference import acoustics as ac

SOURCE = "cot(kL) = kV/A (Kinsler & Frey ch. 10)"
T0, P0, RADIUS, NECK, VOLUME = 293.15, 101325.0, 0.02, 0.3, 5e-3
C, AREA = ac.sound_speed(T0), np.pi * RADIUS**2
LENGTH = NECK + 2 * ac.FLANGED * RADIUS


def resonator(cell: float = 0.015) -> Rig:
    delta = ac.FLANGED * RADIUS
    neck = pipe("neck", NECK, AREA, End("vessel", end_length=delta), End("ambient", end_length=delta))
    return Rig(neck, cell=cell, volumes=(Volume("vessel", VOLUME),))


def first() -> float:
    """Start with the vessel 20 Pa high; listen in the neck next to it."""
    rig = resonator()
    rig.fill_volume(1, P0 + 20, T0 * (1 + 20 / P0 * 0.4 / 1.4))
    t, y = rig.listen(0.16, 2e-4, [("neck", 0.05)])
    return fitted_frequency(t, y[0, 2] - P0, 46.0)


def second() -> float:
    """Start with the neck in the shape of its second mode; listen at its middle."""
    rig = resonator()
    x = rig.x("neck")
    dp = 20 * np.sin(np.pi * x / LENGTH)
    rig.fill("neck", P0 + dp, T0 * (1 + dp / P0 * 0.4 / 1.4))
    t, y = rig.listen(0.02, 2e-5, [("neck", 0.5 * LENGTH)])
    slow = 2 * np.pi * ac.helmholtz_distributed(C, LENGTH, AREA, VOLUME) * t
    base = np.array([np.cos(slow), np.sin(slow), np.ones_like(t)]).T
    signal = y[0, 2] - P0
    return fitted_frequency(t, signal - base @ np.linalg.lstsq(base, signal, rcond=None)[0], 530.0)


def checks() -> list[Check]:
    one = ac.helmholtz_distributed(C, LENGTH, AREA, VOLUME)
    lumped = ac.helmholtz_lumped(C, LENGTH, AREA, VOLUME)
    got = first()
    return [
        relative("neck and volume: first frequency", SOURCE, one, got, 0.005, "Hz"),
        relative("neck and volume: second frequency", SOURCE, ac.helmholtz_distributed(C, LENGTH, AREA, VOLUME, 2),
                 second(), 0.01, "Hz"),
        at_least("neck and volume: how much nearer to the pipe answer than to the lumped one", SOURCE, 3.0,
                 abs(got - lumped) / abs(got - one)),
    ]
