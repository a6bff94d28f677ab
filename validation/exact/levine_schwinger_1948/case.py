"""Frequencies of pipes and a cone, with end corrections: Levine & Schwinger 1948, Rayleigh; Kinsler & Frey ch. 10."""

import numpy as np
from validation.exact.rig import End, Rig, fitted_frequency, pipe, shaped
from validation.harness import Check, relative
from validation.reference import acoustics as ac

SOURCE = "organ-pipe relations; end correction Levine & Schwinger 1948, Rayleigh (from memory)"
T0, P0, LENGTH, RADIUS = 293.15, 101325.0, 0.3, 0.02
C, AREA = ac.sound_speed(T0), np.pi * RADIUS**2


def ring(duct, shape, guess: float, place: float, cell: float = 0.015) -> float:
    """Frequency of the ringing after a start in the pressure ``shape`` (x over length), 20 Pa high."""
    rig = Rig(duct, cell=cell)
    x = rig.x("duct")
    dp = 20.0 * shape(x / (x[-1] + 0.5 * (x[1] - x[0])))
    rig.fill("duct", P0 + dp, T0 * (1 + dp / P0 * 0.4 / 1.4))
    t, y = rig.listen(10 / guess, 1 / guess / 60, [("duct", place * x[-1])])
    return fitted_frequency(t, y[0, 2] - P0, guess)


def closed_open(correction: float, mode: int = 1) -> float:
    k = (2 * mode - 1) * np.pi / 2
    duct = pipe("duct", LENGTH, AREA, "closed", End("ambient", end_length=correction * RADIUS))
    guess = ac.quarter_wave(C, LENGTH + correction * RADIUS, mode)
    return ring(duct, lambda s: np.cos(k * s), guess * 1.02, 0.02)


def checks() -> list[Check]:
    rows = []
    for name, k in (("bare", 0.0), ("unflanged", ac.UNFLANGED), ("flanged", ac.FLANGED)):
        expected = ac.quarter_wave(C, LENGTH + k * RADIUS)
        got = closed_open(k)
        rows.append(relative(f"closed-open pipe, {name}: first frequency", SOURCE, expected, got, 0.005, "Hz"))
    rows.append(relative("closed-open pipe, bare: second frequency", SOURCE, ac.quarter_wave(C, LENGTH, 2),
                         closed_open(0.0, 2), 0.01, "Hz"))
    for name, ends, shape, place in (("closed-closed", "closed", lambda s: np.cos(np.pi * s), 0.02),
                                     ("open-open", "ambient", lambda s: np.sin(np.pi * s), 0.5)):
        guess = ac.half_wave(C, LENGTH)
        got = ring(pipe("duct", LENGTH, AREA, ends, ends), shape, guess * 1.02, place)
        rows.append(relative(f"{name} pipe: first frequency", SOURCE, guess, got, 0.005, "Hz"))
    for a, b in ((1.0, 4.0), (4.0, 1.0)):
        def area(x, a=a, b=b):
            return AREA * (np.sqrt(a) + (np.sqrt(b) - np.sqrt(a)) * x / LENGTH) ** 2

        expected = ac.cone_closed_open(C, LENGTH, a * AREA, b * AREA)
        cone = shaped("duct", LENGTH, area, "closed", "ambient", 1)
        got = ring(cone, lambda s: np.cos(np.pi / 2 * s), expected * 0.98, 0.02)
        rows.append(relative(f"cone, closed at the {'small' if a < b else 'large'} end, areas 4:1: first frequency",
                             "Webster's equation", expected, got, 0.005, "Hz"))
    return rows
