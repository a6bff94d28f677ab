"""What a step of the lumped model is made of: stores, links, injectors, valves.

A link obeys the momentum equation of its column of gas, I d(mdot)/dt = p_up - p_down - R mdot |mdot| with
I = integral dx/A and R from entry and exit losses, bends, wall friction and, at a throttle, the quasi-steady
orifice relation (unsteady Bernoulli equation with losses; Heywood 1988 sec. 7.6.2, Benson 1982 vol. 1 for filling
and emptying, both from memory). Pressures are stagnation values, so an exit loses one dynamic head. It is never
more than the choked flow of its narrowest place. The step is symplectic: flows first, with the loss implicit, then
stores with the new flows.
"""

import math

from pullcast.kernels import layout as L
from pullcast.kernels import lumps as M
from pullcast.kernels.jit import kernel
from pullcast.kernels.orifice import psi
from pullcast.kernels.packed import P_AFR, P_EVAPORATION, P_HF, blend, enthalpy, heat_capacity, packed_hf, packed_R

SHUT = 1e-9  # m2
FULL = 0.98  # valve area over pipe area beyond which the valve is no restriction
MIXED = 0.1  # an abrupt end would pass the mouth at a step's accident and keep cycles from repeating
LEFT = 0.1  # least share of a pressure difference that a flow is thought to leave
NEAR = 1e-5  # relative pressure difference below which an orifice is incompressible


@kernel
def choked(gamma):
    """Flow function at Mach 1: ``psi`` below the critical pressure ratio."""
    return math.sqrt(gamma) * (2.0 / (gamma + 1.0)) ** (0.5 * (gamma + 1.0) / (gamma - 1.0))


@kernel
def stores_step(gas, store, rate, const, books, dt):
    """Advance all stores but the surroundings and clear the rates; False if one ran empty.

    Temperature follows from the energy books by one Newton iteration a step, from the last one.
    """
    good = True
    heat = 0.0
    for k in range(1, store.shape[1]):
        T = store[M.X_T, k]
        q = dt * store[M.X_WALL, k] * (const[M.K_T_WALL, k] - T)
        heat += q
        m = store[M.X_M, k] + dt * rate[M.R_M, k]
        mf = max(store[M.X_MF, k] + dt * rate[M.R_F, k], 0.0)
        mb = max(store[M.X_MB, k] + dt * rate[M.R_B, k], 0.0)
        U = store[M.X_U, k] + dt * rate[M.R_H, k] + q
        good = good and m > 0.0 and T > 60.0
        yf = mf / m
        yb = mb / m
        c = blend(gas, yf, yb)
        R = packed_R(gas, yf, yb)
        cp = heat_capacity(c, T)
        h = enthalpy(c, T)
        dT = (U / m - (h - R * T)) / (cp - R)
        T += dT
        RT = R * T
        V = const[M.K_VOLUME, k]
        gamma = cp / (cp - R)
        store[M.X_M, k] = m
        store[M.X_MF, k] = mf
        store[M.X_MB, k] = mb
        store[M.X_U, k] = U
        store[M.X_T, k] = T
        store[M.X_P, k] = m * RT / V
        store[M.X_YF, k] = yf
        store[M.X_YB, k] = yb
        store[M.X_R, k] = R
        store[M.X_H, k] = h + cp * dT
        store[M.X_GAMMA, k] = gamma
        store[M.X_RHO, k] = m / V
        store[M.X_STIFF, k] = gamma * RT / V
        for i in range(M.R_COUNT):
            rate[i, k] = 0.0
    for i in range(M.R_COUNT):
        rate[i, 0] = 0.0
    books[L.B_Q_NODE] += heat
    return good


@kernel
def lean(z):
    """Weight of the end of a step against its start for a decay by the factor exp(-z) over it.

    1/(1 - exp(-z)) - 1/z to within .02: one half for short steps (second order), one for long ones.
    """
    return 1.0 - 1.0 / (2.0 + z * (1.0 / 3.0 + 0.05 * z))


@kernel
def loss_of_orifice(area, face, into, pu, pd, Tu, Ru, gu):
    """Resistance (1/(kg m)) that makes the steady link flow that of an orifice.

    Flow into a pipe keeps the dynamic head of the pipe (its pressure is a stagnation pressure).
    """
    if pu - pd < NEAR * pu:
        r = Ru * Tu / (2.0 * pu * area * area)
    else:
        mass = area * psi(pd / pu, gu) * pu / math.sqrt(Ru * Tu)
        r = (pu - pd) / (mass * mass)
    k = min(area / face, FULL)
    return r * (1.0 - k * k) if into else r


@kernel
def links_step(gas, store, rate, link_at, link, flow, plug, books, dt):
    """Advance the flow of every link and give both its ends what it carries.

    A mouth open to the surroundings breathes: the air it drew in (``plug``) leaves first when the flow turns, as in
    a pipe, where gas moves as a column. Stirred into the pipe's store it would carry out fuel, or heat, instead.
    The end of the column is mixed over the share ``MIXED`` of the pipe.
    """
    for n in range(flow.shape[0]):
        a = link_at[M.N_PIPE, n]
        b = link_at[M.N_NODE, n]
        inertia = link[M.L_INERTIA, n]
        c = flow[n] + dt / inertia * (store[M.X_P, b] - store[M.X_P, a])
        into = c > 0.0
        up = b if into else a
        down = a if into else b
        area = link[M.L_AREA, n]
        orifice = link[M.L_ORIFICE, n]
        k = link[M.L_IN, n] if into else link[M.L_OUT, n]
        R = 0.5 * k / (area * area) + store[M.X_CF, a] * link[M.L_FRICTION, n] + store[M.X_CF, b] * link[
            M.L_FRICTION_FAR, n] + link[M.L_BENDS, n]
        R /= store[M.X_RHO, up]
        pu = store[M.X_P, up]
        Tu = store[M.X_T, up]
        Ru = store[M.X_R, up]
        if orifice > 0.0:
            R += loss_of_orifice(orifice, area, into, pu, store[M.X_P, down], Tu, Ru, store[M.X_GAMMA, up])
        z = dt * R / inertia
        weight = lean(2.0 * z * abs(flow[n]))
        c -= (1.0 - weight) * z * flow[n] * abs(flow[n])
        m = 2.0 * c / (1.0 + math.sqrt(1.0 + 4.0 * weight * z * abs(c)))
        most = link[M.L_NARROWEST, n] * store[M.X_CHOKE, up] * pu / math.sqrt(Ru * Tu)
        m = min(max(m, -most), most)
        flow[n] = m
        yf = store[M.X_YF, up]
        yb = store[M.X_YB, up]
        h = store[M.X_H, up]
        if b == 0:
            held = store[M.X_M, a] * (1.0 - store[M.X_YF, a] - store[M.X_YB, a])
            share = 1.0
            if m < 0.0:
                share = min(plug[n] / max(MIXED * store[M.X_M, a], -m * dt), 1.0)
                yf += share * (store[M.X_YF, 0] - yf)
                yb += share * (store[M.X_YB, 0] - yb)
                h += share * (store[M.X_H, 0] - h)
            plug[n] = min(max(plug[n] + share * m * dt, 0.0), held)
        h *= m
        rate[M.R_M, a] += m
        rate[M.R_H, a] += h
        rate[M.R_F, a] += m * yf
        rate[M.R_B, a] += m * yb
        rate[M.R_M, b] -= m
        rate[M.R_H, b] -= h
        rate[M.R_F, b] -= m * yf
        rate[M.R_B, b] -= m * yb
        if b == 0:
            book(gas, books, m, h, yf, yb, dt)
            if link_at[M.N_INLET, n] > 0:
                books[L.B_AIR_IN] += m * (1.0 - yf - yb) * dt


@kernel
def book(gas, books, m, h, yf, yb, dt):
    """Book what crosses into (m > 0) or out of the network; ``m``, ``h`` are rates."""
    total = (h + m * packed_hf(gas, yf, yb)) * dt
    if m > 0.0:
        books[L.B_MASS_IN] += m * dt
        books[L.B_H_IN] += total
    else:
        books[L.B_MASS_OUT] -= m * dt
        books[L.B_H_OUT] -= total


@kernel
def injectors_step(gas, store, rate, link_at, flow, injector_at, injector, books, dt):
    """Fuel joins the air that leaves a carburettor's pipe towards the engine and has none yet.

    The evaporated share enters as liquid, so the charge pays for its evaporation (see ``kernels.inject``).
    """
    for n in range(injector_at.shape[1]):
        link = injector_at[M.J_LINK, n]
        m = -flow[link]
        if m <= 0.0:
            continue
        a = link_at[M.N_PIPE, link]
        yf = store[M.X_YF, a]
        add = injector[M.I_EVAPORATED, n] * m * max((1.0 - yf - store[M.X_YB, a]) / gas[P_AFR] - yf, 0.0)
        h = enthalpy(blend(gas, 1.0, 0.0), injector[M.I_TEMPERATURE, n]) - gas[P_EVAPORATION]
        k = injector_at[M.J_STORE, n]
        rate[M.R_M, k] += add
        rate[M.R_H, k] += add * h
        rate[M.R_F, k] += add
        books[L.B_FUEL] += add * dt
        books[L.B_H_FUEL] += add * (h + gas[P_HF + 1]) * dt


@kernel
def valve_flow(area, face, into, pu, dp, drift, Tu, Ru, gu, stiff_up, stiff, dt, last):
    """Mean flow through a valve over a step, kg/s: a quasi-steady orifice.

    ``pu`` is the pressure upstream and ``dp`` the difference, both in the middle of the step but for the valve's own
    flow; ``drift`` (Pa) what ``dp`` has gained by then. ``stiff`` (Pa/kg) is how much the difference closes for a
    kilogram passed, ``stiff_up`` of that upstream; the flow that equalises both sides is never exceeded. The orifice
    is taken at the pressures that a flow as in the step before (``last``) leaves, through a parabola over ``dp``.
    Flow ``into`` the pipe keeps the dynamic head of the pipe (incompressible relation A / sqrt(1 - (A/A_pipe)^2)),
    up to the choked flow of the valve.
    """
    k = min(area / face, FULL)
    a = k * face
    p = pu - min(0.5 * dt * stiff_up * last, 0.5 * dp)
    d = max(dp - 0.5 * dt * stiff * last, LEFT * dp)
    per = a * a * p * p / (Ru * Tu)
    log_throat = math.log(2.0 / (gu + 1.0))
    if d < NEAR * p:
        square = 2.0 * per / p
        d = max(d, 1e-9)
    else:
        log_r = max(math.log(1.0 - min(d / p, 0.999)), gu / (gu - 1.0) * log_throat)
        q = math.exp(log_r / gu)
        square = per * 2.0 * gu / (gu - 1.0) * q * (q - math.exp(log_r)) / d
    if into:
        most = per * gu * math.exp((gu + 1.0) / (gu - 1.0) * log_throat)
        square = min(square / (1.0 - k * k), most / d)
    sd = stiff * dt
    weight = lean(0.5 * sd * math.sqrt(square / d))
    end = max(dp + drift, 0.0)
    dp = max(dp + (2.0 * weight - 1.0) * drift, 0.0)
    part = weight * sd
    return min(2.0 * dp / (part + math.sqrt(part * part + 4.0 * dp / square)), end / sd)
