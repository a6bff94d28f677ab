"""Gas properties and tables for eight points side by side; frozen properties are those of ``kernels.packed``."""

from pullcast.kernels.jit import inner, small
from pullcast.kernels.lanes import any_of, exp, floor, four, get, greatest, least, log, where
from pullcast.kernels.packed import (
    P_BURNED,
    P_EQ,
    P_EQ_P,
    P_EQ_T,
    P_FUEL,
    P_H,
    SETTLED,
    packed_hf,
    packed_R,
)

CLIMB = 300.0  # K, largest step of an iteration


@small
def blends(g, yf, yb):
    """Coefficients of the mixture's sensible enthalpy, as ``kernels.packed.blend``, from air and what differs."""
    a, f, b = P_H, P_FUEL, P_BURNED
    return (
        g[a] + yf * g[f] + yb * g[b], g[a + 1] + yf * g[f + 1] + yb * g[b + 1],
        g[a + 2] + yf * g[f + 2] + yb * g[b + 2], g[a + 3] + yf * g[f + 3] + yb * g[b + 3],
        g[a + 4] + yf * g[f + 4] + yb * g[b + 4], g[a + 5] + yf * g[f + 5] + yb * g[b + 5],
        g[a + 6] + yf * g[f + 6] + yb * g[b + 6], g[a + 7] + yf * g[f + 7] + yb * g[b + 7],
    )


@small
def caloric(c, T):
    """Sensible enthalpy, J/kg, and cp, J/(kg K), of blended coefficients ``c``: a polynomial with its derivative."""
    t = T * 1e-3
    s = c[6] + t * c[7]
    d = s + t * c[7]
    s = c[5] + t * s
    d = s + t * d
    s = c[4] + t * s
    d = s + t * d
    s = c[3] + t * s
    d = s + t * d
    s = c[2] + t * s
    d = s + t * d
    s = c[1] + t * s
    d = s + t * d
    return c[0] + t * s, 1e-3 * d


@inner
def table_row(table, local):
    """Linear interpolation in a table at every half degree of 720, a row of lanes each; ``local`` 0 to 1440 deg."""
    s = 2.0 * local
    if s >= 1440.0:
        s -= 1440.0
    i = int(s)
    low = get(table, i)
    return low + (s - i) * (get(table, i + 1) - low)


@inner
def increments(g, T, lnp):
    """Equilibrium minus frozen enthalpy (J/kg) and gas constant of burned gas, as ``kernels.packed.increment``."""
    nx = g[P_EQ_T + 2]
    ny = g[P_EQ_P + 2]
    x = (T - g[P_EQ_T]) / g[P_EQ_T + 1]
    hot = x > 0.0
    x = least(greatest(x, 0.0), nx - 1.000001)
    y = least(greatest((lnp - g[P_EQ_P]) / g[P_EQ_P + 1], 0.0), ny - 1.000001)
    i = floor(x)
    j = floor(y)
    fx = x - i
    fy = y - j
    at = P_EQ + 2.0 * (i * ny + j)
    h00, r00, h01, r01 = four(g, at)
    h10, r10, h11, r11 = four(g, at + 2.0 * ny)
    low = h00 + fy * (h01 - h00)
    dh = low + fx * (h10 + fy * (h11 - h10) - low)
    low = r00 + fy * (r01 - r00)
    dR = low + fx * (r10 + fy * (r11 - r10) - low)
    return where(hot, dh, 0.0), where(hot, dR, 0.0)


@inner
def settled_states(g, base, p0, dV, V, m, mf, mb, T, on):
    """T, p and R of one zone whose energy is ``base`` less the work (p0 + p) dV / 2: one Newton iteration on T.

    As ``kernels.packed.settled_state``; lanes not ``on`` give what they are given. A lane that has settled waits for
    the others unchanged.
    """
    per = 1.0 / m
    yf = mf * per
    yb = mb * per
    c = blends(g, yf, yb)
    e = (base - 0.5 * p0 * dV) * per - packed_hf(g, yf, yb)
    R0 = packed_R(g, yf, yb)
    half = 0.5 * dV / V
    rho = m / V
    hot_T = g[P_EQ_T] - 1.0
    dh = 0.0 * m
    dR = 0.0 * m
    going = on
    for _ in range(40):
        h, cp = caloric(c, T)
        cv = cp - R0
        hot = going & (yb > 0.0) & (hot_T < T)
        if any_of(hot):
            lnp = log(rho * (R0 + yb * dR) * T)
            dh1, dR1 = increments(g, T, lnp)
            dh2, dR2 = increments(g, T + 1.0, lnp + 1.0 / T)
            cv += where(hot, yb * (dh2 - dh1 - (dR2 * (T + 1.0) - dR1 * T)), 0.0)
            dh = where(going, where(hot, dh1, 0.0), dh)
            dR = where(going, where(hot, dR1, 0.0), dR)
        else:
            dh = where(going, 0.0, dh)
            dR = where(going, 0.0, dR)
        R = R0 + yb * dR
        step = (h + yb * dh - R * T * (1.0 - half) - e) / (cv + R * half)
        step = least(greatest(step, -CLIMB), CLIMB)
        T = where(going, least(greatest(T - step, 60.0), 6000.0), T)
        going = going & ((step > SETTLED * T) | (step < -SETTLED * T))
        if not any_of(going):
            break
    hot = (yb > 0.0) & (hot_T < T)
    if any_of(on & hot):
        dh1, dR1 = increments(g, T, log(rho * (R0 + yb * dR) * T))
        dR = where(hot, dR1, dR)
    R = R0 + yb * dR
    return T, rho * R * T, R


@inner
def power(x, a):
    """x^a of positive numbers."""
    return exp(a * log(x))


@inner
def choked(gamma):
    """Square of the flow function at Mach 1 (``kernels.orifice.psi``), and the pressure ratio where that begins."""
    throat = log(2.0 / (gamma + 1.0))
    over = 1.0 / (gamma - 1.0)
    return gamma * exp((gamma + 1.0) * over * throat), exp(gamma * over * throat)
