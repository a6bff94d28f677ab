"""HLLC flux for two states of (possibly different) gases.

Toro, Spruce & Speares 1994; wave-speed estimates of Davis 1988 (eq. 4.5) bounded
as in Einfeldt et al. 1991 by the smaller/larger of both sides.
"""

import math

from pullcast.kernels.jit import small


@small
def hllc(rl, ul, pl, al, rr, ur, pr, ar):
    """Contact-restoring wave structure between two states.

    Returns sl, sm, sr (speeds) and the star pressure p*; ``al, ar`` are sound speeds (m/s).
    """
    sl = min(ul - al, ur - ar)
    sr = max(ul + al, ur + ar)
    cl = rl * (sl - ul)
    cr = rr * (sr - ur)
    sm = (pr - pl + cl * ul - cr * ur) / (cl - cr)
    ps = pl + cl * (sm - ul)
    return sl, sm, sr, ps


@small
def sound(gamma, p, rho):
    """Sound speed, m/s; zero-safe."""
    return math.sqrt(max(gamma * p / rho, 1e-12))
