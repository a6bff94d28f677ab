"""Volumes and junctions over one step."""

import math

from pullcast.kernels import layout as L
from pullcast.kernels.gas import mix_R
from pullcast.kernels.jit import kernel
from pullcast.kernels.mixture import temperature_frozen


@kernel
def stir(gas, k, volume, m, mf, mb, kinetic, E, p, T):
    """Temperature and pressure of well-stirred gas ``k`` from masses and energy; False if it ran empty or cold."""
    if not (m[k] > 0.0):
        return False
    yf = mf[k] / m[k]
    yb = mb[k] / m[k]
    T[k] = temperature_frozen(gas, E[k] / m[k] - kinetic, T[k], yf, yb)
    p[k] = m[k] * mix_R(gas, yf, yb) * T[k] / volume[k]
    return T[k] > 60.0


@kernel
def volumes_step(gas, n, dt):
    """Advance all volumes but the surroundings; returns heat received from walls (J) or -1e30 if one broke down."""
    heat = 0.0
    for k in range(1, n.m.shape[0]):
        q = dt * n.h_wall[k] * (n.t_wall[k] - n.T[k])
        heat += q
        n.m[k] += dt * n.acc[0, k]
        n.U[k] += dt * n.acc[1, k] + q
        n.mf[k] += dt * n.acc[2, k]
        n.mb[k] += dt * n.acc[3, k]
        if not stir(gas, k, n.volume, n.m, n.mf, n.mb, 0.0, n.U, n.p, n.T):
            return -1e30
    return heat


@kernel
def turned(nx, ny, mx, my):
    """Share of its speed that a jet from the pipe along (nx, ny) keeps towards the pipe along (mx, my).

    Cosine of three quarters of the turn: streamlines meet a pipe that turns off at three quarters of its angle (Hager
    1984; Bassett, Winterbone & Pearson 2001, eqs 22 and 33); none beyond a turn of 120 deg.
    """
    half = math.sqrt(max(0.5 - 0.5 * (nx * mx + ny * my), 0.0))
    quarter = math.sqrt(0.5 + 0.5 * half)
    return max(quarter * (4.0 * quarter * quarter - 3.0), 0.0)


@kernel
def jets_step(j, ends, dt):
    """Advance the speed at which the jets carry a junction's gas towards each pipe (before the junctions' masses).

    What they push enters, what leaves takes the mean with it: the same implicit balance as the junction's momentum.
    """
    for e in range(ends.kind.shape[0]):
        if ends.kind[e] != L.JUNCTION:
            continue
        push = others = 0.0
        f = ends.beside[e]
        while f != e:
            if ends.push[f] != 0.0:
                push += ends.push[f] * turned(ends.nx[f], ends.ny[f], ends.nx[e], ends.ny[e])
            others += ends.w_drawn[f] * ends.area[f]
            f = ends.beside[f]
        k = ends.node[e]
        m = max(j.m[k] + dt * j.acc[0, k], 1e-30)
        stay = 1.0 / (1.0 + dt * j.acc[6, k] / m)
        ends.along[e] = max((ends.along[e] * j.m[k] + dt * push) * stay / m, 0.0)
        ends.spare[e] = ends.ahead[e] * others / ends.area[e]


@kernel
def junctions_step(gas, j, dt):
    """Advance all junctions; False if one broke down.

    Jets bring their momentum; gas that leaves takes the mean momentum with it (implicitly). Pressure at the mouths
    and on the walls balances, so gas at rest stays at rest.
    """
    for k in range(j.m.shape[0]):
        j.m[k] += dt * j.acc[0, k]
        j.E[k] += dt * j.acc[1, k]
        j.mf[k] += dt * j.acc[2, k]
        j.mb[k] += dt * j.acc[3, k]
        stay = 1.0 / (1.0 + dt * j.acc[6, k] / max(j.m[k], 1e-30))
        j.px[k] = (j.px[k] + dt * j.acc[4, k]) * stay
        j.py[k] = (j.py[k] + dt * j.acc[5, k]) * stay
        kinetic = 0.5 * (j.px[k] ** 2 + j.py[k] ** 2) / max(j.m[k], 1e-30) ** 2
        if not stir(gas, k, j.volume, j.m, j.mf, j.mb, kinetic, j.E, j.p, j.T):
            return False
    return True
