"""The wave a pipe sends to its end, and the face states that lie on it.

``w`` is velocity into the pipe. The face state must lie on the wave curve through the
(half-step) state inside the pipe: a rarefaction keeps w - 2a/(gamma-1), a shock obeys
Rankine-Hugoniot (Toro, *Riemann Solvers*, eqs. 4.6-4.9, 4.37).
"""

import math

from pullcast.kernels.jit import kernel


@kernel
def wave_w(p, ri, wi, pi, ai, g):
    """Velocity into the pipe of the face state with pressure ``p`` on the wave from the inside."""
    if p <= pi:
        return wi + 2.0 * ai / (g - 1.0) * ((p / pi) ** ((g - 1.0) / (2.0 * g)) - 1.0)
    return wi + (p - pi) * math.sqrt(2.0 / (ri * ((g + 1.0) * p + (g - 1.0) * pi)))


@kernel
def wave_rho(p, ri, pi, g):
    """Density of the face state on that wave when the gas comes from inside."""
    if p <= pi:
        return ri * (p / pi) ** (1.0 / g)
    m = (g - 1.0) / (g + 1.0)
    x = p / pi
    return ri * (x + m) / (m * x + 1.0)


@kernel
def wall_pressure(ri, wi, pi, ai, g):
    """Pressure at a closed end."""
    if wi > 0.0:
        x = max(1.0 - 0.5 * (g - 1.0) * wi / ai, 1e-3)
        return pi * x ** (2.0 * g / (g - 1.0))
    d2 = wi * wi
    a = 2.0 / ((g + 1.0) * ri)
    b = (g - 1.0) / (g + 1.0) * pi
    return pi + (d2 + math.sqrt(d2 * d2 + 4.0 * a * d2 * (pi + b))) / (2.0 * a)


@kernel
def sonic_pressure(wi, pi, ai, g):
    """Pressure at which gas leaving the pipe reaches Mach 1 on the wave (infinite rarefaction side only)."""
    x = (2.0 * ai / (g - 1.0) - wi) * (g - 1.0) / (g + 1.0) / ai
    return pi * max(x, 1e-3) ** (2.0 * g / (g - 1.0))
