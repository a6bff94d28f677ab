"""What a step of the lumped model is made of: stores, links, injectors, valve flow; all lanes at once.

A link obeys the momentum equation of its column of gas, I d(mdot)/dt = p_up - p_down - R mdot |mdot| with
I = integral dx/A and R from entry and exit losses, bends, wall friction and, at a throttle, the quasi-steady
orifice relation (unsteady Bernoulli equation with losses; Heywood 1988 sec. 7.6.2, Benson 1982 vol. 1 for filling
and emptying, both from memory). Pressures are stagnation values, so an exit loses one dynamic head. It is never
more than the choked flow of its narrowest place. The step is symplectic: flows first, with the loss implicit, then
stores with the new flows.

``on`` says which lanes take this sub-step; the others have ``dt`` 0 and keep what they hold.
"""

from pullcast.kernels import layout as L
from pullcast.kernels import lumps as M
from pullcast.kernels.jit import inner, merged, small
from pullcast.kernels.lane_gas import blends, caloric
from pullcast.kernels.lanes import any_of, exp, get, get3, greatest, least, log, put, put3, root, size, where
from pullcast.kernels.packed import P_AFR, P_EVAPORATION, P_HF, blend, enthalpy, packed_hf, packed_R

SHUT = 1e-9  # m2
FULL = 0.98  # valve area over pipe area beyond which the valve is no restriction
MIXED = 0.1  # an abrupt end would pass the mouth at a step's accident and keep cycles from repeating
LEFT = 0.1  # least share of a pressure difference that a flow is thought to leave
NEAR = 1e-5  # relative pressure difference below which an orifice is incompressible


@merged
def stores_step(gas, store, rate, const, books, dt, on):
    """Advance all stores but the surroundings and clear the rates; False in lanes where one ran empty.

    Temperature follows from the energy books by one Newton iteration a step, from the last one.
    """
    good = on
    heat = 0.0 * dt
    none = 0.0 * dt
    for k in range(1, store.shape[1]):
        T = get3(store, M.X_T, k)
        q = dt * get3(store, M.X_WALL, k) * (get3(const, M.K_T_WALL, k) - T)
        heat += q
        m = get3(store, M.X_M, k) + dt * get3(rate, M.R_M, k)
        mf = greatest(get3(store, M.X_MF, k) + dt * get3(rate, M.R_F, k), 0.0)
        mb = greatest(get3(store, M.X_MB, k) + dt * get3(rate, M.R_B, k), 0.0)
        U = get3(store, M.X_U, k) + dt * get3(rate, M.R_H, k) + q
        good = good & (m > 0.0) & (T > 60.0)
        per = 1.0 / m
        yf = mf * per
        yb = mb * per
        R = packed_R(gas, yf, yb)
        h, cp = caloric(blends(gas, yf, yb), T)
        cv = 1.0 / (cp - R)
        dT = (U * per - (h - R * T)) * cv
        T += dT
        gamma = cp * cv
        stretch = R * T * get3(const, M.K_PER_VOLUME, k)
        put3(store, M.X_M, k, m, on)
        put3(store, M.X_MF, k, mf, on)
        put3(store, M.X_MB, k, mb, on)
        put3(store, M.X_U, k, U, on)
        put3(store, M.X_T, k, T, on)
        put3(store, M.X_P, k, m * stretch, on)
        put3(store, M.X_YF, k, yf, on)
        put3(store, M.X_YB, k, yb, on)
        put3(store, M.X_R, k, R, on)
        put3(store, M.X_H, k, h + cp * dT, on)
        put3(store, M.X_GAMMA, k, gamma, on)
        put3(store, M.X_SPECIFIC, k, per * get3(const, M.K_VOLUME, k), on)
        put3(store, M.X_STIFF, k, gamma * stretch, on)
        for i in range(M.R_COUNT):
            put3(rate, i, k, none, True)
    for i in range(M.R_COUNT):
        put3(rate, i, 0, none, True)
    put(books, L.B_Q_NODE, get(books, L.B_Q_NODE) + heat, on)
    return good


@small
def lean(z):
    """Weight of the end of a step against its start for a decay by the factor exp(-z) over it.

    1/(1 - exp(-z)) - 1/z to within .02: one half for short steps (second order), one for long ones.
    """
    return 1.0 - 1.0 / (2.0 + z * (1.0 / 3.0 + 0.05 * z))


@small
def lossy(c, z, before):
    """Flow after a step in which a loss (``z`` times flow squared) takes from ``c``; ``before`` is the last flow.

    The loss is a mean of that of both flows, the new one weighted by ``lean`` = 1 - 1/w of 2 z |before|: the root of
    m = c - z (before |before| / w + lean m |m|), multiplied through by w.
    """
    x = 2.0 * z * size(before)
    w = 2.0 + x * (1.0 / 3.0 + 0.05 * x)
    top = w * c - 0.5 * x * before
    return 2.0 * top / (w + root(w * w + 4.0 * z * (w - 1.0) * size(top)))


@inner
def flow_factor(r, gamma):
    """Square of the flow function ``kernels.orifice.psi``; ``r`` at or above the critical ratio."""
    log_r = log(r)
    q = exp(log_r / gamma)
    return 2.0 * gamma / (gamma - 1.0) * q * (q - r)


@merged
def loss_of_orifice(area, face, into, pu, pd, RT, gu, critical):
    """Resistance (1/(kg m)) that makes the steady link flow that of an orifice.

    Flow into a pipe keeps the dynamic head of the pipe (its pressure is a stagnation pressure).
    """
    per = RT / (pu * area * area)
    near = pu - pd < NEAR * pu
    r = greatest(where(near, 0.5, pd / pu), critical)
    far = (pu - pd) / (flow_factor(r, gu) * pu) * per
    k = least(area / face, FULL)
    return where(near, 0.5 * per, far) * where(into, 1.0 - k * k, 1.0)


@inner
def hold_links(store, link_at, link, hold, dt):
    """What the links need at every sub-step of length ``dt`` and what changes slowly: losses, limits."""
    for n in range(hold.shape[1]):
        a = link_at[M.N_PIPE, n]
        b = link_at[M.N_NODE, n]
        area = get3(link, M.L_AREA, n)
        R = get3(store, M.X_CF, a) * get3(link, M.L_FRICTION, n) + get3(link, M.L_BENDS, n)
        R += get3(store, M.X_CF, b) * get3(link, M.L_FRICTION_FAR, n)
        narrow = get3(link, M.L_NARROWEST, n)
        put3(hold, M.H_PER, n, dt / get3(link, M.L_INERTIA, n), True)
        put3(hold, M.H_IN, n, R + 0.5 * get3(link, M.L_IN, n) / (area * area), True)
        put3(hold, M.H_OUT, n, R + 0.5 * get3(link, M.L_OUT, n) / (area * area), True)
        put3(hold, M.H_MOST_IN, n, narrow * narrow * get3(store, M.X_CHOKE, b), True)
        put3(hold, M.H_MOST_OUT, n, narrow * narrow * get3(store, M.X_CHOKE, a), True)


@merged
def links_step(gas, store, rate, link_at, link, hold, flow, plug, books, dt, on):
    """Advance the flow of every link and give both its ends what it carries.

    A mouth open to the surroundings breathes: the air it drew in (``plug``) leaves first when the flow turns, as in
    a pipe, where gas moves as a column. Stirred into the pipe's store it would carry out fuel, or heat, instead.
    The end of the column is mixed over the share ``MIXED`` of the pipe.
    """
    for n in range(flow.shape[0]):
        a = link_at[M.N_PIPE, n]
        b = link_at[M.N_NODE, n]
        before = get(flow, n)
        pa = get3(store, M.X_P, a)
        pb = get3(store, M.X_P, b)
        per = get3(hold, M.H_PER, n)
        c = before + per * (pb - pa)
        into = c > 0.0
        pu = where(into, pb, pa)
        v = where(into, get3(store, M.X_SPECIFIC, b), get3(store, M.X_SPECIFIC, a))
        orifice = get3(link, M.L_ORIFICE, n)
        R = where(into, get3(hold, M.H_IN, n), get3(hold, M.H_OUT, n)) * v
        if any_of(orifice > 0.0):
            gu = where(into, get3(store, M.X_GAMMA, b), get3(store, M.X_GAMMA, a))
            critical = where(into, get3(store, M.X_CRITICAL, b), get3(store, M.X_CRITICAL, a))
            more = loss_of_orifice(orifice, get3(link, M.L_AREA, n), into, pu, where(into, pa, pb), pu * v, gu,
                                   critical)
            R += where(orifice > 0.0, more, 0.0)
        z = per * R
        m = lossy(c, z, before)
        most = where(into, get3(hold, M.H_MOST_IN, n), get3(hold, M.H_MOST_OUT, n)) * pu
        chokes = m * m * v > most
        if any_of(chokes):
            m = where(chokes, where(m < 0.0, -1.0, 1.0) * root(most / v), m)
        put(flow, n, m, on)
        yf = where(into, get3(store, M.X_YF, b), get3(store, M.X_YF, a))
        yb = where(into, get3(store, M.X_YB, b), get3(store, M.X_YB, a))
        h = where(into, get3(store, M.X_H, b), get3(store, M.X_H, a))
        if b == 0:
            yf, yb, h = breathe(store, plug, n, a, m, yf, yb, h, dt, on)
            book(gas, books, m, h * m, yf, yb, dt, on)
            if link_at[M.N_INLET, n] > 0:
                put(books, L.B_AIR_IN, get(books, L.B_AIR_IN) + m * (1.0 - yf - yb) * dt, on)
        h *= m
        f = m * yf
        r = m * yb
        put3(rate, M.R_M, a, get3(rate, M.R_M, a) + m, True)
        put3(rate, M.R_H, a, get3(rate, M.R_H, a) + h, True)
        put3(rate, M.R_F, a, get3(rate, M.R_F, a) + f, True)
        put3(rate, M.R_B, a, get3(rate, M.R_B, a) + r, True)
        put3(rate, M.R_M, b, get3(rate, M.R_M, b) - m, True)
        put3(rate, M.R_H, b, get3(rate, M.R_H, b) - h, True)
        put3(rate, M.R_F, b, get3(rate, M.R_F, b) - f, True)
        put3(rate, M.R_B, b, get3(rate, M.R_B, b) - r, True)


@merged
def breathe(store, plug, n, a, m, yf, yb, h, dt, on):
    """What leaves the mouth of pipe store ``a`` to the surroundings, and the plug of outside air there moved on."""
    held = get3(store, M.X_M, a) * (1.0 - get3(store, M.X_YF, a) - get3(store, M.X_YB, a))
    drawn = get(plug, n)
    out = m < 0.0
    share = where(out, least(drawn / greatest(MIXED * get3(store, M.X_M, a), -m * dt), 1.0), 1.0)
    fresh = where(out, share, 0.0)
    put(plug, n, least(greatest(drawn + share * m * dt, 0.0), held), on)
    return (yf + fresh * (get3(store, M.X_YF, 0) - yf), yb + fresh * (get3(store, M.X_YB, 0) - yb),
            h + fresh * (get3(store, M.X_H, 0) - h))


@merged
def book(gas, books, m, h, yf, yb, dt, on):
    """Book what crosses into (m > 0) or out of the network; ``m``, ``h`` are rates."""
    total = (h + m * packed_hf(gas, yf, yb)) * dt
    mass = m * dt
    inward = m > 0.0
    outward = m <= 0.0
    put(books, L.B_MASS_IN, get(books, L.B_MASS_IN) + mass, on & inward)
    put(books, L.B_H_IN, get(books, L.B_H_IN) + total, on & inward)
    put(books, L.B_MASS_OUT, get(books, L.B_MASS_OUT) - mass, on & outward)
    put(books, L.B_H_OUT, get(books, L.B_H_OUT) - total, on & outward)


@inner
def injectors_step(gas, store, rate, flow, link_at, injector_at, injector, books, dt, on):
    """Fuel joins the air that leaves a carburettor's pipe towards the engine and has none yet.

    The evaporated share enters as liquid, so the charge pays for its evaporation (see ``kernels.inject``).
    What joins the air on its way out of a mouth is lost to the surroundings.
    """
    for n in range(injector_at.shape[1]):
        link = injector_at[M.J_LINK, n]
        m = greatest(-get(flow, link), 0.0)
        a = link_at[M.N_PIPE, link]
        yf = get3(store, M.X_YF, a)
        bare = greatest((1.0 - yf - get3(store, M.X_YB, a)) / gas[P_AFR] - yf, 0.0)
        add = get3(injector, M.I_EVAPORATED, n) * m * bare
        h = enthalpy(blend(gas, 1.0, 0.0), get3(injector, M.I_TEMPERATURE, n)) - gas[P_EVAPORATION]
        k = injector_at[M.J_STORE, n]
        put3(rate, M.R_M, k, get3(rate, M.R_M, k) + add, True)
        put3(rate, M.R_H, k, get3(rate, M.R_H, k) + add * h, True)
        put3(rate, M.R_F, k, get3(rate, M.R_F, k) + add, True)
        put(books, L.B_FUEL, get(books, L.B_FUEL) + add * dt, on)
        put(books, L.B_H_FUEL, get(books, L.B_H_FUEL) + add * (h + gas[P_HF + 1]) * dt, on)
        if k == 0:
            book(gas, books, -add, -add * h, 1.0, 0.0, dt, on)


@small
def valve_flow(area, face, into, pu, dp, drift, RT, gu, choke, critical, stiff_up, stiff, dt, last):
    """Mean flow through a valve over a step, kg/s: a quasi-steady orifice.

    ``pu`` is the pressure upstream and ``dp`` the difference, both in the middle of the step but for the valve's own
    flow; ``drift`` (Pa) what ``dp`` has gained by then. ``stiff`` (Pa/kg) is how much the difference closes for a
    kilogram passed, ``stiff_up`` of that upstream; the flow that equalises both sides is never exceeded. The orifice
    is taken at the pressures that a flow as in the step before (``last``) leaves, through a parabola over ``dp``.
    Flow ``into`` the pipe keeps the dynamic head of the pipe (incompressible relation A / sqrt(1 - (A/A_pipe)^2)),
    up to the choked flow of the valve. ``choke`` and ``critical`` are those of the gas upstream (see
    ``kernels.lane_gas.choked``).
    """
    k = least(area / face, FULL)
    a = k * face
    p = pu - least(0.5 * dt * stiff_up * last, 0.5 * dp)
    d = greatest(dp - 0.5 * dt * stiff * last, LEFT * dp)
    near = d < NEAR * p
    per_p = 1.0 / p
    r = greatest(1.0 - d * per_p, critical)
    q = exp(log(r) / gu)
    per_d = 1.0 / greatest(d, 1e-9)
    per = a * a * p * p / RT
    square = per * where(near, 2.0 * per_p, 2.0 * gu / (gu - 1.0) * q * (q - r) * per_d)
    square = where(into, least(square / (1.0 - k * k), per * choke * per_d), square)
    sd = stiff * dt
    weight = lean(0.5 * sd * root(square * per_d))
    end = greatest(dp + drift, 0.0)
    dp = greatest(dp + (2.0 * weight - 1.0) * drift, 0.0)
    part = weight * sd
    return least(2.0 * dp / (part + root(part * part + 4.0 * dp / square)), end / sd)
