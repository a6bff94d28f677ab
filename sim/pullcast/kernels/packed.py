"""The gas table as one flat array, and the mixture properties the cylinder needs from it.

A kernel that takes the table as nine arrays spends more time handing them on than computing; these take one.
Where things lie in it: ``P_R`` gas constants (3), ``P_HF`` formation enthalpies (3), ``P_H`` enthalpy polynomials
(3 x 8; cp is their derivative), ``P_MIX`` as ``GasTable.mix`` (6), ``P_EQ_T`` and ``P_EQ_P`` axes of the
equilibrium table (3 + 3), ``P_FUEL`` and ``P_BURNED`` enthalpy polynomials of fuel and burned gas less that of air
(8 + 8), ``P_EQ`` the table: (nT, nP) pairs of enthalpy (J/kg) and gas-constant increments.
"""

import math

import numpy as np

from pullcast.kernels.jit import kernel, small

P_R, P_HF, P_H, P_MIX, P_EQ_T, P_EQ_P, P_FUEL, P_BURNED, P_EQ = 0, 3, 6, 30, 36, 39, 42, 50, 58
P_AFR = P_MIX + 2
P_EVAPORATION = P_MIX + 3

SETTLED = 1e-6  # of the temperature: an iteration closer than this leaves an error of its square


def pack(R, h, hf, eq_T, eq_lnp, eq_dh, eq_dR, mix):
    """One flat array of the arrays of a gas table (``kernels.gas.GasTable``)."""
    pairs = np.stack([eq_dh, eq_dR], axis=-1)
    return np.concatenate([np.ravel(a) for a in (R, hf, h, mix, eq_T, eq_lnp, h[1:] - h[0], pairs)]).astype(float)


@small
def packed_R(g, yf, yb):
    """Gas constant of a frozen mixture, J/(kg K)."""
    return (1.0 - yf - yb) * g[P_R] + yf * g[P_R + 1] + yb * g[P_R + 2]


@small
def packed_hf(g, yf, yb):
    """Formation enthalpy of a mixture at 298.15 K, J/kg."""
    return (1.0 - yf - yb) * g[P_HF] + yf * g[P_HF + 1] + yb * g[P_HF + 2]


@small
def blend(g, yf, yb):
    """Coefficients of the mixture's sensible enthalpy (J/kg) over powers of T/1000, eight scalars."""
    ya = 1.0 - yf - yb
    return (
        ya * g[6] + yf * g[14] + yb * g[22], ya * g[7] + yf * g[15] + yb * g[23],
        ya * g[8] + yf * g[16] + yb * g[24], ya * g[9] + yf * g[17] + yb * g[25],
        ya * g[10] + yf * g[18] + yb * g[26], ya * g[11] + yf * g[19] + yb * g[27],
        ya * g[12] + yf * g[20] + yb * g[28], ya * g[13] + yf * g[21] + yb * g[29],
    )


@small
def enthalpy(c, T):
    """Sensible enthalpy, J/kg, of blended coefficients ``c``."""
    t = T * 1e-3
    return c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * (c[5] + t * (c[6] + t * c[7]))))))


@small
def heat_capacity(c, T):
    """cp, J/(kg K), of blended coefficients ``c``: the derivative of ``enthalpy``."""
    t = T * 1e-3
    return 1e-3 * (c[1] + t * (2.0 * c[2] + t * (3.0 * c[3] + t * (4.0 * c[4] + t * (5.0 * c[5] + t * (
        6.0 * c[6] + t * 7.0 * c[7]))))))


@kernel
def increment(g, T, lnp):
    """Equilibrium minus frozen enthalpy (J/kg) and gas constant of burned gas, bilinear in T and ln p."""
    x = (T - g[P_EQ_T]) / g[P_EQ_T + 1]
    if x <= 0.0:
        return 0.0, 0.0
    nx = g[P_EQ_T + 2]
    ny = g[P_EQ_P + 2]
    y = (lnp - g[P_EQ_P]) / g[P_EQ_P + 1]
    x = min(x, nx - 1.000001)
    y = min(max(y, 0.0), ny - 1.000001)
    i = int(x)
    j = int(y)
    fx = x - i
    fy = y - j
    a = P_EQ + 2 * (i * int(ny) + j)
    b = a + 2 * int(ny)
    dh = (1.0 - fx) * ((1.0 - fy) * g[a] + fy * g[a + 2]) + fx * ((1.0 - fy) * g[b] + fy * g[b + 2])
    dR = (1.0 - fx) * ((1.0 - fy) * g[a + 1] + fy * g[a + 3]) + fx * ((1.0 - fy) * g[b + 1] + fy * g[b + 3])
    return dh, dR


@kernel
def settled_state(g, base, p0, dV, V, m, mf, mb, T):
    """T, p and R of one zone whose energy is ``base`` less the work (p0 + p) dV / 2: one Newton iteration on T.

    ``base`` is internal energy with formation (J), V the volume reached (m3), ``T`` the first guess (K). dV = 0
    gives the state of a given energy. Burned gas is in equilibrium when hot.
    """
    yf = mf / m
    yb = mb / m
    c = blend(g, yf, yb)
    e = (base - 0.5 * p0 * dV) / m - packed_hf(g, yf, yb)
    R0 = packed_R(g, yf, yb)
    half = 0.5 * dV / V
    hot = g[P_EQ_T] - 1.0
    dh = 0.0
    dR = 0.0
    for _ in range(40):
        cv = heat_capacity(c, T) - R0
        if yb > 0.0 and hot < T:
            p = m * (R0 + yb * dR) * T / V
            lnp = math.log(p)
            dh, dR = increment(g, T, lnp)
            dh2, dR2 = increment(g, T + 1.0, lnp + 1.0 / T)
            cv += yb * (dh2 - dh - (dR2 * (T + 1.0) - dR * T))
        else:
            dh = 0.0
            dR = 0.0
        R = R0 + yb * dR
        step = (enthalpy(c, T) + yb * dh - R * T * (1.0 - half) - e) / (cv + R * half)
        step = min(max(step, -300.0), 300.0)
        T = min(max(T - step, 60.0), 6000.0)
        if abs(step) < SETTLED * T:
            break
    if yb > 0.0 and hot < T:
        dh, dR = increment(g, T, math.log(m * (R0 + yb * dR) * T / V))
    R = R0 + yb * dR
    return T, m * R * T / V, R
