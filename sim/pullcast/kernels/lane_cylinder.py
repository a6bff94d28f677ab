"""Cylinders of eight points side by side: the physics of ``kernels.chamber``, lane by lane.

What happens at every step (one zone, or two while it burns) is done for all lanes at once; what happens once a cycle
(the charge noted as trapped, the burn prepared, lit and ended) is done by the functions of ``kernels.chamber`` for
the lane it happens in. So is all of a cylinder with a flame of its own (``kernels.flame``).
Volumes come from the table at half degrees, which is exact at its entries.
"""

import math

from pullcast.kernels import layout as L
from pullcast.kernels import lumps as M
from pullcast.kernels.chamber import (
    BURN_END,
    FIRING_TDC,
    FIRST_LUMP,
    MAX_STEP_BURN,
    PREPARE,
    advance_cylinder,
    merge_zones,
    note_trapped,
    prepare_burn,
    start_burning,
)
from pullcast.kernels.flame import LAW
from pullcast.kernels.jit import inner, merged
from pullcast.kernels.lane_gas import increments, power, settled_states, table_row
from pullcast.kernels.lanes import WIDTH, any_of, bits, exp, get, get3, greatest, least, log, put, put3, size, where
from pullcast.kernels.packed import P_AFR, blend, enthalpy, heat_capacity, packed_hf, packed_R
from pullcast.kernels.walls import HOHENBERG, WOSCHNI

CLOSE = 1e-7  # of the pressure: a secant step shorter than this leaves an error far below it
FIRST, LATER = 4, 2  # rounds for the burned temperature, from that of the last step and from that of the last trial
G_BORE, G_STROKE, G_CLEARANCE, G_HEAD = 0, 1, 4, 5  # rows of the geometry


@inner
def pick(rows, lane, into):
    """One lane of rows of lanes."""
    for i in range(into.shape[0]):
        into[i] = rows[i, lane]


@inner
def drop(row, lane, rows):
    """Put one lane back."""
    for i in range(row.shape[0]):
        rows[i, lane] = row[i]


@inner
def fire_speeds(geometry, state, k, p, V):
    """Gas speed that burning adds by Woschni, m/s, as ``kernels.chamber.fire_speed``."""
    bore = get(geometry, G_BORE)
    shut_p = get3(state, k, L.S_SHUT_P)
    shut_V = get3(state, k, L.S_SHUT_V)
    known = shut_V > 0.0
    swept = 0.25 * math.pi * bore * bore * get(geometry, G_STROKE)
    motored = shut_p * power(where(known, shut_V, V) / V, 1.32)
    speed = 3.24e-3 * swept * get3(state, k, L.S_SHUT_T) / (shut_p * shut_V) * greatest(p - motored, 0.0)
    return where(known, speed, 0.0)


@inner
def wall_heats(geometry, walls, p, T, R, V, sp, fire, exchanging):
    """Heat flow to head, piston and liner, W; the coefficients of ``kernels.walls``."""
    bore = get(geometry, G_BORE)
    model = int(walls[3, 0])
    if model == HOHENBERG:
        s = sp + 1.4
        h = 130.0 * exp(0.4 * log(p * 1e-5 * p * 1e-5 / T * s * s) - 0.06 * log(V))
    elif model == WOSCHNI:
        w = where(exchanging, 6.18 * sp, 2.28 * sp + fire)
        h = 3.26 * exp(0.8 * log(p * 1e-3 * w) - 0.55 * log(T) - 0.2 * log(bore))
    else:
        mu = 3.3e-7 * power(T, 0.7)
        h = 0.49 * (mu * 1150.0 / 0.7) / bore * power(p / (R * T) * sp * bore / mu, 0.7)
    area = 0.25 * math.pi * bore * bore
    liner = math.pi * bore * ((V - get(geometry, G_CLEARANCE)) / area + 0.1 * bore)
    flow = area * (get(geometry, G_HEAD) * (T - get(walls, 1)) + T - get(walls, 0)) + liner * (T - get(walls, 2))
    return get(walls, 4) * h * flow


@inner
def zones(gas, c0, R0u, R0b, cb, hf0, hf1, yb1, p, p0, V, m, x, least_mb, hide_V, hide_p, uc, hidden, Tc, Tu0, qu,
          Tb, rounds):
    """Both zones at pressure p, as ``kernels.chamber.zones_at``; ``c0``, ``cb`` blends of unburned and burned gas.

    The burned temperature is sought from ``Tb`` in so many ``rounds``.
    """
    mc = hide_V * greatest(p - hide_p, 0.0) / (R0u * Tc)
    mc = least(mc, 0.5 * (m - least_mb))
    mb = greatest(x * (m - mc), least_mb)
    mu = m - mc - mb
    lnr = log(p / p0)
    Tu = Tu0 * exp(lnr * R0u / heat_capacity(c0, Tu0))
    cp = heat_capacity(c0, 0.5 * (Tu + Tu0))
    Tu = Tu0 * exp(lnr * R0u / cp)
    Tu -= where(mu > 1e-4 * m, qu / (mu * cp), 0.0)
    Tu = least(greatest(Tu, 200.0), 2000.0)
    Vb = greatest(V - (mu * Tu + mc * Tc) * R0u / p, 1e-3 * mb * V / m)
    lnp = log(p)
    full = p * Vb / mb
    for _ in range(rounds):
        dh, dR = increments(gas, Tb, lnp)
        Tb = least(greatest(full / (R0b + yb1 * dR), 300.0), 4200.0)
    dh, dR = increments(gas, Tb, lnp)
    uu = enthalpy(c0, Tu) + hf0 - R0u * Tu
    hb = enthalpy(cb, Tb) + hf1 + yb1 * dh
    U = mu * uu + mb * (hb - (R0b + yb1 * dR) * Tb) + mc * uc
    entered = mc - hidden
    q = entered * where(entered > 0.0, uu + R0u * Tu - uc, R0u * Tc)
    return Tu, Tb, U + q, mb, mc, q


@inner
def knocking(burn, p, Tu, octane):
    """Reciprocal of the knock delay, 1/s, by the law of the card; formulas of ``kernels.burn``."""
    atm = log(p / 101325.0)
    number = exp(3.402 * log(octane / 100.0))
    he = 1.3e-4 * get(burn, 12) * number * exp(16959.2 / Tu - 1.05 * atm)
    return 1e3 / where(get(burn, 11) > 0.5, he, 17.68 * number * exp(3800.0 / Tu - 1.7 * atm))


@inner
def burn_steps(gas, geometry, burn, walls, state, out, k, x, V0, V1, dt, sp, octane, on):
    """Advance burning cylinders (valves closed) to mass fraction burned ``x``; work and heat, J."""
    m = get3(state, k, L.S_M)
    yf0 = get3(state, k, L.S_YF0)
    yb0 = get3(state, k, L.S_YB0)
    f = get(burn, 4) * least(yf0, (1.0 - yf0 - yb0) / gas[P_AFR])
    yf1 = yf0 - f
    yb1 = yb0 + f * (1.0 + gas[P_AFR])
    x = least(x, 0.9999)
    p0 = get3(state, k, L.S_P)
    Tu0 = get3(state, k, L.S_TU)
    Tb0 = get3(state, k, L.S_TB)
    mb0 = get3(state, k, L.S_X) * m
    hidden = get3(state, k, L.S_CREVICE)
    hide_p = get3(state, k, L.S_LIT_P)
    c0 = blend(gas, yf0, yb0)
    cb = blend(gas, yf1, yb1)
    Ru = packed_R(gas, yf0, yb0)
    Rb = packed_R(gas, yf1, yb1)
    hf0 = packed_hf(gas, yf0, yb0)
    hf1 = packed_hf(gas, yf1, yb1)
    Tc = 0.5 * (get(walls, 0) + get(walls, 2))
    uc = enthalpy(c0, Tc) + hf0 - Ru * Tc
    mu0 = m - mb0 - hidden
    share = least(greatest(mu0 * Ru * Tu0 / (p0 * V0), 0.0), 1.0)
    if int(walls[3, 0]) == WOSCHNI:  # made for the mean temperature; shared out by volume and excess over the walls
        all_of_it = dt * wall_heats(geometry, walls, p0, get3(state, k, L.S_T), Ru, V0, sp,
                                    fire_speeds(geometry, state, k, p0, V0), x < 0.0)
        cold = share * greatest(Tu0 - get(walls, 1), 1.0)
        hot = (1.0 - share) * greatest(Tb0 - get(walls, 1), 1.0)
        qu = all_of_it * cold / (cold + hot)
        qb = all_of_it - qu
    else:
        qu = share * dt * wall_heats(geometry, walls, p0, Tu0, Ru, V0, sp, sp, x < 0.0)
        qb = (1.0 - share) * dt * wall_heats(geometry, walls, p0, Tb0, Ru, V0, sp, sp, x < 0.0)
    qu *= least((m - hidden) * (1.0 - x) / greatest(mu0, 1e-12), 1.0)
    q = qu + qb
    dV = V1 - V0
    base = get3(state, k, L.S_U) - q - 0.5 * p0 * dV
    hide_V = get(burn, 13)
    p = p0 * power(V0 / V1, 1.3)
    p_old, f_old, Tu, Tb, mb, mc, qc = p, 0.0 * p, Tu0, Tb0, mb0, hidden, 0.0 * p
    going = on
    for n in range(31):
        rounds = FIRST if n == 0 else LATER
        Tu1, Tb1, U, mb1, mc1, qc1 = zones(gas, c0, Ru, Rb, cb, hf0, hf1, yb1, p, p0, V1, m, x, mb0, hide_V, hide_p,
                                           uc, hidden, Tc, Tu0, qu, Tb, rounds)
        f = U - (base - 0.5 * p * dV)
        Tu = where(going, Tu1, Tu)
        Tb = where(going, Tb1, Tb)
        mb = where(going, mb1, mb)
        mc = where(going, mc1, mc)
        qc = where(going, qc1, qc)
        going = going & (size(f) >= 1e-10 * size(base)) & ~(f == f_old)
        if not any_of(going):
            break
        if n == 0:
            step = -f / (V1 / 0.27 + 0.5 * dV)  # both zones as one gas of gamma 1.27
        else:
            step = -f * (p - p_old) / (f - f_old)
        p_new = least(greatest(p + step, 0.5 * p), 2.0 * p)
        p_old = where(going, p, p_old)
        f_old = where(going, f, f_old)
        p = where(going, p_new, p)
        going = going & (size(p - p_old) >= CLOSE * p)
        if not any_of(going):
            break
    work = 0.5 * (p0 + p) * dV
    q += qc
    put3(state, k, L.S_U, get3(state, k, L.S_U) - q - work, on)
    put3(state, k, L.S_CREVICE, mc, on)
    put3(state, k, L.S_P, p, on)
    put3(state, k, L.S_TU, Tu, on)
    put3(state, k, L.S_TB, Tb, on)
    put3(state, k, L.S_X, mb / m, on)
    put3(state, k, L.S_T, p * V1 / (m * Ru), on)
    left = on & (m - mb - mc > 0.05 * m)
    put3(state, k, L.S_KNOCK, get3(state, k, L.S_KNOCK) + dt * knocking(burn, p, Tu, octane), left)
    put3(out, k, L.C_T_MAX, greatest(get3(out, k, L.C_T_MAX), Tb), on)
    return work, q


@inner
def zone_steps(gas, geometry, walls, state, acc, k, V0, V1, dt, sp, closed, on):
    """Advance one-zone cylinders with valve flows ``acc`` (per second); work and heat, J."""
    p0 = get3(state, k, L.S_P)
    T0 = get3(state, k, L.S_T)
    m = get3(state, k, L.S_M)
    fire = 0.0 * m
    if int(walls[3, 0]) == WOSCHNI:
        fire = where(closed & (get3(state, k, L.S_MODE) == 2.0), fire_speeds(geometry, state, k, p0, V0), 0.0)
    q = dt * wall_heats(geometry, walls, p0, T0, p0 * V0 / (m * T0), V0, sp, fire, ~closed)
    m += dt * get3(acc, k, L.A_MASS)
    mf = greatest(get3(state, k, L.S_FUEL) + dt * get3(acc, k, L.A_FUEL), 0.0)
    mb = greatest(get3(state, k, L.S_BURNED) + dt * get3(acc, k, L.A_BURNED), 0.0)
    base = get3(state, k, L.S_U) + dt * get3(acc, k, L.A_H) - q
    full = on & (m > 0.0)
    T, p, _ = settled_states(gas, base, p0, V1 - V0, V1, m, mf, mb, T0, full)
    p = where(full, p, -1.0)
    work = 0.5 * (p0 + p) * (V1 - V0)
    put3(state, k, L.S_M, m, on)
    put3(state, k, L.S_FUEL, mf, on)
    put3(state, k, L.S_BURNED, mb, on)
    put3(state, k, L.S_U, base - work, on)
    put3(state, k, L.S_P, p, on)
    put3(state, k, L.S_T, T, on)
    return work, q


TRAP, READY, LIGHT, MERGE = range(4)


@inner
def happen(batch, k, event, on, at, V):
    """What happens once a cycle in the lanes ``on``: the charge noted, the burn prepared, lit, ended."""
    left = bits(on)
    s, o, g, b = batch.one_state, batch.one_out, batch.one_geometry, batch.one_burn
    put(batch.one_row, 0, V, True)
    for lane in range(WIDTH):
        if (left >> lane) & 1 == 0:
            continue
        pick(batch.state[k], lane, s)
        pick(batch.out[k], lane, o)
        pick(batch.geometry, lane, g)
        pick(batch.burn, lane, b)
        if event == TRAP:
            note_trapped(g, s, o, at)
        elif event == READY:
            prepare_burn(batch.gas, g, b, batch.flame[lane], s, o, at)
        elif event == LIGHT:
            start_burning(batch.gas, b[4], s)
        else:
            merge_zones(batch.gas, b[4], s, o, batch.one_row[0, lane])
        drop(s, lane, batch.state[k])
        drop(o, lane, batch.out[k])


@inner
def burned_by_now(state, k, after):
    """Mass fraction burned by Wiebe's law at angle ``after``, as ``kernels.burn.wiebe``."""
    start = get3(state, k, L.S_START)
    late = after > start
    s = where(late, (after - start) / get3(state, k, L.S_WIDTH), 1.0)
    return where(late, 1.0 - exp(-6.908 * power(s, get3(state, k, L.S_FORM) + 1.0)), 0.0)


@merged
def part_step(batch, k, at, d, V0, V1, closed, dt, sp, on):
    """One step of cylinder ``k`` from ``at`` by ``d`` (each lane's own) in the lanes ``on``."""
    gas, state, out, acc, books = batch.gas, batch.state, batch.out, batch.acc, batch.books
    open_ = on & ~closed
    shut = on & closed
    ends = open_ & (get3(state, k, L.S_MODE) == 1.0)
    if any_of(ends):
        happen(batch, k, MERGE, ends, at, V0)
    mode = get3(state, k, L.S_MODE)
    waits = shut & (mode == 0.0)
    early = at < PREPARE
    new = waits & (get3(out, k, L.C_SHUT_AT) == 0.0) if early else waits & (get3(state, k, L.S_PREPARED) == 0.0)
    if any_of(new):
        happen(batch, k, TRAP if early else READY, new, at, V0)
    after = at + d
    x = 0.0 * d
    lit = shut & (get3(state, k, L.S_PREPARED) == 1.0) & (mode < 1.5) & (after > get3(state, k, L.S_START))
    if any_of(lit):
        x = where(lit, burned_by_now(state, k, after), 0.0)
        begins = lit & (mode == 0.0) & (x > FIRST_LUMP)
        if any_of(begins):
            happen(batch, k, LIGHT, begins, at, V0)
        mode = get3(state, k, L.S_MODE)
    burning = on & (mode == 1.0)
    single = on & ~burning
    work = 0.0 * d
    q = 0.0 * d
    if any_of(burning):
        octane = get(batch.speed, M.P_OCTANE)
        work, q = burn_steps(gas, batch.geometry, batch.burn, batch.walls, state, out, k, x, V0, V1, dt, sp, octane,
                             burning)
        ends = burning & (get3(state, k, L.S_X) > BURN_END)
        if any_of(ends):
            happen(batch, k, MERGE, ends, at, V1)
    if any_of(single):
        work1, q1 = zone_steps(gas, batch.geometry, batch.walls, state, acc, k, V0, V1, dt, sp, closed, single)
        work = where(single, work1, work)
        q = where(single, q1, q)
        opening = get3(batch.closed, k, 1)
        put3(out, k, L.C_EVO_T, get3(state, k, L.S_T), single & (opening > at) & (opening <= after))
        if at < PREPARE:
            spent = single & (get3(state, k, L.S_MODE) == 2.0)
            put3(state, k, L.S_MODE, 0.0, spent)
            put3(state, k, L.S_PREPARED, 0.0, spent)
    count_work(out, books, k, at, d, work, q, get3(state, k, L.S_P), closed, on)


@merged
def count_work(out, books, k, at, d, work, q, p, closed, on):
    """Book work and heat of a step."""
    put(books, L.B_WORK, get(books, L.B_WORK) + work, on)
    put(books, L.B_Q_CYL, get(books, L.B_Q_CYL) + q, on)
    middle = at + 0.5 * d
    gross = (middle >= 180.0) & (middle < 540.0)
    put3(out, k, L.C_WORK_GROSS, get3(out, k, L.C_WORK_GROSS) + work, on & gross)
    put3(out, k, L.C_WORK_PUMP, get3(out, k, L.C_WORK_PUMP) + work, on & ~gross)
    if at > FIRING_TDC:
        put3(out, k, L.C_WORK_OPEN, get3(out, k, L.C_WORK_OPEN) + work, on & gross & ~closed)
    put3(out, k, L.C_HEAT, get3(out, k, L.C_HEAT) + q, on)
    put3(out, k, L.C_P_MAX, greatest(get3(out, k, L.C_P_MAX), p), on)


@merged
def advance_one(batch, k, local, dtheta, dt, sp, on):
    """Advance cylinder ``k`` of all lanes ``on`` from its angle ``local`` by ``dtheta``; burning in two steps."""
    state, room = batch.state, batch.room
    closing = get3(batch.closed, k, 0)
    closed = (closing < local) & (get3(batch.closed, k, 1) > local + dtheta)
    V0 = table_row(room, local)
    V1 = table_row(room, local + dtheta)
    fine = on & (get3(state, k, L.S_PREPARED) == 1.0) & (get3(state, k, L.S_MODE) < 1.5) & (
        get3(state, k, L.S_START) < local + dtheta)
    if local < PREPARE + dtheta:
        fine = fine | (on & (closing < local))
    d = 0.0 * dt + dtheta
    h = dt
    middle = V1
    parts = 1
    if math.ceil(dtheta / max(MAX_STEP_BURN, 0.5 * dtheta) - 1e-9) > 1 and any_of(fine):
        parts = 2
        d = where(fine, 0.5 * dtheta, d)
        h = where(fine, 0.5 * dt, dt)
        middle = where(fine, table_row(room, local + 0.5 * dtheta), V1)
    at = local
    for _ in range(parts):
        part_step(batch, k, at, d, V0, middle, closed, h, sp, on)
        at = local + 0.5 * dtheta
        if at >= 720.0:
            at -= 720.0
        V0 = middle
        middle = V1
        on = fine


@inner
def flaming_one(batch, k, lane, local, dtheta, dt, sp):
    """Advance one cylinder of one lane by ``kernels.chamber``; False if its state broke down."""
    s, o, g, b = batch.one_state, batch.one_out, batch.one_geometry, batch.one_burn
    acc, books, walls = batch.one_acc, batch.one_books, batch.one_walls
    pick(batch.state[k], lane, s)
    pick(batch.out[k], lane, o)
    pick(batch.acc[k], lane, acc)
    pick(batch.geometry, lane, g)
    pick(batch.burn, lane, b)
    pick(batch.walls, lane, walls)
    pick(batch.books, lane, books)
    good = advance_cylinder(batch.gas, g, b, batch.flame[lane], walls, s, o, acc, books, batch.closed[k, 0, lane],
                            batch.closed[k, 1, lane], local, dtheta, dt[0, lane], sp[0, lane],
                            batch.speed[M.P_OCTANE, lane])
    drop(s, lane, batch.state[k])
    drop(o, lane, batch.out[k])
    drop(books, lane, batch.books)
    return good


@merged
def advance_cylinders(batch, theta, dtheta, dt, on):
    """Advance all cylinders by a crank step; the lanes that go on (see ``Batch.fate``)."""
    sp = 2.0 * get(batch.geometry, G_STROKE) * get(batch.speed, M.P_RPM) / 60.0
    for k in range(batch.phase.shape[0]):
        local = (theta - batch.phase[k]) % 720.0
        if batch.burn[LAW, 0] > 0.5:
            put(batch.one_dt, 0, dt, True)
            put(batch.one_row, 0, sp, True)
            here = bits(on)
            for lane in range(WIDTH):
                if (here >> lane) & 1:
                    flaming_one(batch, k, lane, local, dtheta, batch.one_dt, batch.one_row)
        else:
            advance_one(batch, k, local, dtheta, dt, sp, on)
        p = get3(batch.state, k, L.S_P)
        good = (p > 0.0) & (p < 1e9) & (get3(batch.state, k, L.S_T) > 0.0)
        lost = bits(on) & ~bits(good)
        if lost != 0:
            for lane in range(WIDTH):
                if (lost >> lane) & 1:
                    batch.fate[M.F_STATUS, lane] = L.BAD_CYLINDER
                    batch.fate[M.F_WHERE, lane] = k
                    batch.fate[M.F_ANGLE, lane] = theta
            on = on & good
    return on
