"""Volumes and junction cells over one step."""

from pullcast.kernels.gas import mix_R
from pullcast.kernels.jit import kernel
from pullcast.kernels.mixture import temperature_frozen


@kernel
def volumes_step(gas, nodes, dt):
    """Advance all volumes but the surroundings; returns heat received from walls (J) or -1e30 if one broke down."""
    heat = 0.0
    for k in range(1, nodes.m.shape[0]):
        q = dt * nodes.h_wall[k] * (nodes.t_wall[k] - nodes.T[k])
        heat += q
        nodes.m[k] += dt * nodes.acc[0, k]
        nodes.U[k] += dt * nodes.acc[1, k] + q
        nodes.mf[k] += dt * nodes.acc[2, k]
        nodes.mb[k] += dt * nodes.acc[3, k]
        m = nodes.m[k]
        if not (m > 0.0):
            return -1e30
        yf = nodes.mf[k] / m
        yb = nodes.mb[k] / m
        T = temperature_frozen(gas, nodes.U[k] / m, nodes.T[k], yf, yb)
        nodes.T[k] = T
        nodes.p[k] = m * mix_R(gas, yf, yb) * T / nodes.volume[k]
    return heat


@kernel
def junctions_step(gas, j, dt):
    """Advance all junction cells; False if one broke down.

    Walls push with the cell's pressure: the net wall area is minus the sum of the openings' area vectors, so
    gas at rest stays at rest and a sudden enlargement loses (1 - A1/A2)^2 of the dynamic head (Borda-Carnot).
    """
    for k in range(j.m.shape[0]):
        p = j.p[k]
        j.m[k] += dt * j.acc[0, k]
        j.E[k] += dt * j.acc[1, k]
        j.mf[k] += dt * j.acc[2, k]
        j.mb[k] += dt * j.acc[3, k]
        j.px[k] += dt * (j.acc[4, k] + p * j.wx[k])
        j.py[k] += dt * (j.acc[5, k] + p * j.wy[k])
        m = j.m[k]
        if not (m > 0.0):
            return False
        yf = j.mf[k] / m
        yb = j.mb[k] / m
        e = j.E[k] / m - 0.5 * (j.px[k] ** 2 + j.py[k] ** 2) / (m * m)
        T = temperature_frozen(gas, e, j.T[k], yf, yb)
        j.T[k] = T
        j.p[k] = m * mix_R(gas, yf, yb) * T / j.volume[k]
        if not (T > 60.0):
            return False
    return True
