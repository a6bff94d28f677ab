"""Face pressure at a pipe end: one bracketed scalar equation per end.

Every residual is monotone on its bracket, so regula falsi with the Illinois
correction (Dowell & Jarratt 1971), started from the last step's face pressure,
always converges; the flux it yields is used on both sides, so its tolerance
does not touch conservation.
"""

import math

from pullcast.kernels.jit import kernel
from pullcast.kernels.orifice import critical_ratio, psi, psi_of
from pullcast.kernels.wave import sonic_pressure, wave_rho, wave_w

ORIFICE_IN, ORIFICE_OUT, OPEN_IN, OPEN_OUT = 0, 1, 2, 3
TOL = 1e-8


@kernel
def residual(case, p, ri, wi, pi, ai, g, k, p0, T0, R, g0, free):
    """Residual of the face equation at face pressure ``p``.

    ``k`` is effective area over face area (orifice) or a loss coefficient (open end). For flow into the pipe
    p0, T0, R, g0 describe the stagnation gas outside; for flow out p0 is the static pressure outside. ``free``: no
    speed of sound holds an orifice back.
    """
    w = wave_w(p, ri, wi, pi, ai, g)
    if case == ORIFICE_IN:
        T = T0 - 0.5 * w * w * (g0 - 1.0) / (g0 * R)
        return p / (R * max(T, 1.0)) * w - k * psi_of(p / p0, g0, free) * p0 / math.sqrt(R * T0)
    if case == OPEN_IN:
        cp = g0 * R / (g0 - 1.0)
        T = max(T0 - 0.5 * w * w / cp, 1.0)
        head = 0.5 * p / (R * T) * w * abs(w)
        return p * (T0 / T) ** (g0 / (g0 - 1.0)) + k * head - p0
    rho = wave_rho(p, ri, pi, g)
    if case == OPEN_OUT:
        return p - p0 - 0.5 * k * rho * w * w
    m2 = w * w * rho / (g * p)
    rise = 1.0 + 0.5 * (g - 1.0) * m2
    pt = p * rise ** (g / (g - 1.0))
    rt = p / rho * rise
    return rho * w + k * psi_of(p0 / pt, g, free) * pt / math.sqrt(rt)


@kernel
def bracketed(case, lo, hi, guess, ri, wi, pi, ai, g, k, p0, T0, R, g0, free):
    """Root of ``residual`` in [lo, hi]; residual rises with p."""
    flo = residual(case, lo, ri, wi, pi, ai, g, k, p0, T0, R, g0, free)
    if flo >= 0.0:
        return lo
    fhi = residual(case, hi, ri, wi, pi, ai, g, k, p0, T0, R, g0, free)
    if fhi <= 0.0:
        return hi
    x = guess if lo < guess < hi else 0.5 * (lo + hi)
    side = 0
    for it in range(60):
        if it > 0:
            x = (lo * fhi - hi * flo) / (fhi - flo)
            if it > 25:
                x = 0.5 * (lo + hi)
        f = residual(case, x, ri, wi, pi, ai, g, k, p0, T0, R, g0, free)
        if f > 0.0:
            step = hi - x
            hi = x
            fhi = f
            if side == 1:
                flo *= 0.5
            side = 1
        else:
            step = x - lo
            lo = x
            flo = f
            if side == -1:
                fhi *= 0.5
            side = -1
        if it > 0 and (step < TOL * x or hi - lo < TOL * x):
            break
    return x


@kernel
def sonic_in(flow, T0, R, g0):
    """Face at Mach 1 carrying ``flow`` (kg/(m2 s)) with stagnation temperature T0: p, w, rho."""
    T = T0 * 2.0 / (g0 + 1.0)
    w = math.sqrt(g0 * R * T)
    rho = flow / w
    return rho * R * T, w, rho


@kernel
def orifice_in(guess, pw, ri, wi, pi, ai, g, k, p0, T0, R, g0, free=0):
    """Gas outside (p0, T0) enters through an orifice of k times the face area. Returns p, w, rho of the face.

    ``free``: the orifice does not choke; the face still does.
    """
    choked = k * psi(0.0, g0) * p0 / math.sqrt(R * T0)
    ps, ws, rs = sonic_in(choked, T0, R, g0)
    if free == 0 and ps <= p0 * critical_ratio(g0) and ps > 0.0 and wave_w(ps, ri, wi, pi, ai, g) >= ws:
        return ps, ws, rs
    p = bracketed(ORIFICE_IN, pw, p0, guess, ri, wi, pi, ai, g, k, p0, T0, R, g0, free)
    w = wave_w(p, ri, wi, pi, ai, g)
    if free != 0 and w > ws:
        return sonic_in(k * psi_of(p / p0, g0, free) * p0 / math.sqrt(R * T0), T0, R, g0)
    T = T0 - 0.5 * w * w * (g0 - 1.0) / (g0 * R)
    return p, w, p / (R * T)


@kernel
def orifice_out(guess, pw, ri, wi, pi, ai, g, k, p0, free=0):
    """Gas leaves the pipe through an orifice into pressure p0. Returns p, w (< 0), rho of the face.

    ``free``: the orifice does not choke; the face still does.
    """
    lo = max(p0, min(sonic_pressure(wi, pi, ai, g), 0.999999 * pw))
    p = bracketed(ORIFICE_OUT, lo, pw, guess, ri, wi, pi, ai, g, k, p0, 0.0, 0.0, 0.0, free)
    return p, wave_w(p, ri, wi, pi, ai, g), wave_rho(p, ri, pi, g)


@kernel
def open_in(guess, pw, ri, wi, pi, ai, g, k, p0, T0, R, g0):
    """Gas outside enters an open end with entry loss k on the face's dynamic head. Returns p, w, rho."""
    Ts = T0 * 2.0 / (g0 + 1.0)
    ws = math.sqrt(g0 * R * Ts)
    ps = p0 / ((0.5 * (g0 + 1.0)) ** (g0 / (g0 - 1.0)) + 0.5 * k * g0)
    if wave_w(ps, ri, wi, pi, ai, g) >= ws:
        return ps, ws, ps / (R * Ts)
    p = bracketed(OPEN_IN, pw, p0, guess, ri, wi, pi, ai, g, k, p0, T0, R, g0, 0)
    w = wave_w(p, ri, wi, pi, ai, g)
    T = T0 - 0.5 * w * w * (g0 - 1.0) / (g0 * R)
    return p, w, p / (R * T)


@kernel
def open_out(guess, pw, ri, wi, pi, ai, g, k, p0):
    """Gas leaves an open end into p0 (jet keeps its dynamic head; extra loss k). Returns p, w, rho."""
    ps = sonic_pressure(wi, pi, ai, g)
    if wi <= -ai:
        return pi, wi, ri
    p = p0
    if k > 0.0 and ps < pw:
        p = bracketed(OPEN_OUT, max(p0, ps), pw, guess, ri, wi, pi, ai, g, k, p0, 0.0, 0.0, 0.0, 0)
    p = max(p, ps)
    return p, wave_w(p, ri, wi, pi, ai, g), wave_rho(p, ri, pi, g)
