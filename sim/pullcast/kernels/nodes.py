"""Volumes and junctions over one step."""

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
