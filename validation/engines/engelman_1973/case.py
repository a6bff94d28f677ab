"""Tuned speed over runner length: Engelman's lumped relation, and the pipe's own period.

H. W. Engelman 1973, Design of a tuned intake manifold, ASME 73-WA/DGP-2 (from memory): N = (162/K) c sqrt(A/(L V))
sqrt((r - 1)/(r + 1)), N rpm, c ft/s, A in2, L in, V in3 of one cylinder, K about 2.1.

The pipe's own period: between two openings of the valve the runner rings as a pipe closed at one end, at c/4L. Over
speed the filling therefore ripples with period one in m = (c/4L)(120/N), the number of such vibrations per cycle,
whatever the phase (acoustics of a closed-open pipe; end correction of Levine & Schwinger 1948).
"""

from __future__ import annotations

import math

import numpy as np
from validation.engines.runs import TEST_SINGLE, run
from validation.harness import Check, absolute, relative

INCH, FOOT = 0.0254, 0.3048
SOUND = math.sqrt(1.4 * 287.05 * 293.15)
PORT, RADIUS = 0.060, 0.01555
BREATHING = {  # a cam and valves of usual sporting size (common practice, no source), so that Z stays below 0.65
    "cam.intake.ivo": "20 deg BTDC", "cam.intake.ivc": "60 deg ABDC", "cam.intake.valve_lift": "11 mm",
    "cam.exhaust.evo": "60 deg BBDC", "cam.exhaust.evc": "20 deg ATDC", "cam.exhaust.valve_lift": "10 mm",
    "head.intake.valve_diameter": "42 mm", "head.intake.throat_diameter": "37 mm",
    "head.exhaust.valve_diameter": "36 mm", "head.exhaust.throat_diameter": "32 mm",
    "block.compression_ratio": 10.0,
}


def checks() -> list[Check]:
    """Speed of best filling for five runners; exponent of length; period of the ripples of a long runner."""
    out, tuned = [], {}
    for area_cm2, length in ((11.0, 0.30), (11.0, 0.42), (11.0, 0.60), (7.0, 0.30), (7.0, 0.60)):
        expected = engelman(area_cm2 * 1e-4, length, 10.0)
        tuned[area_cm2, length] = got = best_speed(area_cm2, length, expected)
        out.append(relative(f"tuned speed, {area_cm2:g} cm2, {1e3 * length:.0f} mm to the valve",
                            "Engelman 1973, K 2.1 (from memory)", expected, got, 0.15, "rpm"))
    exponent = math.log(tuned[7.0, 0.60] / tuned[7.0, 0.30]) / math.log(2.0)  # both speeds at Z below 0.55
    out += [absolute("exponent of tuned speed on length, 7 cm2", "Engelman 1973: -1/2", -0.5, exponent, 0.2),
            absolute("vibrations of the runner between ripples of VE", "closed-open pipe, c/4L", 1.0, ripple(), 0.07)]
    return out


def engelman(area: float, length: float, ratio: float) -> float:
    """Tuned speed, rpm, of the test single with a runner of ``area`` (m2) and ``length`` (m, valve to open end)."""
    swept = math.pi / 4 * 0.08255**2 * 0.1143
    form = (area / INCH**2) / (length / INCH * swept / INCH**3)
    return 162 / 2.1 * SOUND / FOOT * math.sqrt(form * (ratio - 1) / (ratio + 1))


def best_speed(area_cm2: float, length: float, near: float) -> float:
    """Speed of the highest VE between half and one and a half of ``near``, by a parabola through a smoothed peak."""
    speeds = np.linspace(0.5, 1.5, 26) * near
    changes = BREATHING | {"intake.pipe.0.diameter": f"{20 * math.sqrt(area_cm2 / math.pi):.4f} mm",
                           "head.intake.port_area": f"{area_cm2} cm2",
                           "intake.pipe.0.length": f"{1e3 * (length - PORT):.1f} mm"}
    ve = run(TEST_SINGLE, speeds, changes)["volumetric_efficiency"].values
    smooth = np.convolve(ve, np.ones(5) / 5, "valid")  # ripples of a third of the tuned width are not the tuning
    return float(speeds[2:-2][int(np.argmax(smooth))])


def ripple() -> float:
    """Period of VE over m for a 900 mm runner: the least-squares sinusoid beside a cubic trend."""
    length = 0.9
    m = np.arange(3.0, 8.01, 0.1)
    speeds = 120.0 * SOUND / (4 * (length + PORT + 0.6133 * RADIUS)) / m
    changes = {"intake.pipe.0.length": f"{1e3 * length} mm"}
    plain = run(TEST_SINGLE, speeds[::-1])["volumetric_efficiency"].values[::-1]
    ve = run(TEST_SINGLE, speeds[::-1], changes)["volumetric_efficiency"].values[::-1] / plain
    periods = np.arange(0.6, 1.6, 0.005)
    return float(periods[int(np.argmin([_left(m, ve, p) for p in periods]))])


def _left(m: np.ndarray, ve: np.ndarray, period: float) -> float:
    phase = 2 * np.pi * m / period
    basis = np.column_stack([m**k for k in range(4)] + [np.sin(phase), np.cos(phase)])
    rest = ve - basis @ np.linalg.lstsq(basis, ve, rcond=None)[0]
    return float(rest @ rest)
