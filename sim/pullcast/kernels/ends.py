"""Fluxes at pipe ends: closed, open, orifice, valve, junction.

For every end the half-step state of the adjacent cell is the wave that arrives;
the face state lies on it and on the relation of what is outside. One flux serves
both sides. ``ends.flow`` keeps mass, energy, fuel, burned gas and momentum flow
into the pipe and the face Mach number.
"""

import math

from pullcast.kernels import layout as L
from pullcast.kernels.crank import table_at
from pullcast.kernels.gas import AIR, mix_cp, mix_h, mix_hf, mix_R
from pullcast.kernels.jit import kernel
from pullcast.kernels.mixture import burned_increment
from pullcast.kernels.riemann import hllc, sound
from pullcast.kernels.roots import open_in, open_out, orifice_in, orifice_out
from pullcast.kernels.wave import wall_pressure


@kernel
def outside_gas(gas, ends, nodes, junctions, cylinders, e, dt):
    """Stagnation state outside end ``e``: p, T, yf, yb, sensible enthalpy, R, gamma."""
    kind = ends.kind[e]
    k = ends.node[e]
    extra = 0.0
    if kind == L.VALVE:
        s = cylinders.state[k]
        p = s[L.S_P]
        dp = min(max(0.5 * dt * s[L.S_DPDT], -0.1 * p), 0.1 * p)
        yf = s[L.S_FUEL] / s[L.S_M]
        yb = s[L.S_BURNED] / s[L.S_M]
        T = s[L.S_T]
        extra, dR = burned_increment(gas, T, p)
        T *= 1.0 + 0.28 * dp / p
        p += dp
        R = mix_R(gas, yf, yb) + yb * dR
        extra *= yb
    elif kind == L.JUNCTION_ORIFICE or kind == L.JUNCTION:
        m = junctions.m[k]
        p = junctions.p[k]
        T = junctions.T[k]
        yf = junctions.mf[k] / m
        yb = junctions.mb[k] / m
        R = mix_R(gas, yf, yb)
    else:
        m = nodes.m[k]
        p = nodes.p[k]
        T = nodes.T[k]
        yf = nodes.mf[k] / m
        yb = nodes.mb[k] / m
        R = mix_R(gas, yf, yb)
    cp = mix_cp(gas, T, yf, yb)
    return p, T, yf, yb, mix_h(gas, T, yf, yb) + extra, R, cp / (cp - R)


@kernel
def area_ratio(ends, cylinders, e, theta, inward):
    """Effective over face area of an orifice or valve for flow into (``inward``) or out of the pipe; at most 0.98."""
    if ends.kind[e] == L.VALVE:
        k = ends.node[e]
        local = theta - cylinders.phase[k]
        row = ends.valve[e]
        exhaust = row == cylinders.exhaust_row[k]
        forward = inward if exhaust else not inward
        area = table_at(cylinders.area_fwd[row], local) if forward else table_at(cylinders.area_rev[row], local)
    else:
        area = ends.orifice[e]
    return min(area / ends.area[e], 0.98)


@kernel
def face_state(gas, ends, nodes, junctions, cylinders, e, theta, dt, ri, wi, pi, gi):
    """Face pressure, velocity into the pipe, density of an end that is no junction, and the gas outside."""
    kind = ends.kind[e]
    ai = sound(gi, pi, ri)
    pw = wall_pressure(ri, wi, pi, ai, gi)
    if kind == L.CLOSED:
        return pw, 0.0, ri, 0.0, 0.0, 0.0
    p0, T0, yf, yb, h0, R0, g0 = outside_gas(gas, ends, nodes, junctions, cylinders, e, dt)
    inward = p0 > pw
    guess = ends.p_face[e]
    if kind == L.OPEN:
        if inward:
            p, w, r = open_in(guess, pw, ri, wi, pi, ai, gi, ends.loss_in[e], p0, T0, R0, g0)
        else:
            p, w, r = open_out(guess, pw, ri, wi, pi, ai, gi, ends.loss_out[e], p0)
    else:
        k = area_ratio(ends, cylinders, e, theta, inward)
        if k < 1e-6:
            p, w, r = pw, 0.0, ri
        elif inward:
            p, w, r = orifice_in(guess, pw, ri, wi, pi, ai, gi, k, p0, T0, R0, g0)
        else:
            p, w, r = orifice_out(guess, pw, ri, wi, pi, ai, gi, k, p0)
    return p, w, r, h0, yf, yb


@kernel
def junction_flux(gas, junctions, e, ends, ri, wi, pi, gi, e0i, yfi, ybi):
    """HLLC between a junction cell and the pipe: rates per area into the pipe and the tangential velocity lost.

    Returns mass, momentum, energy, frozen-gamma energy, yf, yb, tangential velocity of gas leaving the junction.
    """
    k = ends.node[e]
    m = junctions.m[k]
    rj = m / junctions.volume[k]
    nx = ends.nx[e]
    ny = ends.ny[e]
    ux = junctions.px[k] / m
    uy = junctions.py[k] / m
    un = ux * nx + uy * ny
    ut = uy * nx - ux * ny
    yfj = junctions.mf[k] / m
    ybj = junctions.mb[k] / m
    pj = junctions.p[k]
    Tj = junctions.T[k]
    Rj = mix_R(gas, yfj, ybj)
    cp = mix_cp(gas, Tj, yfj, ybj)
    gj = cp / (cp - Rj)
    sl, sm, sr, ps = hllc(rj, un, pj, sound(gj, pj, rj), ri, wi, pi, sound(gi, pi, ri))
    from_junction = sm >= 0.0
    if from_junction:
        r, v, q, s, yf, yb = rj, un, pj, sl, yfj, ybj
        energy = rj * (mix_h(gas, Tj, yf, yb) - Rj * Tj + 0.5 * (un * un + ut * ut))
        kin = 0.5 * rj * un * un
    else:
        r, v, q, s, yf, yb = ri, wi, pi, sr, yfi, ybi
        R = mix_R(gas, yf, yb)
        energy = ri * (mix_h(gas, pi / (ri * R), yf, yb) - pi / ri + 0.5 * wi * wi)
        kin = 0.5 * ri * wi * wi
        ut = 0.0
    frozen = q / (gi - 1.0) + r * e0i + kin
    if sl < 0.0 and sr > 0.0:
        f = (s - v) / (s - sm)
        work = (ps * sm - q * v) / (s - sm)
        r *= f
        energy = f * energy + work
        frozen = f * frozen + work
        v = sm
        q = ps
    mass = r * v
    return mass, mass * v + q, (energy + q) * v, (frozen + q) * v, yf, yb, ut


@kernel
def valve_to_cylinder(gas, cylinders, books, e, ends, dt, mass, energy, fuel, burned, p_face):
    """Give the cylinder what passes its valve (rates into the pipe); fuel joins entering air that has none yet."""
    k = ends.node[e]
    acc = cylinders.acc[k]
    out = cylinders.out[k]
    m, f, b = -mass, -fuel, -burned
    yf = f / m if m != 0.0 else 0.0
    yb = b / m if m != 0.0 else 0.0
    h = -energy + m * mix_hf(gas, yf, yb)
    intake = ends.valve[e] == cylinders.intake_row[k]
    if intake:
        acc[L.A_INTAKE] += m
        acc[L.A_P_INTAKE] = p_face
        out[L.C_AIR] += (m - f - b) * dt
        if m < 0.0:
            out[L.C_BACKFLOW] -= m * dt
    else:
        acc[L.A_EXHAUST] -= m
        acc[L.A_P_EXHAUST] = p_face
        if m < 0.0:
            out[L.C_SHORT] -= f * dt
            out[L.C_EX_MASS] -= m * dt
            out[L.C_EX_TSUM] -= m * dt * cylinders.state[k, L.S_T]
    if m > 0.0:
        bare = max((m - f - b) / gas.mix[2] - f, 0.0)
        if bare > 0.0 and intake:
            T = max(cylinders.state[k, L.S_T], 250.0)
            T = min(T, 420.0)
            hv = mix_h(gas, T, 1.0, 0.0) * (1.0 - cylinders.fuelling[0])
            hl = (mix_h(gas, cylinders.fuelling[1], 1.0, 0.0) - gas.mix[3]) * cylinders.fuelling[0]
            hf = bare * (hv + hl + gas.hf[1])
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
def end_fluxes(model, theta, dt):
    """Overwrite the fluxes at all pipe ends and fill the accumulators of what they open into."""
    gas, flow, ends = model.gas, model.flow, model.ends
    nodes, junctions, cylinders, books = model.nodes, model.junctions, model.cylinders, model.books
    nodes.acc[:] = 0.0
    junctions.acc[:] = 0.0
    cylinders.acc[:] = 0.0
    for e in range(ends.kind.shape[0]):
        c = ends.cell[e]
        s = ends.sign[e]
        side = flow.left if s > 0 else flow.right
        ri = side[0, c]
        wi = s * side[1, c]
        pi = side[2, c]
        yf = side[3, c]
        yb = side[4, c]
        gi = flow.gamma[c]
        kind = ends.kind[e]
        k = ends.node[e]
        ut = 0.0
        if kind == L.JUNCTION:
            mass, mom, energy, frozen, yf, yb, ut = junction_flux(gas, junctions, e, ends, ri, wi, pi, gi, flow.e0[c], yf, yb)
            p = pi
            r = ri
            w = mass / ri
        else:
            p, w, r, h0, yfo, ybo = face_state(gas, ends, nodes, junctions, cylinders, e, theta, dt, ri, wi, pi, gi)
            mass = r * w
            if w > 0.0:
                yf = yfo
                yb = ybo
                energy = mass * h0
            else:
                T = p / (r * mix_R(gas, yf, yb))
                energy = mass * (mix_h(gas, T, yf, yb) + 0.5 * w * w)
            mom = mass * w + p
            frozen = (p / (gi - 1.0) + r * (flow.e0[c] + 0.5 * w * w) + p) * w
        fuel = mass * yf
        burned = mass * yb
        j = ends.face[e]
        flow.flux[0, j] = s * mass
        flow.flux[1, j] = mom
        flow.flux[2, j] = s * energy
        flow.flux[3, j] = s * fuel
        flow.flux[4, j] = s * burned
        flow.flux_lo[j] = s * frozen
        flow.flux_hi[j] = s * frozen
        ends.p_face[e] = p
        area = ends.area[e]
        ends.flow[0, e] = mass * area
        ends.flow[1, e] = energy * area
        ends.flow[2, e] = fuel * area
        ends.flow[3, e] = burned * area
        ends.flow[4, e] = mom * area
        ends.flow[5, e] = abs(w) / sound(gi, p, r)
        g = ends.ghost[e]
        flow.rho[g] = max(2.0 * r - flow.rho[c], 0.2 * r)
        flow.p[g] = max(2.0 * p - flow.p[c], 0.2 * p)
        flow.mom[g] = flow.rho[g] * (2.0 * s * w - flow.u[c])
        flow.rf[g] = flow.rho[g] * yf
        flow.rb[g] = flow.rho[g] * yb
        flow.ene[g] = flow.p[g] / 0.35
        if kind == L.VALVE:
            valve_to_cylinder(gas, cylinders, books, e, ends, dt, mass * area, energy * area, fuel * area, burned * area, p)
        elif kind == L.OPEN or kind == L.ORIFICE:
            nodes.acc[0, k] -= mass * area
            nodes.acc[1, k] -= energy * area
            nodes.acc[2, k] -= fuel * area
            nodes.acc[3, k] -= burned * area
            if k == 0:
                m = mass * area * dt
                h = (energy + mass * mix_hf(gas, yf, yb)) * area * dt
                if m > 0.0:
                    books[L.B_MASS_IN] += m
                    books[L.B_H_IN] += h
                else:
                    books[L.B_MASS_OUT] -= m
                    books[L.B_H_OUT] -= h
                books[L.B_AIR_IN] += m * (1.0 - yf - yb)
        elif kind == L.JUNCTION or kind == L.JUNCTION_ORIFICE:
            junctions.acc[0, k] -= mass * area
            junctions.acc[1, k] -= energy * area
            junctions.acc[2, k] -= fuel * area
            junctions.acc[3, k] -= burned * area
            push = mom * area if kind == L.JUNCTION else junctions.p[k] * area
            turn = mass * ut * area
            junctions.acc[4, k] -= push * ends.nx[e] - turn * ends.ny[e]
            junctions.acc[5, k] -= push * ends.ny[e] + turn * ends.nx[e]
