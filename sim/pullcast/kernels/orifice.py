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
