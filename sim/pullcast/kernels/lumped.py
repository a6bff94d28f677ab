"""The lumped model marched through crank angle: filling and emptying with inertia ram.

Every pipe is one well-stirred volume and, at each end that meets a volume, a junction or the surroundings, the
inertance of half its length (the whole where the other end is a valve or closed). Valves are quasi-steady orifices
between a pipe's gas and the cylinder; the cylinder is the one of ``kernels.chamber``. It sees restriction and
inertia ram, no waves; a junction is a volume, so the jets that meet in a collector lose their momentum.
Fuel sprayed at a port joins at the valve and cools the charge in the cylinder, not in the stirred runner.
"""

import math

from pullcast.kernels import layout as L
from pullcast.kernels import lumps as M
from pullcast.kernels.chamber import advance_cylinder
from pullcast.kernels.duct import transport
from pullcast.kernels.ends import valve_to_cylinder
from pullcast.kernels.jit import kernel, whole
from pullcast.kernels.lumped_parts import SHUT, choked, injectors_step, links_step, stores_step, valve_flow
from pullcast.kernels.packed import P_EQ_T, P_HF, blend, enthalpy, heat_capacity, increment, packed_R

REFRESH = 12.0  # deg between refreshes of wall friction, heat transfer and the number of sub-steps
STEPS = 16  # of a march without crank between refreshes
WAVE_STEP = 0.7  # largest step times the bound on the fastest oscillation (2 is the stability limit)
MOST = 10000  # sub-steps
DRAIN = 0.5  # largest share of a store's content that a sub-step may carry out


@kernel
def refresh(store, const, first_pipe, link_at, flow):
    """Wall friction and heat transfer of the pipes from their mean flows; choked flow function of all stores."""
    speed = store[M.X_SPEED]
    speed[:] = 0.0
    for n in range(flow.shape[0]):
        for side in range(2):
            k = link_at[side, n]
            speed[k] = max(speed[k], abs(flow[n]) / (store[M.X_RHO, k] * const[M.K_AREA, k]))
    i = first_pipe
    transport(const[M.K_DIAMETER, i:], const[M.K_ROUGHNESS, i:], const[M.K_LOSS, i:], const[M.K_HEAT, i:],
              const[M.K_FRICTION, i:], store[M.X_RHO, i:], speed[i:], store[M.X_T, i:], store[M.X_GAMMA, i:],
              store[M.X_P, i:], store[M.X_CF, i:], store[M.X_CH, i:])
    for k in range(store.shape[1]):
        store[M.X_CHOKE, k] = choked(store[M.X_GAMMA, k])
        if k < first_pipe:
            store[M.X_WALL, k] = const[M.K_H_WALL, k]
        else:
            store[M.X_WALL, k] = store[M.X_CH, k] * const[M.K_VOLUME, k]


@kernel
def fastest(store, rate, link_at, link, flow):
    """Bound (1/s) on oscillation and throughput: sub-steps must be shorter than its reciprocal.

    Oscillation: omega^2 <= 2 max over stores of stiffness x sum of reciprocal inertances (Gershgorin bound of a
    chain). ``rate`` is scratch and left zero.
    """
    for n in range(flow.shape[0]):
        for side in range(2):
            rate[0, link_at[side, n]] += 1.0 / link[M.L_INERTIA, n]
        rate[1, link_at[M.N_NODE if flow[n] > 0.0 else M.N_PIPE, n]] += abs(flow[n])
    top = 0.0
    for k in range(1, store.shape[1]):
        waves = math.sqrt(2.0 * store[M.X_STIFF, k] * rate[0, k]) / WAVE_STEP
        top = max(top, waves, rate[1, k] / (DRAIN * store[M.X_M, k]))
    for k in range(store.shape[1]):
        rate[0, k] = 0.0
        rate[1, k] = 0.0
    return top


@kernel
def fill_gate(gas, gate, s, room, local, dtheta, dt):
    """What the valves of one cylinder see of it during a step: gas, volume, pressure rise by the piston."""
    p = s[L.S_P]
    T = s[L.S_T]
    yf = s[L.S_FUEL] / s[L.S_M]
    yb = s[L.S_BURNED] / s[L.S_M]
    dh = 0.0
    dR = 0.0
    if gas[P_EQ_T] < T:
        dh, dR = increment(gas, T, math.log(p))
    c = blend(gas, yf, yb)
    R = packed_R(gas, yf, yb) + yb * dR
    cp = heat_capacity(c, T)
    V0 = table_at(room, local)
    V1 = table_at(room, local + dtheta)
    gate[M.G_P] = p
    gate[M.G_T] = T
    gate[M.G_YF] = yf
    gate[M.G_YB] = yb
    gate[M.G_H] = enthalpy(c, T) + yb * dh
    gate[M.G_R] = R
    gate[M.G_GAMMA] = cp / (cp - R)
    gate[M.G_V] = 0.5 * (V0 + V1)
    gate[M.G_PUSH] = -gate[M.G_GAMMA] * p * (V1 - V0) / (gate[M.G_V] * dt)


@kernel
def table_at(row, local):
    """Linear interpolation in a table at every half degree; ``local`` from 0 to less than 1440 deg."""
    s = 2.0 * local
    if s >= 1440.0:
        s -= 1440.0
    i = int(s)
    return row[i] + (s - i) * (row[i + 1] - row[i])


@kernel
def open_gates(gas, gate, state, acc, room, phase, area_fwd, area_rev, valve_at, valve, theta, dtheta, dt):
    """Valve areas at the middle of a crank step and the cylinders behind open valves; clears cylinder flows."""
    for k in range(phase.shape[0]):
        for i in range(L.A_COUNT):
            acc[k, i] = 0.0
        gate[k, M.G_V] = 0.0
    for v in range(valve_at.shape[1]):
        k = valve_at[M.V_CYLINDER, v]
        row = valve_at[M.V_ROW, v]
        local = theta - phase[k]
        if local < 0.0:
            local += 720.0
        valve[M.W_FORWARD, v] = table_at(area_fwd[row], local + 0.5 * dtheta)
        valve[M.W_REVERSE, v] = table_at(area_rev[row], local + 0.5 * dtheta)
        valve[M.W_MACH, v] = 0.0
        if max(valve[M.W_FORWARD, v], valve[M.W_REVERSE, v]) > SHUT and gate[k, M.G_V] == 0.0:
            fill_gate(gas, gate[k], state[k], room, local, dtheta, dt)


@kernel
def warm_up(gate, rise):
    """Temperature and enthalpy of a cylinder's gas after an isentropic relative ``rise`` of pressure."""
    dT = gate[M.G_T] * (gate[M.G_GAMMA] - 1.0) / gate[M.G_GAMMA] * rise
    gate[M.G_T] += dT
    gate[M.G_H] += gate[M.G_GAMMA] * gate[M.G_R] / (gate[M.G_GAMMA] - 1.0) * dT


@kernel
def valves_step(gas, store, rate, valve_at, valve, gate, acc, out, books, fuelling, dt):
    """Flow through every open valve over a sub-step, given to pipe and cylinder alike."""
    for v in range(valve_at.shape[1]):
        a = valve_at[M.V_PIPE, v]
        k = valve_at[M.V_CYLINDER, v]
        intake = valve_at[M.V_INTAKE, v] > 0
        acc[k, L.A_P_INTAKE if intake else L.A_P_EXHAUST] = store[M.X_P, a]
        if not max(valve[M.W_FORWARD, v], valve[M.W_REVERSE, v]) > SHUT:
            valve[M.W_FLOW, v] = 0.0
            continue
        face = valve[M.W_FACE, v]
        rise_c = 0.5 * dt * gate[k, M.G_PUSH]
        content = store[M.X_GAMMA, a] / (store[M.X_GAMMA, a] - 1.0) * store[M.X_R, a] * store[M.X_T, a]
        rise_p = 0.5 * dt * store[M.X_STIFF, a] * (
            rate[M.R_M, a] + (rate[M.R_H, a] - rate[M.R_M, a] * store[M.X_H, a]) / content)
        pc = gate[k, M.G_P] + rise_c
        pp = store[M.X_P, a] + rise_p
        into = pc > pp
        proper = into != intake
        area = valve[M.W_FORWARD, v] if proper else valve[M.W_REVERSE, v]
        if area <= SHUT:
            valve[M.W_FLOW, v] = 0.0
            continue
        if into:
            R = gate[k, M.G_R]
            T = gate[k, M.G_T]
            gamma = gate[k, M.G_GAMMA]
            up = gamma * R * T / gate[k, M.G_V]
            stiff = up + store[M.X_STIFF, a] * (R * T) / (store[M.X_R, a] * store[M.X_T, a])
            m = valve_flow(area, face, True, pc, pc - pp, rise_c - rise_p, T, R, gamma, up, stiff, dt,
                           max(valve[M.W_FLOW, v], 0.0))
            yf = gate[k, M.G_YF]
            yb = gate[k, M.G_YB]
            energy = m * gate[k, M.G_H]
        else:
            R = store[M.X_R, a]
            T = store[M.X_T, a]
            gamma = store[M.X_GAMMA, a]
            up = store[M.X_STIFF, a]
            stiff = up + gamma * R * T / gate[k, M.G_V]
            m = -valve_flow(area, face, False, pp, pp - pc, rise_p - rise_c, T, R, gamma, up, stiff, dt,
                            max(-valve[M.W_FLOW, v], 0.0))
            yf = store[M.X_YF, a]
            yb = store[M.X_YB, a]
            energy = m * store[M.X_H, a]
            if intake:
                valve[M.W_MACH, v] = -m * math.sqrt(R * T / gamma) / (pp * face)
        valve[M.W_FLOW, v] = m
        rate[M.R_M, a] += m
        rate[M.R_H, a] += energy
        rate[M.R_F, a] += m * yf
        rate[M.R_B, a] += m * yb
        jet = abs(m) * store[M.X_R, a] * store[M.X_T, a] / (pp * area)
        valve_to_cylinder(gas, acc[k], out[k], books, fuelling, intake, gate[k, M.G_T], dt, m, energy, m * yf, m * yb,
                          store[M.X_P, a], jet)
        rise = -dt * m * gamma * R * T / gate[k, M.G_V]
        gate[k, M.G_P] += rise
        warm_up(gate[k], rise / pc)


@kernel
def move_gates(gate, dt):
    """Pistons move over a sub-step: pressure and temperature behind open valves follow."""
    for k in range(gate.shape[0]):
        if gate[k, M.G_V] > 0.0:
            rise = dt * gate[k, M.G_PUSH]
            warm_up(gate[k], rise / gate[k, M.G_P])
            gate[k, M.G_P] += rise


@kernel
def stored(lump):
    """Mass (kg) and energy with formation (J) in stores and cylinders."""
    x = lump.store
    mass = 0.0
    energy = 0.0
    for k in range(1, x.shape[1]):
        mass += x[M.X_M, k]
        energy += x[M.X_U, k] + x[M.X_M, k] * lump.gas[P_HF] + x[M.X_MF, k] * (
            lump.gas[P_HF + 1] - lump.gas[P_HF]) + x[M.X_MB, k] * (lump.gas[P_HF + 2] - lump.gas[P_HF])
    for k in range(lump.state.shape[0]):
        mass += lump.state[k, L.S_M]
        energy += lump.state[k, L.S_U]
    return mass, energy


@kernel
def note(store, valve_at, valve, out, dtheta):
    """Collect store pressures over the cycle and the intake face Mach numbers."""
    for k in range(store.shape[1]):
        store[M.X_P_SUM, k] += store[M.X_P, k] * dtheta
    for v in range(valve_at.shape[1]):
        mach = valve[M.W_MACH, v]
        if mach > 0.0:
            k = valve_at[M.V_CYLINDER, v]
            out[k, L.C_MACH_MAX] = max(out[k, L.C_MACH_MAX], mach)
            out[k, L.C_MACH_SUM] += mach * dtheta
            out[k, L.C_MACH_ANGLE] += dtheta


@kernel
def write(row, first, count, shift, value):
    """Write ``value`` to the last of ``count`` places from ``first`` - ``shift`` on in a ring of 720; the others
    between it and what stands before them."""
    i = math.floor(first - shift + 0.5)
    old = row[(i - 1) % 720]
    for n in range(count):
        row[(i + n) % 720] = old + (n + 1) / count * (value - old)


@kernel
def write_trace(state, acc, phase, store, trace, probes, theta, dtheta):
    """Write every whole degree passed: cylinders at their local angle, probed stores at the global one."""
    first = math.floor(theta + 1e-9) + 1
    count = math.floor(theta + dtheta + 1e-9) + 1 - first
    for k in range(phase.shape[0]):
        s = state[k]
        write(trace[k, L.T_P], first, count, phase[k], s[L.S_P])
        write(trace[k, L.T_T], first, count, phase[k], s[L.S_T])
        write(trace[k, L.T_INTAKE_FLOW], first, count, phase[k], acc[k, L.A_INTAKE])
        write(trace[k, L.T_EXHAUST_FLOW], first, count, phase[k], acc[k, L.A_EXHAUST])
        write(trace[k, L.T_INTAKE_P], first, count, phase[k], acc[k, L.A_P_INTAKE])
        write(trace[k, L.T_EXHAUST_P], first, count, phase[k], acc[k, L.A_P_EXHAUST])
        write(trace[k, L.T_TU], first, count, phase[k], s[L.S_TU])
        write(trace[k, L.T_X], first, count, phase[k], s[L.S_X] if s[L.S_MODE] > 0.0 else 0.0)
    for n in range(probes.shape[0]):
        k = int(probes[n, 0, 0])
        write(probes[n, 1], first, count, 0.0, store[M.X_P, k])
        write(probes[n, 2], first, count, 0.0, store[M.X_SPEED, k])
        write(probes[n, 3], first, count, 0.0, store[M.X_T, k])


@kernel
def average(acc, n):
    """Turn sums of valve flows over ``n`` sub-steps into means."""
    for k in range(acc.shape[0]):
        for i in (L.A_MASS, L.A_H, L.A_FUEL, L.A_BURNED, L.A_INTAKE, L.A_EXHAUST, L.A_JET):
            acc[k, i] /= n


@whole
def lumped_cycle(lump, rpm, step_deg, octane, trace, probes, tracing):
    """March one cycle of 720 deg from global angle 0 in steps of ``step_deg`` or less.

    Returns status, component index, angle reached (deg), sub-steps taken.
    """
    gas, store, rate, const, books = lump.gas, lump.store, lump.rate, lump.const, lump.books
    flow, plug = lump.flow, lump.plug
    link_at, link, valve_at, valve, gate = lump.link_at, lump.link, lump.valve_at, lump.valve, lump.gate
    state, acc, out, geometry, phase, burn = lump.state, lump.acc, lump.out, lump.geometry, lump.phase, lump.burn
    sp = 2.0 * geometry[1] * rpm / 60.0
    steps = math.ceil(720.0 / step_deg - 1e-9)
    dtheta = 720.0 / steps
    dt = dtheta / (6.0 * rpm)
    books[:] = 0.0
    out[:] = 0.0
    store[M.X_P_SUM] = 0.0
    taken = 0
    block = 0
    n = 1
    for i in range(steps):
        theta = i * dtheta
        if i == 0 or theta >= (block + 1) * REFRESH:
            refresh(store, const, lump.first_pipe, link_at, flow)
            # never fewer than before: a number that changes from cycle to cycle would keep them from repeating
            block = int(theta / REFRESH)
            n = max(lump.pace[block], math.ceil(dt * fastest(store, rate, link_at, link, flow)))
            if n > MOST:
                return L.STUCK, 0, theta, taken
            lump.pace[block] = n
        open_gates(gas, gate, state, acc, lump.room, phase, lump.area_fwd, lump.area_rev, valve_at, valve, theta,
                   dtheta, dt)
        h = dt / n
        for _ in range(n):
            links_step(gas, store, rate, link_at, link, flow, plug, books, h)
            injectors_step(gas, store, rate, link_at, flow, lump.injector_at, lump.injector, books, h)
            valves_step(gas, store, rate, valve_at, valve, gate, acc, out, books, lump.fuelling, h)
            move_gates(gate, h)
            if not stores_step(gas, store, rate, const, books, h):
                return L.BAD_NODE, 0, theta, taken
        taken += n
        average(acc, n)
        for k in range(phase.shape[0]):
            local = (theta - phase[k]) % 720.0
            if not advance_cylinder(gas, geometry, burn, lump.flame, lump.walls, state[k], out[k], acc[k], books,
                                    lump.closed[k, 0], lump.closed[k, 1], local, dtheta, dt, sp, octane):
                return L.BAD_CYLINDER, k, theta, taken
        note(store, valve_at, valve, out, dtheta)
        if tracing:
            write_trace(state, acc, phase, store, trace, probes, theta, dtheta)
    return L.OK, 0, 720.0, taken


@kernel
def lumped_time(lump, duration, dt, watched, record):
    """March a network without cylinders for ``duration`` s in steps of ``dt``.

    ``record`` gets the pressure (Pa) of store ``watched`` after each. Returns the number of steps written, or -1 if
    a store ran empty.
    """
    steps = min(math.ceil(duration / dt - 1e-9), record.shape[0])
    for i in range(steps):
        if i % STEPS == 0:
            refresh(lump.store, lump.const, lump.first_pipe, lump.link_at, lump.flow)
        links_step(lump.gas, lump.store, lump.rate, lump.link_at, lump.link, lump.flow, lump.plug, lump.books, dt)
        if not stores_step(lump.gas, lump.store, lump.rate, lump.const, lump.books, dt):
            return -1
        record[i] = lump.store[M.X_P, watched]
    return steps
