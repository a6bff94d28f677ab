"""Temperature from energy, with burned gas in equilibrium when hot."""

import math

from pullcast.kernels.gas import mix_cp, mix_h, mix_hf, mix_R
from pullcast.kernels.jit import kernel


@kernel
def burned_increment(gas, T, p):
    """Equilibrium minus frozen enthalpy (J/kg) and gas constant (J/(kg K)) of burned gas; bilinear in T, ln p."""
    x = (T - gas.eq_T[0]) / gas.eq_T[1]
    if x <= 0.0:
        return 0.0, 0.0
    y = (math.log(p) - gas.eq_lnp[0]) / gas.eq_lnp[1]
    nx = gas.eq_dh.shape[0]
    ny = gas.eq_dh.shape[1]
    x = min(x, nx - 1.000001)
    y = min(max(y, 0.0), ny - 1.000001)
    i = int(x)
    j = int(y)
    fx = x - i
    fy = y - j
    w00 = (1.0 - fx) * (1.0 - fy)
    w10 = fx * (1.0 - fy)
    w01 = (1.0 - fx) * fy
    w11 = fx * fy
    dh = w00 * gas.eq_dh[i, j] + w10 * gas.eq_dh[i + 1, j] + w01 * gas.eq_dh[i, j + 1] + w11 * gas.eq_dh[i + 1, j + 1]
    dR = w00 * gas.eq_dR[i, j] + w10 * gas.eq_dR[i + 1, j] + w01 * gas.eq_dR[i, j + 1] + w11 * gas.eq_dR[i + 1, j + 1]
    return dh, dR


@kernel
def hot_h(gas, T, p, yf, yb):
    """Enthalpy with formation (J/kg) and gas constant of a mixture whose burned part is in equilibrium when hot."""
    dh, dR = burned_increment(gas, T, p)
    return mix_h(gas, T, yf, yb) + mix_hf(gas, yf, yb) + yb * dh, mix_R(gas, yf, yb) + yb * dR


@kernel
def temperature_frozen(gas, e, T, yf, yb):
    """Temperature at which the frozen mixture has sensible internal energy ``e`` (J/kg); Newton from T."""
    R = mix_R(gas, yf, yb)
    for _ in range(20):
        step = (mix_h(gas, T, yf, yb) - R * T - e) / (mix_cp(gas, T, yf, yb) - R)
        T = min(max(T - step, 60.0), 6000.0)
        if abs(step) < 1e-10 * T:
            break
    return T


@kernel
def closed_state(gas, U, V, m, mf, mb, T):
    """T, p, R of a cylinder's one-zone content from internal energy with formation (J) and volume (m3)."""
    yf = mf / m
    yb = mb / m
    e = U / m
    hf = mix_hf(gas, yf, yb)
    R0 = mix_R(gas, yf, yb)
    dR = 0.0
    for _ in range(40):
        R = R0 + yb * dR
        p = m * R * T / V
        dh, dR = burned_increment(gas, T, p)
        R = R0 + yb * dR
        cv = mix_cp(gas, T, yf, yb) - R0
        if dh != 0.0 or dR != 0.0:
            dh2, dR2 = burned_increment(gas, T + 1.0, p * (1.0 + 1.0 / T))
            cv += yb * (dh2 - dh - (dR2 * (T + 1.0) - dR * T))
        step = (mix_h(gas, T, yf, yb) + hf + yb * dh - R * T - e) / cv
        step = min(max(step, -300.0), 300.0)
        T = min(max(T - step, 60.0), 6000.0)
        if abs(step) < 1e-9 * T:
            break
    dh, dR = burned_increment(gas, T, m * R * T / V)
    R = R0 + yb * dR
    return T, m * R * T / V, R
