"""Quasi-steady compressible orifice (Heywood 1988, app. C) with constant gamma."""

import math

from pullcast.kernels.jit import kernel


@kernel
def critical_ratio(gamma):
    """Throat-to-stagnation pressure ratio at Mach 1."""
    return (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))


@kernel
def psi(r, gamma):
    """Flow function: mdot = A psi p0/sqrt(R T0) at static-to-stagnation ratio ``r``, choked below critical."""
    if r >= 1.0:
        return 0.0
    r = max(r, critical_ratio(gamma))
    q = r ** (1.0 / gamma)
    return math.sqrt(max(2.0 * gamma / (gamma - 1.0) * (q * q - q * r), 0.0))


@kernel
def psi_of(r, gamma, free):
    """``psi``, or with ``free`` the flow function of gas that keeps its density through the orifice (Bernoulli).

    Both agree as r goes to 1; the latter knows no speed of sound and goes on rising to r = 0. A thought experiment:
    what does it cost that gas thins out on its way through and passes no faster than sound?
    """
    if free == 0:
        return psi(r, gamma)
    return math.sqrt(2.0 * max(1.0 - r, 0.0))
