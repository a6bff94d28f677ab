"""The lumped model marched through crank angle: filling and emptying with inertia ram; eight points side by side.

Every pipe is one well-stirred volume and, at each end that meets a volume, a junction or the surroundings, the
inertance of half its length (the whole where the other end is a valve or closed). Valves are quasi-steady orifices
between a pipe's gas and the cylinder; the cylinder is that of ``kernels.chamber``. It sees restriction and
inertia ram, no waves; a junction is a volume, so the jets that meet in a collector lose their momentum.
Fuel sprayed at a port joins at the valve and cools the charge in the cylinder, not in the stirred runner.

Steps are in crank angle, so that points of one topology march in step whatever their speed; sub-steps are each
lane's own. A lane that breaks down is left alone; what it was and where is in ``Batch.fate``.
"""

import math

from pullcast.kernels import layout as L
from pullcast.kernels import lumps as M
from pullcast.kernels.ends import FASTEST_JET
from pullcast.kernels.flame import LAW
from pullcast.kernels.jit import inner, merged, whole
from pullcast.kernels.lane_cylinder import advance_cylinders
from pullcast.kernels.lane_gas import blends, caloric, choked, increments, table_row
from pullcast.kernels.lanes import (
    WIDTH,
    any_of,
    bits,
    exp,
    floor,
    get,
    get3,
    greatest,
    least,
    log,
    put,
    put3,
    root,
    size,
    where,
)
from pullcast.kernels.lumped_parts import (
    SHUT,
    hold_links,
    injectors_step,
    links_step,
    stores_step,
    valve_flow,
)
from pullcast.kernels.packed import (
    P_AFR,
    P_EQ_T,
    P_EVAPORATION,
    P_HF,
    blend,
    enthalpy,
    packed_R,
)

REFRESH = 12.0  # deg between refreshes of wall friction, heat transfer and the number of sub-steps
STEPS = 16  # of a march without crank between refreshes
WAVE_STEP = 0.7  # largest step times the bound on the fastest oscillation (2 is the stability limit)
MOST = 10000  # sub-steps
DRAIN = 0.5  # largest share of a store's content that a sub-step may carry out
SUTHERLAND = 1.716e-5 * (273.15 + 110.4) / 273.15**1.5  # viscosity of air, Pa s/K^0.5


@inner
def walls_of(const, store, k):
    """Wall friction and heat transfer of a pipe's store from its mean flow, as ``kernels.duct.transport``."""
    t = least(greatest(get3(store, M.X_T, k), 150.0), 3500.0)
    mu = SUTHERLAND * t * root(t) / (t + 110.4)
    d = get3(const, M.K_DIAMETER, k)
    rho = 1.0 / get3(store, M.X_SPECIFIC, k)
    per = 1.0 / greatest(rho * get3(store, M.X_SPEED, k) * d / mu, 10.0)
    ln = log(per)
    s = exp(0.9 * (ln + math.log(7.0))) + 0.27 * get3(const, M.K_ROUGHNESS, k) / d
    big = exp(16.0 * log(size(2.457 * log(s)))) + exp(16.0 * (ln + math.log(37530.0)))
    f = 8.0 * exp(log(exp(12.0 * (ln + math.log(8.0))) + 1.0 / (big * root(big))) / 12.0)
    put3(store, M.X_CF, k, 0.5 * (get3(const, M.K_FRICTION, k) * f / d + get3(const, M.K_LOSS, k)), True)
    g = get3(store, M.X_GAMMA, k)
    cp = g / (g - 1.0) * get3(store, M.X_P, k) / (rho * t)
    nu = greatest(0.023 * 0.892 * exp(-0.8 * ln), 3.66) * get3(const, M.K_HEAT, k)
    ch = 4.0 * nu * mu * cp / 0.71 / (d * d)
    put3(store, M.X_CH, k, ch, True)
    put3(store, M.X_WALL, k, ch * get3(const, M.K_VOLUME, k), True)


@inner
def refresh(store, const, first_pipe, link_at, flow):
    """Wall friction and heat transfer of the pipes from their mean flows; choked flow function of all stores."""
    store[M.X_SPEED] = 0.0
    for n in range(flow.shape[0]):
        for side in range(2):
            k = link_at[side, n]
            speed = size(get(flow, n)) * get3(store, M.X_SPECIFIC, k) / get3(const, M.K_AREA, k)
            put3(store, M.X_SPEED, k, greatest(get3(store, M.X_SPEED, k), speed), True)
    for k in range(store.shape[1]):
        choke, critical = choked(get3(store, M.X_GAMMA, k))
        put3(store, M.X_CHOKE, k, choke, True)
        put3(store, M.X_CRITICAL, k, critical, True)
        if k < first_pipe:
            put3(store, M.X_WALL, k, get3(const, M.K_H_WALL, k), True)
        else:
            walls_of(const, store, k)


@inner
def fastest(store, rate, link_at, link, flow):
    """Bound (1/s) on oscillation and throughput: sub-steps must be shorter than its reciprocal.

    Oscillation: omega^2 is an eigenvalue of root(S) K root(S), S the stiffnesses of the stores and K their coupling
    by reciprocal inertances. Gershgorin's circles bound it by the largest sum of sizes of a row: root(S_k) times the
    sum over its links of (root(S_k) + root(S_j)) / inertance, j being the store at the other end. In the shipped
    engines omega is 2 to 12 % below that; S K without the roots, alike in its eigenvalues, would bound it 33 to 41 %
    too high, since a small junction hangs between pipes that are far softer. ``rate`` is scratch and left zero.
    """
    for k in range(store.shape[1]):
        put3(rate, 2, k, root(get3(store, M.X_STIFF, k)), True)
    for n in range(flow.shape[0]):
        m = get(flow, n)
        a = link_at[M.N_PIPE, n]
        b = link_at[M.N_NODE, n]
        pull = (get3(rate, 2, a) + get3(rate, 2, b)) / get3(link, M.L_INERTIA, n)
        put3(rate, 0, a, get3(rate, 0, a) + pull, True)
        put3(rate, 0, b, get3(rate, 0, b) + pull, True)
        into = m > 0.0
        put3(rate, 1, b, get3(rate, 1, b) + where(into, m, 0.0), True)
        put3(rate, 1, a, get3(rate, 1, a) + where(into, 0.0, -m), True)
    top = 0.0 * get3(store, M.X_STIFF, 0)
    for k in range(1, store.shape[1]):
        waves = root(get3(rate, 2, k) * get3(rate, 0, k)) / WAVE_STEP
        top = greatest(greatest(top, waves), get3(rate, 1, k) / (DRAIN * get3(store, M.X_M, k)))
    rate[0] = 0.0
    rate[1] = 0.0
    rate[2] = 0.0
    return top


@merged
def fill_gate(gas, gate, state, k, V0, V1, dt):
    """What the valves of one cylinder see of it during a step: gas, volume, pressure rise by the piston."""
    p = get3(state, k, L.S_P)
    T = get3(state, k, L.S_T)
    per = 1.0 / get3(state, k, L.S_M)
    yf = get3(state, k, L.S_FUEL) * per
    yb = get3(state, k, L.S_BURNED) * per
    dh = 0.0 * p
    dR = 0.0 * p
    if any_of(gas[P_EQ_T] < T):
        dh, dR = increments(gas, T, log(p))
    h, cp = caloric(blends(gas, yf, yb), T)
    R = packed_R(gas, yf, yb) + yb * dR
    gamma = cp / (cp - R)
    per_V = 2.0 / (V0 + V1)
    choke, critical = choked(gamma)
    put3(gate, k, M.G_P, p, True)
    put3(gate, k, M.G_T, T, True)
    put3(gate, k, M.G_YF, yf, True)
    put3(gate, k, M.G_YB, yb, True)
    put3(gate, k, M.G_H, h + yb * dh, True)
    put3(gate, k, M.G_R, R, True)
    put3(gate, k, M.G_GAMMA, gamma, True)
    put3(gate, k, M.G_PER_V, per_V, True)
    put3(gate, k, M.G_PUSH, -gamma * p * (V1 - V0) * per_V / dt, True)
    put3(gate, k, M.G_SHARE, R / cp, True)
    put3(gate, k, M.G_CP, cp, True)
    put3(gate, k, M.G_CHOKE, choke, True)
    put3(gate, k, M.G_CRITICAL, critical, True)


@merged
def open_gates(gas, gate, is_open, state, acc, room, phase, area_fwd, area_rev, valve_at, valve, theta, dtheta, dt):
    """Valve areas at the middle of a crank step and the cylinders behind open valves; clears cylinder flows.

    ``is_open`` (cylinders, valves behind one another) is 1 where a valve of any lane is open.
    """
    acc[:] = 0.0
    is_open[:] = 0
    cylinders = phase.shape[0]
    for v in range(valve_at.shape[1]):
        k = valve_at[M.V_CYLINDER, v]
        row = valve_at[M.V_ROW, v]
        local = (theta - phase[k]) % 720.0
        forward = table_row(area_fwd[row], local + 0.5 * dtheta)
        reverse = table_row(area_rev[row], local + 0.5 * dtheta)
        put3(valve, M.W_FORWARD, v, forward, True)
        put3(valve, M.W_REVERSE, v, reverse, True)
        put3(valve, M.W_MACH, v, 0.0, True)
        if any_of(greatest(forward, reverse) > SHUT):
            is_open[cylinders + v] = 1
            if is_open[k] == 0:
                is_open[k] = 1
                fill_gate(gas, gate, state, k, table_row(room, local), table_row(room, local + dtheta), dt)
        else:
            put3(valve, M.W_FLOW, v, 0.0, True)


@inner
def warm_up(gate, k, rise, on):
    """Temperature and enthalpy of a cylinder's gas after an isentropic relative ``rise`` of pressure."""
    T = get3(gate, k, M.G_T)
    dT = T * get3(gate, k, M.G_SHARE) * rise
    put3(gate, k, M.G_T, T + dT, on)
    put3(gate, k, M.G_H, get3(gate, k, M.G_H) + get3(gate, k, M.G_CP) * dT, on)


@inner
def add(rows, k, i, value, on):
    """Add to row (k, i) where ``on``."""
    put3(rows, k, i, get3(rows, k, i) + value, on)


@merged
def to_cylinder(gas, acc, out, books, fuelling, k, intake, T, dt, m_pipe, energy, fuel, burned, on):
    """Give cylinder ``k`` what passes its valve (rates into the pipe), as ``kernels.ends.valve_to_cylinder``."""
    m, f, b = -m_pipe, -fuel, -burned
    hf_air = gas[P_HF]
    h = -energy + hf_air * m + f * (gas[P_HF + 1] - hf_air) + b * (gas[P_HF + 2] - hf_air)
    back = on & (m < 0.0)
    if intake:
        add(acc, k, L.A_INTAKE, m, on)
        add(out, k, L.C_AIR, (m - f - b) * dt, on)
        add(out, k, L.C_BACKFLOW, -m * dt, back)
        bare = where(on & (m > 0.0), greatest((m - f - b) / gas[P_AFR] - f, 0.0), 0.0)
        c = blend(gas, 1.0, 0.0)
        early = get(fuelling, 0)
        vapour = enthalpy(c, least(greatest(T, 250.0), 420.0)) * (1.0 - early)
        liquid = (enthalpy(c, get(fuelling, 1)) - gas[P_EVAPORATION]) * early
        hf = bare * (vapour + liquid + gas[P_HF + 1])
        h += hf
        m += bare
        f += bare
        add(out, k, L.C_FUEL, bare * dt, on)
        put(books, L.B_FUEL, get(books, L.B_FUEL) + bare * dt, on)
        put(books, L.B_H_FUEL, get(books, L.B_H_FUEL) + hf * dt, on)
    else:
        add(acc, k, L.A_EXHAUST, -m, on)
        add(out, k, L.C_SHORT, -f * dt, back)
        add(out, k, L.C_EX_MASS, -m * dt, back)
        add(out, k, L.C_EX_TSUM, -m * dt * T, back)
    add(acc, k, L.A_MASS, m, on)
    add(acc, k, L.A_H, h, on)
    add(acc, k, L.A_FUEL, f, on)
    add(acc, k, L.A_BURNED, b, on)


@merged
def valves_step(gas, store, rate, valve_at, valve, gate, is_open, acc, out, books, fuelling, flaming, dt, on):
    """Flow through every open valve over a sub-step, given to pipe and cylinder alike."""
    for v in range(valve_at.shape[1]):
        a = valve_at[M.V_PIPE, v]
        k = valve_at[M.V_CYLINDER, v]
        intake = valve_at[M.V_INTAKE, v] > 0
        p = get3(store, M.X_P, a)
        put3(acc, k, L.A_P_INTAKE if intake else L.A_P_EXHAUST, p, on)
        if is_open[gate.shape[0] + v] == 0:
            continue
        one_valve(gas, store, rate, valve, gate, acc, out, books, fuelling, flaming, v, a, k, intake, p, dt, on)


@merged
def one_valve(gas, store, rate, valve, gate, acc, out, books, fuelling, flaming, v, a, k, intake, p, dt, on):
    """Flow through one valve that is open in some lane."""
    face = get3(valve, M.W_FACE, v)
    forward = get3(valve, M.W_FORWARD, v)
    reverse = get3(valve, M.W_REVERSE, v)
    Rp = get3(store, M.X_R, a)
    Tp = get3(store, M.X_T, a)
    gp = get3(store, M.X_GAMMA, a)
    stiff_p = get3(store, M.X_STIFF, a)
    h_p = get3(store, M.X_H, a)
    Rc = get3(gate, k, M.G_R)
    Tc = get3(gate, k, M.G_T)
    gc = get3(gate, k, M.G_GAMMA)
    per_V = get3(gate, k, M.G_PER_V)
    rise_c = 0.5 * dt * get3(gate, k, M.G_PUSH)
    RTp = Rp * Tp
    per_content = 1.0 / (gp * RTp)
    flow_in = get3(rate, M.R_M, a)
    heated = (get3(rate, M.R_H, a) - flow_in * h_p) * (gp - 1.0) * per_content
    rise_p = 0.5 * dt * stiff_p * (flow_in + heated)
    pc = get3(gate, k, M.G_P) + rise_c
    pp = p + rise_p
    into = pc > pp
    area = where(into, reverse, forward) if intake else where(into, forward, reverse)
    passes = on & (greatest(forward, reverse) > SHUT) & (area > SHUT)
    sign = where(into, 1.0, -1.0)
    gamma = where(into, gc, gp)
    RT = where(into, Rc * Tc, RTp)
    stiff_c = gamma * RT * per_V
    up = where(into, stiff_c, stiff_p)
    stiff = stiff_c + stiff_p * where(into, RT * gp * per_content, 1.0)
    choke = where(into, get3(gate, k, M.G_CHOKE), get3(store, M.X_CHOKE, a))
    critical = where(into, get3(gate, k, M.G_CRITICAL), get3(store, M.X_CRITICAL, a))
    last = greatest(sign * get3(valve, M.W_FLOW, v), 0.0)
    m = valve_flow(area, face, into, where(into, pc, pp), sign * (pc - pp), sign * (rise_c - rise_p), RT, gamma,
                   choke, critical, up, stiff, dt, last)
    m = where(passes, sign * m, 0.0)
    put3(valve, M.W_FLOW, v, m, on)
    energy = m * where(into, get3(gate, k, M.G_H), h_p)
    fuel = m * where(into, get3(gate, k, M.G_YF), get3(store, M.X_YF, a))
    burned = m * where(into, get3(gate, k, M.G_YB), get3(store, M.X_YB, a))
    if intake:
        put3(valve, M.W_MACH, v, -m * root(RT / gamma) / (pp * face), passes & (m < 0.0))
    put3(rate, M.R_M, a, flow_in + m, True)
    add(rate, M.R_H, a, energy, True)
    add(rate, M.R_F, a, fuel, True)
    add(rate, M.R_B, a, burned, True)
    if intake and flaming:
        jet = least(-m * RTp / (pp * area), FASTEST_JET)
        add(acc, k, L.A_JET, -0.5 * m * jet * jet, passes & (m < 0.0))
    to_cylinder(gas, acc, out, books, fuelling, k, intake, Tc, dt, m, energy, fuel, burned, passes)
    rise = -dt * m * stiff_c
    put3(gate, k, M.G_P, get3(gate, k, M.G_P) + rise, passes)
    warm_up(gate, k, rise / pc, passes)


@merged
def move_gates(gate, is_open, dt, on):
    """Pistons move over a sub-step: pressure and temperature behind open valves follow."""
    for k in range(gate.shape[0]):
        if is_open[k] == 1:
            p = get3(gate, k, M.G_P)
            rise = dt * get3(gate, k, M.G_PUSH)
            warm_up(gate, k, rise / p, on)
            put3(gate, k, M.G_P, p + rise, on)


@inner
def note(store, valve_at, valve, out, dtheta, on):
    """Collect store pressures over the cycle and the intake face Mach numbers."""
    for k in range(store.shape[1]):
        add(store, M.X_P_SUM, k, get3(store, M.X_P, k) * dtheta, on)
    for v in range(valve_at.shape[1]):
        mach = get3(valve, M.W_MACH, v)
        moving = on & (mach > 0.0)
        if any_of(moving):
            k = valve_at[M.V_CYLINDER, v]
            put3(out, k, L.C_MACH_MAX, greatest(get3(out, k, L.C_MACH_MAX), mach), moving)
            add(out, k, L.C_MACH_SUM, mach * dtheta, moving)
            add(out, k, L.C_MACH_ANGLE, dtheta, moving)


@inner
def write(row, first, count, shift, value):
    """Write ``value`` to the last of ``count`` places from ``first`` - ``shift`` on in a ring of 720; the others
    between it and what stands before them."""
    i = math.floor(first - shift + 0.5)
    old = row[(i - 1) % 720]
    for n in range(count):
        row[(i + n) % 720] = old + (n + 1) / count * (value - old)


@inner
def write_trace(batch, lane, trace, probes, theta, dtheta):
    """Write every whole degree passed of a lane: cylinders at their local angle, probed stores at the global one."""
    phase, state, acc, store = batch.phase, batch.state, batch.acc, batch.store
    first = math.floor(theta + 1e-9) + 1
    count = math.floor(theta + dtheta + 1e-9) + 1 - first
    for k in range(phase.shape[0]):
        write(trace[k, L.T_P], first, count, phase[k], state[k, L.S_P, lane])
        write(trace[k, L.T_T], first, count, phase[k], state[k, L.S_T, lane])
        write(trace[k, L.T_INTAKE_FLOW], first, count, phase[k], acc[k, L.A_INTAKE, lane])
        write(trace[k, L.T_EXHAUST_FLOW], first, count, phase[k], acc[k, L.A_EXHAUST, lane])
        write(trace[k, L.T_INTAKE_P], first, count, phase[k], acc[k, L.A_P_INTAKE, lane])
        write(trace[k, L.T_EXHAUST_P], first, count, phase[k], acc[k, L.A_P_EXHAUST, lane])
        write(trace[k, L.T_TU], first, count, phase[k], state[k, L.S_TU, lane])
        burning = state[k, L.S_MODE, lane] > 0.0
        write(trace[k, L.T_X], first, count, phase[k], state[k, L.S_X, lane] if burning else 0.0)
    for n in range(probes.shape[0]):
        k = int(probes[n, 0, 0])
        write(probes[n, 1], first, count, 0.0, store[M.X_P, k, lane])
        write(probes[n, 2], first, count, 0.0, store[M.X_SPEED, k, lane])
        write(probes[n, 3], first, count, 0.0, store[M.X_T, k, lane])


@inner
def average(acc, n):
    """Turn sums of valve flows over ``n`` sub-steps into means."""
    per = 1.0 / n
    for k in range(acc.shape[0]):
        for i in (L.A_MASS, L.A_H, L.A_FUEL, L.A_BURNED, L.A_INTAKE, L.A_EXHAUST, L.A_JET):
            put3(acc, k, i, get3(acc, k, i) * per, True)


@inner
def lose(fate, on, good, status, where_, theta):
    """Take lanes that are not ``good`` out of the march and note why; the lanes that go on."""
    lost = bits(on) & ~bits(good)
    if lost != 0:
        for lane in range(WIDTH):
            if (lost >> lane) & 1:
                fate[M.F_STATUS, lane] = status
                fate[M.F_WHERE, lane] = where_
                fate[M.F_ANGLE, lane] = theta
    return on & good


@inner
def pace_steps(batch, block, dt):
    """Sub-steps of every lane in this part of the cycle; never fewer than before.

    A number that changes from cycle to cycle would keep them from repeating.
    """
    wanted = -floor(-(dt * fastest(batch.store, batch.rate, batch.link_at, batch.link, batch.flow)))
    n = greatest(greatest(wanted, get(batch.pace, block)), 1.0)
    put(batch.pace, block, n, n <= MOST)
    return n


@whole
def lumped_cycle(batch, step_deg, trace, probes, tracing):
    """March one cycle of 720 deg from global angle 0 in steps of ``step_deg`` or less, all lanes not yet lost.

    With ``tracing`` every lane writes its rows of ``trace`` and ``probes``. Sub-steps taken are in ``batch.taken``.
    """
    gas, store, rate, const, books = batch.gas, batch.store, batch.rate, batch.const, batch.books
    flow, plug, fate = batch.flow, batch.plug, batch.fate
    link_at, link, valve_at, valve, gate = batch.link_at, batch.link, batch.valve_at, batch.valve, batch.gate
    state, acc, out, is_open = batch.state, batch.acc, batch.out, batch.is_open
    steps = math.ceil(720.0 / step_deg - 1e-9)
    dtheta = 720.0 / steps
    dt = dtheta / (6.0 * get(batch.speed, M.P_RPM))
    books[:] = 0.0
    out[:] = 0.0
    store[M.X_P_SUM] = 0.0
    taken = 0.0 * dt
    block = 0
    n = 0.0 * dt + 1.0
    h = dt
    on = get(fate, M.F_STATUS) == 0.0
    flaming = batch.burn[LAW, 0] > 0.5
    for i in range(steps):
        theta = i * dtheta
        if i == 0 or theta >= (block + 1) * REFRESH:
            refresh(store, const, batch.first_pipe, link_at, flow)
            block = int(theta / REFRESH)
            n = pace_steps(batch, block, dt)
            on = lose(fate, on, n <= MOST, L.STUCK, 0, theta)
            h = dt / n
            hold_links(store, link_at, link, batch.hold, h)
        open_gates(gas, gate, is_open, state, acc, batch.room, batch.phase, batch.area_fwd, batch.area_rev, valve_at,
                   valve, theta, dtheta, dt)
        done = 0.0
        now = on
        while any_of(now):
            hs = where(now, h, 0.0)
            links_step(gas, store, rate, link_at, link, batch.hold, flow, plug, books, hs, now)
            injectors_step(gas, store, rate, flow, link_at, batch.injector_at, batch.injector, books, hs, now)
            valves_step(gas, store, rate, valve_at, valve, gate, is_open, acc, out, books, batch.fuelling, flaming,
                        hs, now)
            move_gates(gate, is_open, hs, now)
            fine = stores_step(gas, store, rate, const, books, hs, now)
            on = lose(fate, on, fine | ~now, L.BAD_NODE, 0, theta)
            done += 1.0
            now = on & (n > done)
        taken += n
        average(acc, n)
        on = advance_cylinders(batch, theta, dtheta, dt, on)
        note(store, valve_at, valve, out, dtheta, on)
        if tracing:
            going = bits(on)
            for lane in range(WIDTH):
                if (going >> lane) & 1:
                    write_trace(batch, lane, trace[lane], probes[lane], theta, dtheta)
    put(batch.taken, 0, taken, True)


@whole
def lumped_time(batch, duration, step, watched, record):
    """March a network without cylinders for ``duration`` s in steps of ``step``.

    ``record`` gets the pressure (Pa) of store ``watched`` after each, of the first lane. Returns the number of steps
    written, or -1 if a store ran empty.
    """
    steps = min(math.ceil(duration / step - 1e-9), record.shape[0])
    dt = 0.0 * get3(batch.store, M.X_M, 0) + step
    on = dt > 0.0
    for i in range(steps):
        if i % STEPS == 0:
            refresh(batch.store, batch.const, batch.first_pipe, batch.link_at, batch.flow)
            hold_links(batch.store, batch.link_at, batch.link, batch.hold, dt)
        links_step(batch.gas, batch.store, batch.rate, batch.link_at, batch.link, batch.hold, batch.flow, batch.plug,
                   batch.books, dt, on)
        good = stores_step(batch.gas, batch.store, batch.rate, batch.const, batch.books, dt, on)
        if not bits(good) & 1:
            return -1
        record[i] = batch.store[M.X_P, watched, 0]
    return steps
