"""Open area of a throttle plate, by projecting the plate and its shaft numerically.

Harrington & Bolt 1970, SAE 700082 (the closed form under test); the reference is plane geometry, line by line.
"""

from __future__ import annotations

import numpy as np
from validation.harness import absolute

from pullcast.card.throttle import plate_fraction

SOURCE = "projection of an elliptical plate and its shaft, counted in strips"


def projected(bore: float, shaft: float, closed_deg: float, angle_deg: float) -> float:
    """Open share of the bore seen along its axis; strips across the shaft, z along the shaft axis."""
    radius, half = bore / 2, shaft / 2
    tilt = np.cos(np.radians(angle_deg)) / np.cos(np.radians(closed_deg))
    z = (np.arange(400_000) + 0.5) / 400_000 * radius
    wall = np.sqrt(radius**2 - z**2)  # half-height of the bore at z
    plate = tilt * wall  # the plate seals at closed_deg, so its half-height is wall/cos(closed)
    covered = np.minimum(np.maximum(plate, half), wall)
    return float((wall - covered).sum() / wall.sum())


def checks():
    out = []
    for bore, shaft, closed in ((0.050, 0.008, 5.0), (0.070, 0.010, 3.0), (0.034, 0.006, 10.0)):
        for angle in (closed + 2.0, 20.0, 45.0, 75.0, 85.0, 90.0):
            name = f"bore {1e3 * bore:g} mm, shaft {1e3 * shaft:g} mm, closed at {closed:g}: open at {angle:g} deg"
            expected, got = (f(bore, shaft, closed, angle) for f in (projected, plate_fraction))
            out.append(absolute(name, SOURCE, expected, got, 1e-5, "of bore"))
    return out
