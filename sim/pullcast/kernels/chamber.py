"""One cylinder over one step: volume change, valve flows, wall heat, two-zone burning.

Open-system first law with internal energy (formation included) as the state, so that
burning is a change of composition at constant energy and no heat of combustion appears.
Work is the trapezoid of p dV used in the energy update itself, so energy closes exactly.

Burning: unburned gas is compressed adiabatically apart from its wall heat
(m cp dTu = Vu dp - dQu); burned gas is in equilibrium; both share the pressure
(Heywood 1988, sec. 9.2, 14.4). The pressure is the root of the energy balance.

Crevices hold gas at the mean temperature of piston and liner that the rise of pressure since ignition pushed in;
it comes back as pressure falls and burns then
(Namazian & Heywood 1982, SAE 820088; Heywood 1988, sec. 8.6; from memory).
Like the rest of the charge it is shared between burned and unburned by the burn law, so that mass burned is x times
what is outside the crevices. Heat of what enters: its enthalpy less its internal energy at the wall's temperature;
what returns takes R T back from the walls.

Inner functions take plain arrays: ``gas`` is the packed table (``kernels.packed``), ``g`` the geometry, ``burn``,
``flame`` and ``walls`` the rows of ``layout.Cylinders``, ``s``, ``out`` and ``acc`` one cylinder's state, results
and flows. Handing on the named tuples at every step costs several times the physics.
"""

import math

from pullcast.kernels import layout as L
from pullcast.kernels.burn import (
    LN_50,
    after_start,
    durations,
    knock_rate,
    knock_rate_he,
    laminar_speed,
    wiebe,
    wiebe_shape,
)
from pullcast.kernels.crank import piston_height, volume
from pullcast.kernels.flame import LAW, front_step, light, stir
from pullcast.kernels.jit import kernel
from pullcast.kernels.packed import (
    P_AFR,
    P_R,
    blend,
    enthalpy,
    heat_capacity,
    increment,
    packed_hf,
    packed_R,
    settled_state,
)
from pullcast.kernels.walls import WOSCHNI, coefficient

FIRING_TDC = 360.0
PREPARE = 300.0  # deg, local: burn parameters are evaluated here
MAX_STEP_OPEN = 1.0  # deg
MAX_STEP_BURN = 0.5  # deg
FIRST_LUMP = 0.002  # mass fraction burned at which the burned zone is born
BURN_END = 0.9985


@kernel
def fire_speed(g, s, p, V):
    """Gas speed that burning adds in Woschni 1967, m/s: 3.24e-3 (Vd T/(p V) at the valves' closing) (p - motored p).

    The motored pressure is polytropic from the closing with exponent 1.32. 0 before the valves have shut.
    """
    if s[L.S_SHUT_V] <= 0.0:
        return 0.0
    swept = 0.25 * math.pi * g[0] * g[0] * g[1]
    motored = s[L.S_SHUT_P] * (s[L.S_SHUT_V] / V) ** 1.32
    return 3.24e-3 * swept * s[L.S_SHUT_T] / (s[L.S_SHUT_P] * s[L.S_SHUT_V]) * max(p - motored, 0.0)


@kernel
def wall_heat(g, walls, theta, p, T, R, V, sp, fire, exchanging):
    """Heat flow to head, piston and liner, W; ``fire`` see ``fire_speed``."""
    h = coefficient(int(walls[3]), walls[4], g[0], V, p, T, R, sp, fire, exchanging)
    area = 0.25 * math.pi * g[0] * g[0]
    liner = math.pi * g[0] * (piston_height(g, theta) + 0.1 * g[0])
    return h * (area * g[5] * (T - walls[1]) + area * (T - walls[0]) + liner * (T - walls[2]))


@kernel
def squeezed(g, s, gamma, theta, at):
    """Temperature and pressure at angle ``at`` of the charge at ``theta``, compressed or expanded adiabatically."""
    ratio = volume(g, theta) / volume(g, at)
    return s[L.S_T] * ratio ** (gamma - 1.0), s[L.S_P] * ratio ** gamma


@kernel
def half_burned(gas, g, burn, s, gamma, theta, at):
    """Unburned temperature and pressure when half is burned at angle ``at``: pressure midway between motored and that
    of the whole charge burned there at constant volume, the unburned gas compressed to it adiabatically."""
    T, p = squeezed(g, s, gamma, theta, at)
    yf = s[L.S_FUEL] / s[L.S_M]
    yb = s[L.S_BURNED] / s[L.S_M]
    yf1, yb1 = burned_composition(gas[P_AFR], burn[4], yf, yb)
    u = enthalpy(blend(gas, yf, yb), T) + packed_hf(gas, yf, yb) - packed_R(gas, yf, yb) * T
    m = s[L.S_M]
    _, full, _ = settled_state(gas, m * u, 0.0, 0.0, volume(g, at), m, m * yf1, m * yb1, 2600.0)
    p_half = 0.5 * (p + full)
    return T * (p_half / p) ** (1.0 - 1.0 / gamma), p_half


@kernel
def prepare_burn(gas, g, burn, flame, s, out, theta):
    """Set start, width and form of the burn from the state now, compressed adiabatically to the spark."""
    yf = s[L.S_FUEL] / s[L.S_M]
    yb = s[L.S_BURNED] / s[L.S_M]
    R = packed_R(gas, yf, yb)
    cp = heat_capacity(blend(gas, yf, yb), s[L.S_T])
    gamma = cp / (cp - R)
    x_res = yb * gas[P_R + 2] / R
    spark = burn[1] if burn[0] > 0.5 else 25.0
    delay, dur, form, width, half = 0.0, 0.0, 0.0, 0.0, FIRING_TDC + 8.0
    for _ in range(6):
        at = max(FIRING_TDC - spark, theta)
        T, p = squeezed(g, s, gamma, theta, at)
        T_half, p_half = half_burned(gas, g, burn, s, gamma, theta, half)
        delay, dur = durations(burn, laminar_speed(flame, T, p, x_res), laminar_speed(flame, T_half, p_half, x_res))
        form, width = wiebe_shape(delay, dur)
        ahead = after_start(LN_50, width, form)
        if burn[0] < 0.5:
            spark = ahead - burn[1]
        half = max(FIRING_TDC - spark, theta) + ahead
    start = max(FIRING_TDC - spark, theta)
    s[L.S_START] = start
    s[L.S_WIDTH] = width
    s[L.S_FORM] = form
    s[L.S_PREPARED] = 1.0
    s[L.S_KNOCK] = 0.0
    out[L.C_SPARK] = FIRING_TDC - start
    out[L.C_TRAPPED] = s[L.S_M]
    out[L.C_RESIDUAL] = yb
    if burn[LAW] > 0.5:
        light(burn, s, out, start, theta)
    else:
        out[L.C_CA50] = start + after_start(LN_50, width, form) - FIRING_TDC
        out[L.C_DURATION] = dur


@kernel
def burned_composition(afr, efficiency, yf0, yb0):
    """Fuel and burned-gas fractions of the burned zone made from unburned gas (yf0, yb0); ``afr`` of the mixture."""
    air = 1.0 - yf0 - yb0
    f = efficiency * min(yf0, air / afr)
    return yf0 - f, yb0 + f * (1.0 + afr)


@kernel
def flame_temperature(gas, h, p, yf, yb):
    """Temperature of burned gas with enthalpy ``h`` (J/kg, formation included) at p; bisection on a rising curve."""
    lo = 300.0
    hi = 4200.0
    c = blend(gas, yf, yb)
    lnp = math.log(p)
    target = h - packed_hf(gas, yf, yb)
    for _ in range(40):
        T = 0.5 * (lo + hi)
        if enthalpy(c, T) + yb * increment(gas, T, lnp)[0] < target:
            lo = T
        else:
            hi = T
    return 0.5 * (lo + hi)


@kernel
def zones_at(gas, p, p0, V, m, x, least, hidden, Tc, Tu0, qu, yf0, yb0, yf1, yb1, Tb0):
    """Unburned and burned temperatures at pressure p, internal energy of all zones (J), mass burned and in crevices.

    ``x`` of the mass ``m`` outside the crevices is burned, no less than ``least`` kg; ``hidden`` is (crevice volume,
    pressure at ignition, internal energy per mass in them, mass in them before), at ``Tc``. The energy includes the
    heat of what enters or leaves them, which comes last.
    """
    c = blend(gas, yf0, yb0)
    mc = hidden[0] * max(p - hidden[1], 0.0) / (packed_R(gas, yf0, yb0) * Tc)
    mc = min(mc, 0.5 * (m - least))
    mb = max(x * (m - mc), least)
    mu = m - mc - mb
    Ru = packed_R(gas, yf0, yb0)
    lnr = math.log(p / p0)
    Tu = Tu0 * math.exp(lnr * Ru / heat_capacity(c, Tu0))
    cp = heat_capacity(c, 0.5 * (Tu + Tu0))
    Tu = Tu0 * math.exp(lnr * Ru / cp)
    if mu > 1e-4 * m:
        Tu -= qu / (mu * cp)
    Tu = min(max(Tu, 200.0), 2000.0)
    Vb = max(V - (mu * Tu + mc * Tc) * Ru / p, 1e-3 * mb * V / m)
    R0 = packed_R(gas, yf1, yb1)
    lnp = math.log(p)
    Tb = Tb0
    for _ in range(4):
        R = R0 + yb1 * increment(gas, Tb, lnp)[1]
        Tb = min(max(p * Vb / (mb * R), 300.0), 4200.0)
    dh, dR = increment(gas, Tb, lnp)
    uu = enthalpy(c, Tu) + packed_hf(gas, yf0, yb0) - Ru * Tu
    hb = enthalpy(blend(gas, yf1, yb1), Tb) + packed_hf(gas, yf1, yb1) + yb1 * dh
    U = mu * uu + mb * (hb - (R0 + yb1 * dR) * Tb) + mc * hidden[2]
    entered = mc - hidden[3]
    q = entered * (uu + Ru * Tu - hidden[2] if entered > 0.0 else Ru * Tc)
    return Tu, Tb, U + q, mb, mc, q


@kernel
def burn_step(gas, g, burn, walls, s, out, x, theta, dtheta, dt, sp, octane):
    """Advance a burning cylinder (valves closed) by ``dtheta`` to mass fraction burned ``x``; work and heat, J."""
    m = s[L.S_M]
    yf0 = s[L.S_YF0]
    yb0 = s[L.S_YB0]
    yf1, yb1 = burned_composition(gas[P_AFR], burn[4], yf0, yb0)
    x = min(x, 0.9999)
    p0 = s[L.S_P]
    V0 = volume(g, theta)
    V1 = volume(g, theta + dtheta)
    mb0 = s[L.S_X] * m
    Ru = packed_R(gas, yf0, yb0)
    Tc = 0.5 * (walls[0] + walls[2])
    uc = enthalpy(blend(gas, yf0, yb0), Tc) + packed_hf(gas, yf0, yb0) - Ru * Tc
    hidden = (burn[13], s[L.S_LIT_P], uc, s[L.S_CREVICE])
    mu0 = m - mb0 - hidden[3]
    share = min(max(mu0 * Ru * s[L.S_TU] / (p0 * V0), 0.0), 1.0)
    if int(walls[3]) == WOSCHNI:  # made for the mean temperature; shared out by volume and excess over the walls
        whole = dt * wall_heat(g, walls, theta, p0, s[L.S_T], Ru, V0, sp, fire_speed(g, s, p0, V0), False)
        cold = share * max(s[L.S_TU] - walls[1], 1.0)
        hot = (1.0 - share) * max(s[L.S_TB] - walls[1], 1.0)
        qu = whole * cold / (cold + hot)
        qb = whole - qu
    else:
        qu = share * dt * wall_heat(g, walls, theta, p0, s[L.S_TU], Ru, V0, sp, 0.0, False)
        qb = (1.0 - share) * dt * wall_heat(g, walls, theta, p0, s[L.S_TB], Ru, V0, sp, 0.0, False)
    qu *= min((m - hidden[3]) * (1.0 - x) / max(mu0, 1e-12), 1.0)
    q = qu + qb
    dV = V1 - V0
    pa = p0 * (V0 / V1) ** 1.3
    base = s[L.S_U] - q - 0.5 * p0 * dV
    Tu, Tb, U, mb, mc, qc = zones_at(gas, pa, p0, V1, m, x, mb0, hidden, Tc, s[L.S_TU], qu, yf0, yb0, yf1, yb1,
                                     s[L.S_TB])
    fa = U - (base - 0.5 * pa * dV)
    pb = pa - fa / (V1 / 0.27 + 0.5 * dV)  # second guess: both zones as one gas of gamma 1.27
    pb = min(max(pb, 0.5 * pa), 2.0 * pa)
    for _ in range(30):
        Tu, Tb, U, mb, mc, qc = zones_at(gas, pb, p0, V1, m, x, mb0, hidden, Tc, s[L.S_TU], qu, yf0, yb0, yf1, yb1,
                                         s[L.S_TB])
        fb = U - (base - 0.5 * pb * dV)
        if abs(fb) < 1e-10 * abs(base) or fa == fb:
            break
        pc = pb - fb * (pb - pa) / (fb - fa)
        pc = min(max(pc, 0.5 * pb), 2.0 * pb)
        pa = pb
        fa = fb
        pb = pc
        if abs(pb - pa) < 1e-10 * pb:
            break
    work = 0.5 * (p0 + pb) * dV
    q += qc
    s[L.S_U] -= q + work
    s[L.S_CREVICE] = mc
    s[L.S_P] = pb
    s[L.S_TU] = Tu
    s[L.S_TB] = Tb
    s[L.S_X] = mb / m
    s[L.S_T] = pb * V1 / (m * Ru)
    if m - mb - mc > 0.05 * m:
        if burn[11] > 0.5:
            s[L.S_KNOCK] += dt * knock_rate_he(burn[12], pb, Tu, octane)
        else:
            s[L.S_KNOCK] += dt * knock_rate(pb, Tu, octane)
    out[L.C_T_MAX] = max(out[L.C_T_MAX], Tb)
    return work, q


@kernel
def start_burning(gas, efficiency, s):
    """Light the first lump: an adiabatic constant-pressure flame; mass fractions stay as unburned until merged."""
    m = s[L.S_M]
    yf = s[L.S_FUEL] / m
    yb = s[L.S_BURNED] / m
    s[L.S_YF0] = yf
    s[L.S_YB0] = yb
    yf1, yb1 = burned_composition(gas[P_AFR], efficiency, yf, yb)
    h = enthalpy(blend(gas, yf, yb), s[L.S_T]) + packed_hf(gas, yf, yb)
    s[L.S_TU] = s[L.S_T]
    s[L.S_TB] = flame_temperature(gas, h, s[L.S_P], yf1, yb1)
    s[L.S_X] = 0.0
    s[L.S_LIT_P] = s[L.S_P]
    s[L.S_CREVICE] = 0.0
    s[L.S_MODE] = 1.0


@kernel
def merge_zones(gas, efficiency, s, out, V):
    """End of burning: one zone with the masses burned so far; energy unchanged."""
    m = s[L.S_M]
    x = s[L.S_X]
    yf1, yb1 = burned_composition(gas[P_AFR], efficiency, s[L.S_YF0], s[L.S_YB0])
    before = s[L.S_FUEL]
    s[L.S_FUEL] = m * (x * yf1 + (1.0 - x) * s[L.S_YF0])
    s[L.S_BURNED] = m * (x * yb1 + (1.0 - x) * s[L.S_YB0])
    out[L.C_BURNED_MASS] = before - s[L.S_FUEL]
    out[L.C_KNOCK] = s[L.S_KNOCK]
    T, p, _ = settled_state(gas, s[L.S_U], 0.0, 0.0, V, m, s[L.S_FUEL], s[L.S_BURNED], s[L.S_TB])
    s[L.S_T] = T
    s[L.S_P] = p
    s[L.S_MODE] = 2.0


@kernel
def zone_step(gas, g, walls, s, acc, theta, dtheta, dt, sp, exchanging):
    """Advance a one-zone cylinder with valve flows ``acc`` (per second) by ``dtheta``; returns work and heat, J."""
    V0 = volume(g, theta)
    V1 = volume(g, theta + dtheta)
    p0 = s[L.S_P]
    R = p0 * V0 / (s[L.S_M] * s[L.S_T])
    fire = 0.0
    if int(walls[3]) == WOSCHNI and s[L.S_MODE] == 2.0 and not exchanging:
        fire = fire_speed(g, s, p0, V0)
    q = dt * wall_heat(g, walls, theta, p0, s[L.S_T], R, V0, sp, fire, exchanging)
    s[L.S_M] += dt * acc[L.A_MASS]
    s[L.S_FUEL] = max(s[L.S_FUEL] + dt * acc[L.A_FUEL], 0.0)
    s[L.S_BURNED] = max(s[L.S_BURNED] + dt * acc[L.A_BURNED], 0.0)
    if not (s[L.S_M] > 0.0):
        s[L.S_P] = -1.0
        return 0.0, 0.0
    base = s[L.S_U] + dt * acc[L.A_H] - q
    T, p, _ = settled_state(gas, base, p0, V1 - V0, V1, s[L.S_M], s[L.S_FUEL], s[L.S_BURNED], s[L.S_T])
    work = 0.5 * (p0 + p) * (V1 - V0)
    s[L.S_U] = base - work
    s[L.S_P] = p
    s[L.S_T] = T
    return work, q


@kernel
def note_trapped(g, s, out, at):
    """Keep the charge as trapped, from which the closed part of the cycle can be marched again."""
    s[L.S_SHUT_P] = s[L.S_P]
    s[L.S_SHUT_V] = volume(g, at)
    s[L.S_SHUT_T] = s[L.S_T]
    out[L.C_SHUT_AT] = at
    out[L.C_SHUT_M] = s[L.S_M]
    out[L.C_SHUT_FUEL] = s[L.S_FUEL]
    out[L.C_SHUT_BURNED] = s[L.S_BURNED]
    out[L.C_SHUT_U] = s[L.S_U]
    out[L.C_SHUT_T] = s[L.S_T]
    out[L.C_SHUT_K] = s[L.S_K]
    out[L.C_SHUT_FLOW] = s[L.S_FLOW]
    out[L.C_SHUT_TUMBLE] = s[L.S_TUMBLE]


@kernel
def advance_cylinder(gas, g, burn, flame, walls, s, out, acc, books, closing, opening, local, dtheta, dt, sp, octane):
    """Advance one cylinder from its own angle ``local`` by ``dtheta``; False if its state broke down."""
    p_before = s[L.S_P]
    limit = max(MAX_STEP_OPEN, dtheta)  # a caller that takes longer steps wants them
    lit = s[L.S_PREPARED] == 1.0 and s[L.S_MODE] < 1.5 and local + dtheta > s[L.S_START]
    if lit or (closing < local < PREPARE + dtheta):
        limit = max(MAX_STEP_BURN, 0.5 * dtheta)
    n = math.ceil(dtheta / limit - 1e-9)
    d = dtheta / n
    h = dt / n
    closed = closing < local and local + dtheta < opening
    flaming = burn[LAW] > 0.5
    for i in range(n):
        at = local + i * d
        if at >= 720.0:
            at -= 720.0
        if not closed and s[L.S_MODE] == 1.0:
            merge_zones(gas, burn[4], s, out, volume(g, at))
        if closed and s[L.S_MODE] == 0.0:
            if out[L.C_SHUT_AT] == 0.0 and at < PREPARE:
                note_trapped(g, s, out, at)
            if s[L.S_PREPARED] == 0.0 and at >= PREPARE:
                prepare_burn(gas, g, burn, flame, s, out, at)
        x = 0.0
        if closed and s[L.S_PREPARED] == 1.0 and s[L.S_MODE] < 1.5 and at + d > s[L.S_START]:
            if flaming:
                x = front_step(gas, g, burn, flame, s, out, at, d, h)
            else:
                x = wiebe(at + d, s[L.S_START], s[L.S_WIDTH], s[L.S_FORM])
            if s[L.S_MODE] == 0.0 and x > FIRST_LUMP:
                start_burning(gas, burn[4], s)
        p_now = s[L.S_P]
        if s[L.S_MODE] == 1.0:
            work, q = burn_step(gas, g, burn, walls, s, out, x, at, d, h, sp, octane)
            if s[L.S_X] > BURN_END:
                merge_zones(gas, burn[4], s, out, volume(g, at + d))
        else:
            work, q = zone_step(gas, g, walls, s, acc, at, d, h, sp, not closed)
            if at < opening <= at + d:
                out[L.C_EVO_T] = s[L.S_T]
            if s[L.S_MODE] == 2.0 and (at < PREPARE):
                s[L.S_MODE] = 0.0
                s[L.S_PREPARED] = 0.0
        if flaming:
            stir(flame, g, s, acc, p_now, at, d, h)
        books[L.B_WORK] += work
        books[L.B_Q_CYL] += q
        if 180.0 <= at + 0.5 * d < 540.0:
            out[L.C_WORK_GROSS] += work
            if at > FIRING_TDC and not closed:
                out[L.C_WORK_OPEN] += work
        else:
            out[L.C_WORK_PUMP] += work
        out[L.C_HEAT] += q
        out[L.C_P_MAX] = max(out[L.C_P_MAX], s[L.S_P])
    s[L.S_DPDT] = (s[L.S_P] - p_before) / dt
    return s[L.S_P] > 0.0 and s[L.S_P] < 1e9 and s[L.S_T] > 0.0


@kernel
def cylinder_step(gas, cylinders, books, k, theta, dtheta, dt, sp, octane):
    """Advance cylinder ``k`` from global angle ``theta`` by ``dtheta``; False if its state broke down."""
    local = (theta - cylinders.phase[k]) % 720.0
    return advance_cylinder(gas.packed, cylinders.geometry, cylinders.burn, cylinders.flame, cylinders.walls,
                            cylinders.state[k], cylinders.out[k], cylinders.acc[k], books, cylinders.closed[k, 0],
                            cylinders.closed[k, 1], local, dtheta, dt, sp, octane)
