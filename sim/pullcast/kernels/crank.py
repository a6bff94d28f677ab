"""Slider-crank with pin offset (Heywood 1988, eq. 2.5, extended by an offset)."""

import math

from pullcast.kernels.jit import kernel


@kernel
def piston_height(g, theta):
    """Distance of the piston below its highest position, m. ``g``: bore, stroke, rod, pin offset, ...; deg."""
    r = 0.5 * g[1]
    rad = theta * (math.pi / 180.0)
    top = math.sqrt((r + g[2]) ** 2 - g[3] ** 2)
    side = r * math.sin(rad) - g[3]
    return top - (r * math.cos(rad) + math.sqrt(g[2] * g[2] - side * side))


@kernel
def volume(g, theta):
    """Cylinder volume at crank angle ``theta`` (deg from TDC), m3."""
    return g[4] + 0.25 * math.pi * g[0] * g[0] * piston_height(g, theta)


@kernel
def volumes(g, step, out):
    """Fill ``out`` with cylinder volumes (m3) at every ``step`` degrees from TDC on."""
    for i in range(out.shape[0]):
        out[i] = volume(g, i * step)


@kernel
def table_at(row, theta):
    """Linear interpolation in a 1441-entry table at every half degree of 720."""
    s = 2.0 * (theta % 720.0)
    i = int(s)
    if i > 1439:
        i = 1439
    f = s - i
    return row[i] * (1.0 - f) + row[i + 1] * f
