"""Fluxes at pipe ends: closed, open, orifice, valve, junction.

For every end the half-step state of the adjacent cell is the wave that arrives;
the face state lies on it and on the relation of what is outside. One flux serves
both sides. ``ends.flow`` keeps mass, energy, fuel, burned gas and momentum flow
into the pipe and the face Mach number.

What is outside (surroundings, volumes, cylinders, junctions) is put into one table
first, a row each, so that the loop over ends handles numbers only.
"""

import math

from pullcast.kernels import layout as L
from pullcast.kernels.crank import table_at
from pullcast.kernels.gas import mix_cp, mix_h, mix_hf, mix_R
from pullcast.kernels.jit import inner, kernel
from pullcast.kernels.mixture import burned_increment
from pullcast.kernels.packed import P_AFR, P_EVAPORATION, P_HF, blend, enthalpy
from pullcast.kernels.riemann import sound
from pullcast.kernels.roots import open_in, open_out, orifice_in, orifice_out
from pullcast.kernels.wave import wall_pressure

FASTEST_JET = 400.0  # m/s, of gas entering a cylinder, as far as its turbulence is concerned
SHUT = 1e-6  # effective over pipe area below which a valve is closed
FULL = 0.98  # and at most this: beyond, a valve is no restriction its pipe could tell


@kernel
def outside_row(row, gas, p, T, yf, yb, dh, dR):
    """Fill one row of the table: stagnation pressure, temperature, mixture, enthalpy, R, gamma."""
    R = mix_R(gas, yf, yb) + yb * dR
    cp = mix_cp(gas, T, yf, yb)
    row[L.O_P] = p
    row[L.O_T] = T
    row[L.O_YF] = yf
    row[L.O_YB] = yb
    row[L.O_H] = mix_h(gas, T, yf, yb) + yb * dh
    row[L.O_R] = R
    row[L.O_GAMMA] = cp / (cp - R)


@inner
def fill_outside(gas, outside, nodes, junctions, cylinders, dt):
    """Table of what is outside: volumes, then junctions, then cylinders; volumes and cylinders half a step on.

    A volume goes on at the rates of the step before (second-order Adams-Bashforth for its pressure).
    """
    nn = nodes.m.shape[0]
    nj = junctions.m.shape[0]
    for k in range(nn):
        m = nodes.m[k]
        row = outside[k]
        p = nodes.p[k]
        T = nodes.T[k]
        yf = nodes.mf[k] / m
        yb = nodes.mb[k] / m
        outside_row(row, gas, p, T, yf, yb, 0.0, 0.0)
        if k > 0:
            R = row[L.O_R]
            grow = nodes.acc[0, k] / m
            warm = (row[L.O_GAMMA] - 1.0) * (nodes.acc[1, k] / m - (row[L.O_H] - R * T) * grow) / (R * T)
            ahead = min(max(0.5 * dt * (grow + warm), -0.1), 0.1)
            hotter = min(max(0.5 * dt * warm, -0.1), 0.1)
            outside_row(row, gas, p * (1.0 + ahead), T * (1.0 + hotter), yf, yb, 0.0, 0.0)
    for k in range(nj):
        m = junctions.m[k]
        row = outside[nn + k]
        outside_row(row, gas, junctions.p[k], junctions.T[k], junctions.mf[k] / m, junctions.mb[k] / m, 0.0, 0.0)
        row[L.O_UX] = junctions.px[k] / m
        row[L.O_UY] = junctions.py[k] / m
        row[L.O_RATE] = junctions.acc[6, k] / m
        row[L.O_INFLOW:] = 0.0
    for k in range(cylinders.state.shape[0]):
        s = cylinders.state[k]
        p = s[L.S_P]
        T = s[L.S_T]
        dp = min(max(0.5 * dt * s[L.S_DPDT], -0.1 * p), 0.1 * p)
        dh, dR = burned_increment(gas, T, p)
        row = outside[nn + nj + k]
        yf = s[L.S_FUEL] / s[L.S_M]
        yb = s[L.S_BURNED] / s[L.S_M]
        outside_row(row, gas, p + dp, T * (1.0 + 0.28 * dp / p), yf, yb, dh, dR)


@kernel
def face_state(kind, free, k_in, k_out, guess, row, ri, wi, pi, gi):
    """Face pressure, velocity into the pipe and density of an end that is no junction.

    ``k_in``, ``k_out``: loss coefficients (open) or effective over face area (orifice, valve) into and out of it;
    ``free``: 1 where that orifice does not choke.
    """
    ai = sound(gi, pi, ri)
    pw = wall_pressure(ri, wi, pi, ai, gi)
    p0 = row[L.O_P]
    inward = p0 > pw
    k = k_in if inward else k_out
    if kind == L.CLOSED or (kind != L.OPEN and k < SHUT):
        return pw, 0.0, ri
    T0 = row[L.O_T]
    R0 = row[L.O_R]
    g0 = row[L.O_GAMMA]
    if kind == L.OPEN:
        if inward:
            return open_in(guess, pw, ri, wi, pi, ai, gi, k, p0, T0, R0, g0)
        return open_out(guess, pw, ri, wi, pi, ai, gi, k, p0)
    if inward:
        return orifice_in(guess, pw, ri, wi, pi, ai, gi, min(k, FULL), p0, T0, R0, g0, free)
    return orifice_out(guess, pw, ri, wi, pi, ai, gi, min(k, FULL), p0, free)


@kernel
def mouth_pressure(p, T, T0, un, drawn, missing, merge, R, g):
    """Stagnation pressure a junction offers a pipe, Pa.

    Its gas (static p, T; total temperature T0) comes along the pipe at ``un``. A pipe that draws it slower mixes the
    jet, momentum conserved (p_face + rho w^2 = p + rho w un, Borda-Carnot); ``drawn`` is the mean velocity w for that
    loss. What is ``missing`` of w because it turns off ahead of the pipe raises the pressure by a quarter of
    rho un times it (Hager 1984; Bassett et al. 2001, eq. 15: K = q^2 - 1.5 q + .5). A pipe that draws the gas faster
    speeds it up; of the loss rho (w - un)^2/2 that the same balance gives, ``merge`` is lost: all where the pipe
    turns off (Bassett et al. 2001, eq. 27), none where pipes in line converge.
    """
    cp = g * R / (g - 1.0)
    if drawn >= un:
        gain = 0.5 * (un * un - merge * (drawn - un) ** 2) / (cp * T)
        return p * max(1.0 + gain, 0.5) ** (g / (g - 1.0))
    t = T0 - 0.5 * drawn * drawn / cp
    rise = drawn * (un - drawn) + 0.25 * un * missing
    return p / (1.0 - rise / (R * t)) * (T0 / t) ** (g / (g - 1.0))


@kernel
def junction_state(k_in, k_out, guess, row, un, drawn, spare, merge, ri, wi, pi, gi):
    """Face pressure, velocity into the pipe and density at the junction whose jets come along it at ``un``.

    ``drawn``: mean velocity into the pipe; ``spare``: that of what others draw from ahead of it, through its mouth.
    All mouths share the junction's static pressure (Benson's constant-pressure junction, exact for weak waves) but
    for what the jets that enter it carry along into a pipe.
    """
    kin = 0.5 * (row[L.O_UX] ** 2 + row[L.O_UY] ** 2)
    ai = sound(gi, pi, ri)
    pw = wall_pressure(ri, wi, pi, ai, gi)
    R = row[L.O_R]
    g = row[L.O_GAMMA]
    T0 = row[L.O_T] + kin * (g - 1.0) / (g * R)
    missing = max(min(un - drawn, spare), 0.0)
    p0 = mouth_pressure(row[L.O_P], row[L.O_T], T0, un, drawn, missing, merge, R, g)
    if p0 > pw:
        return open_in(guess, pw, ri, wi, pi, ai, gi, k_in, p0, T0, R, g)
    return open_out(guess, pw, ri, wi, pi, ai, gi, k_out, p0)


@kernel
def relaxed(x):
    """Share of its way to balance that a state has gone in the mean of a step of ``x`` time constants: 0 to 1.

    1 - (1 - exp(-x))/x: half the way of a short step, all of it in a long one (exponential fitting, Liniger &
    Willoughby 1970; from memory).
    """
    if x < 1e-3:
        return 0.5 * x
    return 1.0 + math.expm1(-x) / x


@kernel
def stir_ahead(gas, row, volume, m, dt):
    """Mean state of one junction over the step: its row of the table from what the row says flows in."""
    kinetic = 0.5 * (row[L.O_UX] ** 2 + row[L.O_UY] ** 2)
    g = row[L.O_GAMMA]
    c = g * row[L.O_R] * row[L.O_T] / volume * dt
    stiff = max(row[L.O_STIFF], 1e-12)
    dp = row[L.O_INFLOW] / stiff * relaxed(c * stiff)
    dp = min(max(dp, -0.5 * row[L.O_P]), row[L.O_P])
    T = row[L.O_T]
    share = relaxed(dt * row[L.O_IN] / m)
    if share > 0.0:
        row[L.O_YF] += share * (row[L.O_IN_F] / row[L.O_IN] - row[L.O_YF])
        row[L.O_YB] += share * (row[L.O_IN_B] / row[L.O_IN] - row[L.O_YB])
        cp = mix_cp(gas, T, row[L.O_YF], row[L.O_YB])
        T += share * (row[L.O_IN_H] / row[L.O_IN] - row[L.O_H] - kinetic) / cp
        T = max(T, 100.0)
    outside_row(row, gas, row[L.O_P] + dp, T, row[L.O_YF], row[L.O_YB], 0.0, 0.0)


@inner
def junction_ahead(gas, outside, junctions, flow, ends, dt):
    """Carry the state of all junctions to its mean over the step before their flows are taken.

    Pressure relaxes at c sum(A/a) towards where the flows balance, with c = gamma R T / V; mixture and total enthalpy
    towards those of what enters, as the content is stirred with it; ``relaxed`` gives the mean of either. A junction
    may so be as small as it is: it sets no limit to the time step, and as V goes to nothing the flows balance and
    what leaves is what enters.
    """
    first = outside.shape[0]
    last = 0
    for e in range(ends.kind.shape[0]):
        kind = ends.kind[e]
        if kind != L.JUNCTION and kind != L.JUNCTION_ORIFICE:
            continue
        c = ends.cell[e]
        row = outside[ends.row[e]]
        first = min(first, ends.row[e] - ends.node[e])
        last = max(last, ends.row[e] + 1)
        side = flow.left if ends.sign[e] > 0.0 else flow.right
        ri, wi, pi = side[0, c], ends.sign[e] * side[1, c], side[2, c]
        gi = flow.gamma[c]
        area = ends.area[e]
        if kind == L.JUNCTION:
            p, w, r = junction_state(ends.loss_in[e], ends.loss_out[e], ends.p_face[e], row, ends.along[e],
                                     ends.w_drawn[e], ends.spare[e], ends.merge[e], ri, wi, pi, gi)
            stiff = area
        else:
            k = ends.orifice[e] / area
            p, w, r = face_state(kind, ends.free[e], k, k, ends.p_face[e], row, ri, wi, pi, gi)
            stiff = min(area, ends.orifice[e])
        row[L.O_INFLOW] -= r * w * area
        row[L.O_STIFF] += stiff / sound(gi, pi, ri)
        if w < 0.0:
            yf, yb = side[3, c], side[4, c]
            mass = -r * w * area
            row[L.O_IN] += mass
            row[L.O_IN_F] += mass * yf
            row[L.O_IN_B] += mass * yb
            row[L.O_IN_H] += mass * (mix_h(gas, p / (r * mix_R(gas, yf, yb)), yf, yb) + 0.5 * w * w)
    for k in range(first, last):
        stir_ahead(gas, outside[k], junctions.volume[k - first], junctions.m[k - first], dt)


@kernel
def valve_to_cylinder(gas, acc, out, books, fuelling, intake, T_cylinder, dt, mass, energy, fuel, burned, p_face,
                      jet):
    """Give the cylinder what passes its valve (rates into the pipe); fuel joins entering air that has none yet.

    ``gas`` is the packed table, ``acc`` and ``out`` the cylinder's rows, ``jet`` the speed in the valve's gap (m/s).
    """
    m, f, b = -mass, -fuel, -burned
    hf_air = gas[P_HF]
    h = -energy + hf_air * m + f * (gas[P_HF + 1] - hf_air) + b * (gas[P_HF + 2] - hf_air)
    if intake:
        acc[L.A_INTAKE] += m
        acc[L.A_P_INTAKE] = p_face
        out[L.C_AIR] += (m - f - b) * dt
        if m < 0.0:
            out[L.C_BACKFLOW] -= m * dt
        else:
            acc[L.A_JET] += 0.5 * m * min(jet, FASTEST_JET) ** 2
    else:
        acc[L.A_EXHAUST] -= m
        acc[L.A_P_EXHAUST] = p_face
        if m < 0.0:
            out[L.C_SHORT] -= f * dt
            out[L.C_EX_MASS] -= m * dt
            out[L.C_EX_TSUM] -= m * dt * T_cylinder
    bare = (m - f - b) / gas[P_AFR] - f
    if intake and m > 0.0 and bare > 0.0:
        T = min(max(T_cylinder, 250.0), 420.0)
        c = blend(gas, 1.0, 0.0)
        vapour = enthalpy(c, T) * (1.0 - fuelling[0])
        liquid = (enthalpy(c, fuelling[1]) - gas[P_EVAPORATION]) * fuelling[0]
        hf = bare * (vapour + liquid + gas[P_HF + 1])
        h += hf
        m += bare
        f += bare
        out[L.C_FUEL] += bare * dt
        books[L.B_FUEL] += bare * dt
        books[L.B_H_FUEL] += hf * dt
    acc[L.A_MASS] += m
    acc[L.A_H] += h
    acc[L.A_FUEL] += f
    acc[L.A_BURNED] += b


@kernel
def book_surroundings(gas, books, m, h, yf, yb, dt):
    """Book what crosses into (m > 0) or out of the network; ``m``, ``h`` are rates."""
    total = (h + m * mix_hf(gas, yf, yb)) * dt
    if m > 0.0:
        books[L.B_MASS_IN] += m * dt
        books[L.B_H_IN] += total
    else:
        books[L.B_MASS_OUT] -= m * dt
        books[L.B_H_OUT] -= total


@inner
def set_ghost(flow, g, c, s, p, w, r, yf, yb):
    """Ghost cell that puts the face value midway between it and the cell (for slopes only).

    Where gas leaves the pipe its density and mixture come from inside alone: the ghost then differs from the cell
    only by the wave (isentropically). Extrapolating them too would feed a slope with itself in a one-cell pipe.
    """
    flow.p[g] = max(2.0 * p - flow.p[c], 0.2 * p)
    if w > 0.0:
        flow.rho[g] = max(2.0 * r - flow.rho[c], 0.2 * r)
    else:
        flow.rho[g] = flow.rho[c] * max(1.0 + (flow.p[g] / flow.p[c] - 1.0) / flow.gamma[c], 0.2)
        yf = flow.yf[c]
        yb = flow.yb[c]
    flow.mom[g] = flow.rho[g] * (2.0 * s * w - flow.u[c])
    flow.rf[g] = flow.rho[g] * yf
    flow.rb[g] = flow.rho[g] * yb
    flow.ene[g] = flow.p[g] / 0.35


@inner
def end_fluxes(model, theta, dt):
    """Overwrite the fluxes at all pipe ends and fill the accumulators of what they open into."""
    gas, flow, ends, books, outside = model.gas, model.flow, model.ends, model.books, model.outside
    cyl = model.cylinders
    node_acc, junction_acc = model.nodes.acc, model.junctions.acc
    fill_outside(gas, outside, model.nodes, model.junctions, cyl, dt)
    node_acc[:] = 0.0
    junction_ahead(gas, outside, model.junctions, flow, ends, dt)
    junction_acc[:] = 0.0
    cyl.acc[:] = 0.0
    for e in range(ends.kind.shape[0]):
        c = ends.cell[e]
        s = ends.sign[e]
        kind = ends.kind[e]
        k = ends.node[e]
        area = ends.area[e]
        row = outside[ends.row[e]]
        if s > 0.0:
            ri, wi, pi = flow.left[0, c], flow.left[1, c], flow.left[2, c]
            yf, yb = flow.left[3, c], flow.left[4, c]
        else:
            ri, wi, pi = flow.right[0, c], -flow.right[1, c], flow.right[2, c]
            yf, yb = flow.right[3, c], flow.right[4, c]
        gi = flow.gamma[c]
        e0 = flow.e0[c]
        k_in, k_out = ends.loss_in[e], ends.loss_out[e]
        h0 = row[L.O_H]
        if kind == L.JUNCTION:
            p, w, r = junction_state(k_in, k_out, ends.p_face[e], row, ends.along[e], ends.w_drawn[e],
                                     ends.spare[e], ends.merge[e], ri, wi, pi, gi)
            ends.w_drawn[e] += min(row[L.O_RATE] * dt, 1.0) * (max(w, 0.0) - ends.w_drawn[e])
            h0 += 0.5 * (row[L.O_UX] ** 2 + row[L.O_UY] ** 2)
        else:
            if kind == L.VALVE:
                v = ends.valve[e]
                local = theta - cyl.phase[k]
                forward = table_at(cyl.area_fwd[v], local) / area
                reverse = table_at(cyl.area_rev[v], local) / area
                is_exhaust = v == cyl.exhaust_row[k]
                k_in = forward if is_exhaust else reverse
                k_out = reverse if is_exhaust else forward
            elif kind != L.OPEN:
                k_in = ends.orifice[e] / area
                k_out = k_in
            p, w, r = face_state(kind, ends.free[e], k_in, k_out, ends.p_face[e], row, ri, wi, pi, gi)
        mass = r * w
        if w > 0.0:
            yf, yb = row[L.O_YF], row[L.O_YB]
            energy = mass * h0
        elif w < 0.0:
            energy = mass * (mix_h(gas, p / (r * mix_R(gas, yf, yb)), yf, yb) + 0.5 * w * w)
        else:
            energy = 0.0
        mom = mass * w + p
        frozen = (p / (gi - 1.0) + r * (e0 + 0.5 * w * w) + p) * w
        j = ends.face[e]
        flow.flux[0, j] = s * mass
        flow.flux[1, j] = mom
        flow.flux[2, j] = s * energy
        flow.flux[3, j] = s * mass * yf
        flow.flux[4, j] = s * mass * yb
        flow.flux_lo[j] = s * frozen
        flow.flux_hi[j] = s * frozen
        if ends.lone[e] > 0:
            set_ghost(flow, ends.ghost[e], c, s, flow.p[c], s * flow.u[c], flow.rho[c], flow.yf[c], flow.yb[c])
        else:
            set_ghost(flow, ends.ghost[e], c, s, p, w, r, yf, yb)
        ends.p_face[e] = p
        mass *= area
        energy *= area
        fuel = mass * yf
        burned = mass * yb
        ends.flow[0, e] = mass
        ends.flow[1, e] = energy
        ends.flow[2, e] = fuel
        ends.flow[3, e] = burned
        ends.flow[4, e] = mom * area
        ends.flow[5, e] = abs(w) / sound(gi, p, r)
        if kind == L.VALVE:
            if mass != 0.0:
                is_intake = ends.valve[e] == cyl.intake_row[k]
                valve_to_cylinder(gas.packed, cyl.acc[k], cyl.out[k], books, cyl.fuelling, is_intake,
                                  cyl.state[k, L.S_T], dt, mass, energy, fuel, burned, p,
                                  abs(mass) / (r * area * max(k_out, 1e-6)))
            elif ends.valve[e] == cyl.intake_row[k]:
                cyl.acc[k, L.A_P_INTAKE] = p
            else:
                cyl.acc[k, L.A_P_EXHAUST] = p
        elif kind == L.OPEN or kind == L.ORIFICE:
            node_acc[0, k] -= mass
            node_acc[1, k] -= energy
            node_acc[2, k] -= fuel
            node_acc[3, k] -= burned
            if k == 0:
                book_surroundings(gas, books, mass, energy, yf, yb, dt)
                books[L.B_AIR_IN] += (mass - fuel - burned) * dt if ends.inlet[e] > 0 else 0.0
        elif kind == L.JUNCTION or kind == L.JUNCTION_ORIFICE:
            junction_acc[0, k] -= mass
            junction_acc[1, k] -= energy
            junction_acc[2, k] -= fuel
            junction_acc[3, k] -= burned
            junction_acc[6, k] += max(mass, 0.0)
            into = mass <= 0.0
            thrust = (p - row[L.O_P]) * area + mass * w if kind == L.JUNCTION and into else 0.0
            junction_acc[4, k] -= thrust * ends.nx[e]
            junction_acc[5, k] -= thrust * ends.ny[e]
            ends.push[e] = thrust
