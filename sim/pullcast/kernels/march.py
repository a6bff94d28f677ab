"""March the whole engine through crank angle: the only kernel that solve/ calls for an engine."""

import math

from pullcast.kernels import layout as L
from pullcast.kernels.chamber import cylinder_step
from pullcast.kernels.duct import fluxes, predict, primitives, transport, update
from pullcast.kernels.ends import end_fluxes
from pullcast.kernels.gas import mix_hf
from pullcast.kernels.inject import inject
from pullcast.kernels.jit import inner, kernel, small
from pullcast.kernels.nodes import jets_step, junctions_step, volumes_step

REFRESH = 8  # steps between refreshes of wall friction and heat transfer


@inner
def node_rate(ends, volume, flow):
    """Largest rate (1/s) at which volumes exchange their content with the pipes at sound speed."""
    top = 0.0
    for k in range(1, volume.shape[0]):
        total = 0.0
        for e in range(ends.kind.shape[0]):
            kind = ends.kind[e]
            if (kind == L.OPEN or kind == L.ORIFICE) and ends.node[e] == k:
                c = ends.cell[e]
                a = ends.area[e] if kind == L.OPEN else min(ends.area[e], 2.0 * ends.orifice[e])
                total += a * (abs(flow.u[c]) + flow.a[c])
        top = max(top, total / volume[k])
    return top


@kernel
def stored(model):
    """Mass (kg) and energy with formation (J) in pipes, volumes, junctions and cylinders."""
    gas, d, f = model.gas, model.ducts, model.flow
    mass = 0.0
    energy = 0.0
    for i in range(d.vol.shape[0]):
        v = d.vol[i] * d.real[i]
        mass += v * f.rho[i]
        energy += v * (f.ene[i] + f.rho[i] * gas.hf[0] + f.rf[i] * (gas.hf[1] - gas.hf[0])
                       + f.rb[i] * (gas.hf[2] - gas.hf[0]))
    n = model.nodes
    for k in range(1, n.m.shape[0]):
        mass += n.m[k]
        energy += n.U[k] + n.m[k] * mix_hf(gas, n.mf[k] / n.m[k], n.mb[k] / n.m[k])
    j = model.junctions
    for k in range(j.m.shape[0]):
        mass += j.m[k]
        energy += j.E[k] + j.m[k] * mix_hf(gas, j.mf[k] / j.m[k], j.mb[k] / j.m[k])
    s = model.cylinders.state
    for k in range(s.shape[0]):
        mass += s[k, L.S_M]
        energy += s[k, L.S_U]
    return mass, energy


@kernel
def duct_primitives(model):
    """Primitive variables of all cells; largest (|u|+a)/dx or -1."""
    g, d, f = model.gas, model.ducts, model.flow
    return primitives(g.R, g.cp, g.h, d.dx, d.real, f.rho, f.mom, f.ene, f.rf, f.rb, f.p, f.u, f.yf, f.yb, f.gamma,
                      f.e0, f.a, f.T, f.eint)


@inner
def duct_transport(model):
    """Refresh friction and heat-transfer coefficients."""
    d, f = model.ducts, model.flow
    transport(d.diameter, d.roughness, d.loss, d.heat_factor, d.friction, f.rho, f.u, f.T, f.gamma, f.p, f.cf, f.ch)


@inner
def note_mach(model, dtheta):
    """Collect the intake face Mach number: mean over the open angle and maximum."""
    ends, cyl = model.ends, model.cylinders
    for e in range(ends.kind.shape[0]):
        if ends.kind[e] == L.VALVE:
            k = ends.node[e]
            if ends.valve[e] == cyl.intake_row[k] and ends.flow[0, e] < 0.0:
                out = cyl.out[k]
                out[L.C_MACH_MAX] = max(out[L.C_MACH_MAX], ends.flow[5, e])
                out[L.C_MACH_SUM] += ends.flow[5, e] * dtheta
                out[L.C_MACH_ANGLE] += dtheta


@inner
def write_trace(model, trace, probes, theta, dtheta):
    """Write every whole degree passed in this step: cylinders at their local angle, probe cells at the global one."""
    cyl = model.cylinders
    first = math.ceil(theta - 1e-9)
    deg = first
    while deg < theta + dtheta - 1e-9:
        for k in range(cyl.phase.shape[0]):
            i = math.floor(deg - cyl.phase[k] + 0.5) % 720
            s = cyl.state[k]
            a = cyl.acc[k]
            trace[k, L.T_P, i] = s[L.S_P]
            trace[k, L.T_T, i] = s[L.S_T]
            trace[k, L.T_INTAKE_FLOW, i] = a[L.A_INTAKE]
            trace[k, L.T_EXHAUST_FLOW, i] = a[L.A_EXHAUST]
            trace[k, L.T_INTAKE_P, i] = a[L.A_P_INTAKE]
            trace[k, L.T_EXHAUST_P, i] = a[L.A_P_EXHAUST]
            trace[k, L.T_TU, i] = s[L.S_TU]
            trace[k, L.T_X, i] = s[L.S_X] if s[L.S_MODE] > 0.0 else 0.0
        for n in range(probes.shape[0]):
            c = int(probes[n, 0, 0])
            i = deg % 720
            probes[n, 1, i] = model.flow.p[c]
            probes[n, 2, i] = model.flow.u[c]
            probes[n, 3, i] = model.flow.T[c]
        deg += 1


@kernel
def add_pressures(p, p_sum, dtheta):
    """Add to the sums of pressure over crank angle (no array expression: that would allocate)."""
    for k in range(p.shape[0]):
        p_sum[k] += p[k] * dtheta


@small
def advance(model, theta, dtheta, dt, tau, sp, octane, steps):
    """One step of everything; returns a status code and the index of the component that broke down."""
    f, d, books = model.flow, model.ducts, model.books
    if steps % REFRESH == 0:
        duct_transport(model)
    predict(dt, d.dx, d.slope, f.rho, f.u, f.p, f.yf, f.yb, f.gamma, f.left, f.right, f.p_half)
    fluxes(f.gamma, f.e0, f.left, f.right, f.flux, f.flux_lo, f.flux_hi)
    end_fluxes(model, theta + 0.5 * dtheta, dt)
    books[L.B_Q_DUCT] += update(dt, tau, d.vol, d.face, d.real, f.rho, f.mom, f.ene, f.rf, f.rb, f.p, f.gamma, f.e0,
                                f.eint, f.cf, f.ch, d.wall, f.T, f.p_half, f.flux, f.flux_lo, f.flux_hi)
    inject(model, dt)
    q = volumes_step(model.gas, model.nodes, dt)
    if q < -1e29:
        return L.BAD_NODE, 0
    books[L.B_Q_NODE] += q
    jets_step(model.junctions, model.ends, dt)
    if not junctions_step(model.gas, model.junctions, dt):
        return L.BAD_JUNCTION, 0
    for k in range(model.cylinders.phase.shape[0]):
        if not cylinder_step(model.gas, model.cylinders, books, k, theta, dtheta, dt, sp, octane):
            return L.BAD_CYLINDER, k
    return L.OK, 0


@inner
def bad_cell(model):
    """Index of the first real cell whose state is not a gas, or -1."""
    d, f = model.ducts, model.flow
    for i in range(d.vol.shape[0]):
        if d.real[i] > 0.0 and not (f.rho[i] > 0.0 and f.p[i] > 0.0 and f.p[i] < 1e9 and abs(f.mom[i]) < 1e7):
            return i
    return -1


@kernel
def march_cycle(model, rpm, cfl, tau, octane, max_dtheta, trace, probes, tracing):
    """March one cycle of 720 deg from global angle 0.

    ``max_dtheta`` (deg) bounds the step; ``trace`` (nc, T_COUNT, 720) and ``probes`` (n, 4, 720) are filled when
    ``tracing``. Returns status, component index, angle reached (deg), steps taken.
    """
    per_second = 6.0 * rpm
    g = model.cylinders.geometry
    sp = 2.0 * g[1] * rpm / 60.0
    theta = 0.0
    steps = 0
    model.books[:] = 0.0
    model.cylinders.out[:] = 0.0
    model.nodes.p_sum[:] = 0.0
    model.junctions.p_sum[:] = 0.0
    while theta < 720.0 - 1e-9:
        rate = duct_primitives(model)
        if rate < 0.0:
            return L.BAD_CELL, bad_cell(model), theta, steps
        rate = max(rate, node_rate(model.ends, model.nodes.volume, model.flow))
        dt = cfl / rate
        dtheta = min(dt * per_second, max_dtheta)
        if dtheta < 1e-6:
            return L.STUCK, 0, theta, steps
        left = 720.0 - theta
        if dtheta >= left:
            dtheta = left
        elif dtheta > 0.5 * left:
            dtheta = 0.5 * left
        dt = dtheta / per_second
        status, where = advance(model, theta, dtheta, dt, tau, sp, octane, steps)
        if status != L.OK:
            return status, where, theta, steps
        note_mach(model, dtheta)
        add_pressures(model.nodes.p, model.nodes.p_sum, dtheta)
        add_pressures(model.junctions.p, model.junctions.p_sum, dtheta)
        if tracing:
            write_trace(model, trace, probes, theta, dtheta)
        theta += dtheta
        steps += 1
    return L.OK, 0, 720.0, steps


@kernel
def march_time(model, duration, cfl, tau, max_steps):
    """March a network without turning the crank for ``duration`` seconds (benches, acoustics).

    Cylinders, if any, keep their state. Returns status, component index, time reached, steps.
    """
    t = 0.0
    steps = 0
    f, d, books = model.flow, model.ducts, model.books
    while t < duration * (1.0 - 1e-12) and steps < max_steps:
        rate = duct_primitives(model)
        if rate < 0.0:
            return L.BAD_CELL, bad_cell(model), t, steps
        rate = max(rate, node_rate(model.ends, model.nodes.volume, model.flow))
        dt = min(cfl / rate, duration - t)
        if steps % REFRESH == 0:
            duct_transport(model)
        predict(dt, d.dx, d.slope, f.rho, f.u, f.p, f.yf, f.yb, f.gamma, f.left, f.right, f.p_half)
        fluxes(f.gamma, f.e0, f.left, f.right, f.flux, f.flux_lo, f.flux_hi)
        end_fluxes(model, 0.0, dt)
        books[L.B_Q_DUCT] += update(dt, tau, d.vol, d.face, d.real, f.rho, f.mom, f.ene, f.rf, f.rb, f.p, f.gamma,
                                    f.e0, f.eint, f.cf, f.ch, d.wall, f.T, f.p_half, f.flux, f.flux_lo, f.flux_hi)
        inject(model, dt)
        q = volumes_step(model.gas, model.nodes, dt)
        if q < -1e29:
            return L.BAD_NODE, 0, t, steps
        books[L.B_Q_NODE] += q
        jets_step(model.junctions, model.ends, dt)
        if not junctions_step(model.gas, model.junctions, dt):
            return L.BAD_JUNCTION, 0, t, steps
        t += dt
        steps += 1
    return L.OK, 0, t, steps
