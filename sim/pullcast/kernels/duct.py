"""Quasi-1D gas dynamics in all pipes at once: MUSCL-Hancock, HLLC, frozen-gamma energy.

One step is four passes over the flat arrays:

1. ``primitives``  conserved state -> u, yf, yb, T, gamma, sound speed; largest signal rate
2. ``predict``     limited slopes and half a time step -> states at both faces of each cell
3. ``fluxes``      HLLC at every face (pipe ends are overwritten by ``kernels.ends``)
4. ``update``      conserved state, wall friction and heat, pressure

Scheme: MUSCL-Hancock (van Leer 1984; Toro, *Riemann Solvers*, ch. 14) in primitive
variables. The pressure term ``(p - p_i)`` times face area makes gas at rest in any
taper stay at rest exactly.

Pressure at contacts: with a temperature- and mixture-dependent gamma a plain
conservative update makes false pressure waves where hot burned gas meets cold
charge. Here the pressure is marched with the gamma and energy offset of each cell
frozen over the step (double flux: Abgrall & Karni 2001; Billet & Abgrall 2003; form
of Ma, Lv & Ihme 2017), while the conserved energy keeps the exact books. The
pressure relaxes to the one the books imply with the time constant ``tau``: energy
closes to round-off and the false wave is spread out and mostly cancels.
"""

import math

from pullcast.kernels.gas import AIR, BURNED, FUEL, NCP
from pullcast.kernels.jit import kernel
from pullcast.kernels.limiters import monotonized_central
from pullcast.kernels.riemann import hllc, sound

SUTHERLAND = 1.716e-5 * (273.15 + 110.4) / 273.15**1.5  # viscosity of air, Pa s/K^0.5
LN_7 = math.log(7.0)
SMALL_P = 50.0  # Pa, floor of the marched pressure; the books are not touched


@kernel
def primitives(gas_R, gas_cp, gas_h, dx, real, rho, mom, ene, rf, rb, p, u, yf, yb, gamma, e0, a, T, eint):
    """Fill u, yf, yb, T, gamma, e0, a, eint of every cell; return the largest (|u|+a)/dx, 1/s (or -1: bad state)."""
    c = gas_cp
    h = gas_h
    top = 0.0
    bad = 0.0
    for i in range(rho.shape[0]):
        r = rho[i]
        ir = 1.0 / r
        v = mom[i] * ir
        f = rf[i] * ir
        b = rb[i] * ir
        w = 1.0 - f - b
        gas_const = w * gas_R[AIR] + f * gas_R[FUEL] + b * gas_R[BURNED]
        temp = p[i] * ir / gas_const
        t = min(max(temp, 120.0), 4200.0) * 1e-3
        ca = c[AIR, NCP - 1]
        cf = c[FUEL, NCP - 1]
        cb = c[BURNED, NCP - 1]
        ha = h[AIR, NCP]
        hf = h[FUEL, NCP]
        hb = h[BURNED, NCP]
        for k in range(NCP - 1, 0, -1):
            ca = ca * t + c[AIR, k - 1]
            cf = cf * t + c[FUEL, k - 1]
            cb = cb * t + c[BURNED, k - 1]
        for k in range(NCP, 0, -1):
            ha = ha * t + h[AIR, k - 1]
            hf = hf * t + h[FUEL, k - 1]
            hb = hb * t + h[BURNED, k - 1]
        cp = w * ca + f * cf + b * cb
        hh = w * ha + f * hf + b * hb
        cv = cp - gas_const
        g = cp / cv
        hh = hh + cp * (temp - 1e3 * t)
        rt = gas_const * temp
        e = hh - rt
        u[i] = v
        yf[i] = f
        yb[i] = b
        T[i] = temp
        gamma[i] = g
        e0[i] = e - rt / (g - 1.0)
        s = math.sqrt(max(g * rt, 0.0))
        a[i] = s
        eint[i] = r * (e + 0.5 * v * v)
    for i in range(rho.shape[0]):
        rate = real[i] * (abs(u[i]) + a[i]) / dx[i]
        top = max(top, rate)
        ok = (rho[i] > 0.0) and (p[i] > 0.0) and (rate < 1e9)
        bad += 0.0 if ok or real[i] == 0.0 else 1.0
    if bad > 0.0:
        return -1.0
    return top


@kernel
def predict(dt, dx, slope, rho, u, p, yf, yb, gamma, left, right, p_half):
    """Limited slopes and half-step evolution; fills ``left``, ``right`` (5, n) and ``p_half``."""
    n = rho.shape[0]
    for i in range(1, n - 1):
        k = 0.5 * dt / dx[i]
        dr = monotonized_central(rho[i] - rho[i - 1], rho[i + 1] - rho[i])
        du = monotonized_central(u[i] - u[i - 1], u[i + 1] - u[i])
        dp = monotonized_central(p[i] - p[i - 1], p[i + 1] - p[i])
        df = monotonized_central(yf[i] - yf[i - 1], yf[i + 1] - yf[i])
        db = monotonized_central(yb[i] - yb[i - 1], yb[i + 1] - yb[i])
        r0 = rho[i]
        u0 = u[i]
        p0 = p[i]
        spread = u0 * slope[i] * dx[i]
        hr = r0 - k * (u0 * dr + r0 * (du + spread))
        hu = u0 - k * (u0 * du + dp / r0)
        hp = p0 - k * (u0 * dp + gamma[i] * p0 * (du + spread))
        safe = 1.0 if (min(hr, hr - 0.5 * dr, hr + 0.5 * dr) > 0.05 * r0
                       and min(hp, hp - 0.5 * dp, hp + 0.5 * dp) > 0.05 * p0) else 0.0
        hr = r0 + safe * (hr - r0)
        hu = u0 + safe * (hu - u0)
        hp = p0 + safe * (hp - p0)
        hf = yf[i] - safe * k * u0 * df
        hb = yb[i] - safe * k * u0 * db
        dr *= 0.5 * safe
        du *= 0.5 * safe
        dp *= 0.5 * safe
        df *= 0.5 * safe
        db *= 0.5 * safe
        left[0, i] = hr - dr
        right[0, i] = hr + dr
        left[1, i] = hu - du
        right[1, i] = hu + du
        left[2, i] = hp - dp
        right[2, i] = hp + dp
        left[3, i] = hf - df
        right[3, i] = hf + df
        left[4, i] = hb - db
        right[4, i] = hb + db
        p_half[i] = hp


@kernel
def fluxes(gamma, e0, left, right, flux, flux_lo, flux_hi):
    """HLLC at faces 2..n-2: mass, momentum, energy, species per area, and the two frozen-gamma energy fluxes.

    One-dimensional views and no branches, so that the loop vectorises.
    """
    n = gamma.shape[0]
    r_lo, u_lo, p_lo, f_lo, b_lo = right[0], right[1], right[2], right[3], right[4]
    r_hi, u_hi, p_hi, f_hi, b_hi = left[0], left[1], left[2], left[3], left[4]
    mass, momentum, energy, fuel, burned = flux[0], flux[1], flux[2], flux[3], flux[4]
    for i in range(1, n - 2):
        rl = r_lo[i]
        ul = u_lo[i]
        pl = p_lo[i]
        rr = r_hi[i + 1]
        ur = u_hi[i + 1]
        pr = p_hi[i + 1]
        fl = f_lo[i]
        fr = f_hi[i + 1]
        bl = b_lo[i]
        br = b_hi[i + 1]
        gl = gamma[i]
        gr = gamma[i + 1]
        sl, sm, sr, ps = hllc(rl, ul, pl, sound(gl, pl, rl), rr, ur, pr, sound(gr, pr, rr))
        up = sm >= 0.0
        r = rl if up else rr
        v = ul if up else ur
        q = pl if up else pr
        s = sl if up else sr
        outside = (sl >= 0.0) or (sr <= 0.0)
        d = 1.0 / (s - sm)
        k = 1.0 if outside else (s - v) * d
        work = 0.0 if outside else (ps * sm - q * v) * d
        vs = v if outside else sm
        qs = q if outside else ps
        m = r * k * vs
        kin = 0.5 * r * v * v
        # energy in the star state is k*E + work; with frozen gamma g: E = q/(g-1) + r e0 + kin
        el = k * (q / (gl - 1.0) + r * e0[i] + kin) + work
        er = k * (q / (gr - 1.0) + r * e0[i + 1] + kin) + work
        lo = (el + qs) * vs
        hi = (er + qs) * vs
        mass[i + 1] = m
        momentum[i + 1] = m * vs + qs
        energy[i + 1] = lo if up else hi
        fuel[i + 1] = m * (fl if up else fr)
        burned[i + 1] = m * (bl if up else br)
        flux_lo[i + 1] = lo
        flux_hi[i + 1] = hi


@kernel
def update(dt, tau, vol, face, real, rho, mom, ene, rf, rb, p, gamma, e0, eint, cf, ch, wall, T, p_half,
           flux, flux_lo, flux_hi):
    """Advance every real cell by dt; returns the heat received from the walls, J."""
    heat = 0.0
    relax = dt / (tau + dt)
    for i in range(1, rho.shape[0] - 1):
        k = real[i] * dt / vol[i]
        al = k * face[i]
        ar = k * face[i + 1]
        r = rho[i] + flux[0, i] * al - flux[0, i + 1] * ar
        m = mom[i] + (flux[1, i] - p_half[i]) * al - (flux[1, i + 1] - p_half[i]) * ar
        q = real[i] * dt * ch[i] * (wall[i] - T[i])
        debt = ene[i] - eint[i]
        ef = eint[i] + flux_hi[i] * al - flux_lo[i + 1] * ar + q + relax * debt * real[i]
        ene[i] += flux[2, i] * al - flux[2, i + 1] * ar + q
        rf[i] += flux[3, i] * al - flux[3, i + 1] * ar
        rb[i] += flux[4, i] * al - flux[4, i + 1] * ar
        m = m / (1.0 + real[i] * dt * cf[i] * abs(m) / r)
        pn = (gamma[i] - 1.0) * (ef - 0.5 * m * m / r - r * e0[i])
        rho[i] = r
        mom[i] = m
        p[i] = max(pn, SMALL_P) if real[i] > 0.0 else p[i]
        heat += q * vol[i]
    return heat


@kernel
def transport(diameter, roughness, loss, heat_factor, friction, rho, u, T, gamma, p, cf, ch):
    """Refresh wall friction (half (f/D + K/L), 1/m) and heat transfer (4h/D, W/(m3 K)) of every cell.

    Darcy friction of Churchill 1977 (laminar to rough turbulent); heat transfer by the Colburn analogy
    Nu = 0.023 Re^0.8 Pr^(1/3) (Incropera & DeWitt eq. 8.59 form), not below the laminar 3.66, times the factor
    for pulsating flow. Viscosity: Sutherland for air (White, *Viscous Fluid Flow*, table 1-2), Pr 0.71.
    """
    for i in range(rho.shape[0]):
        t = min(max(T[i], 150.0), 3500.0)
        mu = SUTHERLAND * t * math.sqrt(t) / (t + 110.4)
        d = diameter[i]
        re = max(rho[i] * abs(u[i]) * d / mu, 10.0)
        ln_re = math.log(re)  # every power by exp and log: half the time of pow
        s = math.exp(0.9 * (LN_7 - ln_re)) + 0.27 * roughness[i] / d
        big = (-2.457 * math.log(s)) ** 16 + (37530.0 / re) ** 16
        f = 8.0 * math.exp(math.log((8.0 / re) ** 12 + 1.0 / (big * math.sqrt(big))) / 12.0)
        cf[i] = 0.5 * (friction[i] * f / d + loss[i])
        g = gamma[i]
        cp = g / (g - 1.0) * p[i] / (rho[i] * t)
        nu = max(0.023 * 0.892 * math.exp(0.8 * ln_re), 3.66) * heat_factor[i]
        ch[i] = 4.0 * nu * mu * cp / 0.71 / (d * d)
