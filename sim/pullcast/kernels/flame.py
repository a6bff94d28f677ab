"""Predictive burn: a flame that entrains unburned gas by turbulence and burns it through in eddies.

Entrainment and burn-up in the form of Blizard & Keck 1974 (SAE 740191) and Tabaczynski, Ferguson & Radhakrishnan 1977
(SAE 770647), with the laminar part of Beretta, Rashidi & Keck 1983 (Combust. Flame 52:217); Heywood 1988, eqs. 14.33
and 14.34 (all from memory):

    dm_e/dt = rho_u A_f (S_L + U_t)                         entrained
    dm_b/dt = rho_u A_f S_L + (m_e - m_b)/tau               burned
    tau = lambda/S_L,  lambda = (15 nu u'^2/eps)^0.5        Taylor microscale, isotropic turbulence

The front is carried by the turbulent speed of Zimont 1979 (constant 0.52 and length L = 0.37 u'^3/eps as in Zimont
2000, Exp. Therm. Fluid Sci. 21:179; from memory); u' itself, as in the first entrainment models, is about half of it
at engine turbulence:

    U_t = 0.52 u' (S_L^2 L/(u' chi))^(1/4),  chi = nu/0.7 the unburned gas's thermal diffusivity

No slower growth of the kernel is laid on top: the burn-up lag tau delays it already.

Turbulence by two equations without space: the energy per mass of the mean flow (F, J/kg) and of turbulence (k), in
the form of Mansouri, Heywood & Radhakrishnan 1982 (SAE 820453) and Poulos & Heywood 1983 (SAE 830334), both from
memory:

    dF/dt = (m_in/m)(0.1 v_jet^2/2 - F) - P + (2/3) F dln(rho)/dt
    dk/dt = P + P_s - eps - (m_in/m) k + (2/3) k dln(rho)/dt
    P = 0.3307 C F k^(1/2)/H,  C = 1.5,  eps = u'^3/L,  L = 0.2 H

H is the room the mean flow has, V/(bore area) but no more than half the bore, until the flame; from then on it
follows the unburned gas's density. L is the integral length, a fifth of the clearance height as measured about top
dead centre (Fraser & Bracco 1988, SAE 880381; from memory). The density terms keep the angular momentum of eddies in
fast compression (Wong & Hoult 1979, SAE 790357: u' ~ rho^(1/3), length ~ rho^(-1/3)). P_s is the power of the squish
and of the tumble's shear. A tenth of the jet's energy becomes flow of the cylinder's size; the jet's own small eddies
dissipate the rest: the mean flow is then two to three times the mean piston speed when the valves close (six with all
of it; velocimetry of engines without swirl or tumble shows one to two, from memory). Little hangs on that share once
the factor on the front's speed is found anew. u' at top dead centre is 0.7 to 0.9 of the mean piston speed; engines
without swirl or tumble were measured at about 0.5 (Heywood 1988, sec. 8.2.2; from memory).

(A jet whose whole energy is at once turbulence of the jet's own length dissipates the faster the later in the stroke
it comes: that lengthened the burn unduly where cylinders still fill long after bottom centre.)

Tumble is one vortex that fills bore and height h, psi = a sin(pi x/B) sin(pi z/h): its energy is
K = a^2 (pi^2/8)(1/h^2 + 1/B^2), its angular momentum (8/pi^2) a per mass, which compression keeps, so that K rises as
the piston does. Shear by the eddy viscosity nu_t = 0.09 k^2/eps (Launder & Spalding 1974) turns K into k at the rate
nu_t 2 K pi^2 (1/h^2 + 1/B^2): exact for that vortex, no constant of its own. (Reduced tumble
models of this kind: Benjamin 1993, Proc. IMechE C 207; from memory.) Entering gas brings the angular momentum
C v_jet B/8, C being the tumble coefficient of a steady bench (Heywood 1988, eq. 8.28 for swirl, from memory). Swirl
is not stored.

``flame`` holds after its eight laminar columns: 8 squish area (m2), 9 squish clearance at top dead centre (m), 10
length of the squish edge (m), 11 radius of the spark kernel (m), 12 stroke (m), 13 and 14 numbers of rows and columns
of the table of front areas, 15 tumble coefficient, 16 on the table itself: A/V_e^(2/3), rows over (piston
travel/stroke)^0.5 from 0 to 1, columns over (V_e/V)^(1/3) from 0 to 1; V_e is the volume behind the front.
``burn``: 8 law (0 Wiebe, 1 flame), 9 factor on U_t.
"""

import math

from pullcast.kernels import layout as L
from pullcast.kernels.burn import laminar_speed
from pullcast.kernels.crank import piston_height, volume
from pullcast.kernels.jit import kernel
from pullcast.kernels.packed import P_R, packed_R

LAW, FACTOR = 8, 9  # columns of ``burn``
SQUISH, GAP, EDGE, SPARK_R, STROKE, ROWS, COLUMNS, TUMBLE, TABLE = 8, 9, 10, 11, 12, 13, 14, 15, 16
C_MU = 0.09
CASCADE = 0.3307 * 1.5
INTEGRAL = 0.2  # integral length over the room's
SHARE = 0.1  # of the jet's energy that becomes flow of the cylinder's size
GAMMA = 1.33  # of unburned charge, for density from pressure in the turbulence alone
LEAST_K = 1e-3
ZIMONT, LENGTH, PRANDTL = 0.52, 0.37, 0.7
FRONT_STEPS = 4  # of the front within one cylinder step
EXPANSION = 3.8  # density ratio across the front, until the burned zone is born (0.2 % burned)


@kernel
def viscosity(T, rho):
    """Kinematic viscosity, m2/s: 3.3e-7 T^0.7 Pa s over density (Heywood 1988, eq. 4.52, from memory)."""
    return 3.3e-7 * T ** 0.7 / rho


@kernel
def squish(flame, g, theta, dtheta, dt):
    """Power per mass (W/kg) of gas pushed out of, or drawn into, the squish gap during a step."""
    if flame[SQUISH] <= 0.0:
        return 0.0
    h0, h1 = piston_height(g, theta), piston_height(g, theta + dtheta)
    V0, V1 = volume(g, theta), volume(g, theta + dtheta)
    before = flame[SQUISH] * (h0 + flame[GAP]) / V0
    after = flame[SQUISH] * (h1 + flame[GAP]) / V1
    rate = abs(before - after) / dt  # share of the charge per second
    speed = rate * 0.5 * (V0 + V1) / (flame[EDGE] * (0.5 * (h0 + h1) + flame[GAP]))
    return 0.5 * rate * speed * speed


@kernel
def sheared(s, g, theta, k, e, dt):
    """Energy (J/kg) that shear takes from the tumble in a step; the vortex slows by it."""
    if s[L.S_TUMBLE] <= 0.0:
        return 0.0
    h = volume(g, theta) / (0.25 * math.pi * g[0] * g[0])
    curve = math.pi ** 2 * (1.0 / (h * h) + 1.0 / (g[0] * g[0]))
    energy = 0.125 * s[L.S_TUMBLE] ** 2 * curve
    kept = math.exp(-2.0 * C_MU * k * k / e * curve * dt)
    s[L.S_TUMBLE] *= math.sqrt(kept)
    return energy * (1.0 - kept)


@kernel
def turbulent_speed(u, e, s_l, nu):
    """Speed of a turbulent front, m/s; ``u`` fluctuation (m/s), ``e`` its dissipation (W/kg), ``nu`` m2/s."""
    return ZIMONT * u * (s_l * s_l * LENGTH * u * u / e * PRANDTL / nu) ** 0.25


@kernel
def flow_size(g, s, p0, theta):
    """Size of the mean flow, m, after a step from pressure ``p0``: what room there is; in burning gas that of the
    step before by density."""
    if s[L.S_MODE] == 1.0 and s[L.S_SIZE] > 0.0:
        return s[L.S_SIZE] * (p0 / s[L.S_P]) ** (1.0 / (3.0 * GAMMA))
    return min(volume(g, theta) / (0.25 * math.pi * g[0] * g[0]), 0.5 * g[0])


@kernel
def stir(flame, g, s, acc, p0, theta, dtheta, dt):
    """Advance mean flow and turbulence over a step in which pressure went from ``p0`` to that of the state."""
    k = max(s[L.S_K], LEAST_K)
    if acc[L.A_INTAKE] > 0.0 and acc[L.A_JET] > 0.0:
        share = min(acc[L.A_INTAKE] * dt / s[L.S_M], 1.0)
        jet = acc[L.A_JET] / acc[L.A_INTAKE]
        k -= share * k
        s[L.S_FLOW] += share * (SHARE * jet - s[L.S_FLOW])
        brought = 0.125 * flame[TUMBLE] * math.sqrt(2.0 * jet) * g[0]
        s[L.S_TUMBLE] += share * (0.125 * math.pi ** 2 * brought - s[L.S_TUMBLE])
    denser = (s[L.S_P] / p0) ** (2.0 / (3.0 * GAMMA))
    k *= denser
    size = flow_size(g, s, p0, theta + dtheta)
    s[L.S_SIZE] = size
    kept = s[L.S_FLOW] * denser * math.exp(-CASCADE * math.sqrt(k) / size * dt)
    made = squish(flame, g, theta, dtheta, dt) * dt + s[L.S_FLOW] * denser - kept
    made += sheared(s, g, theta + dtheta, k, (2.0 / 3.0 * k) ** 1.5 / (INTEGRAL * size), dt)
    s[L.S_FLOW] = kept
    k += made
    root = math.sqrt(2.0 / 3.0 * k)
    s[L.S_K] = 1.5 * (root / (1.0 + root * dt / (3.0 * INTEGRAL * size))) ** 2  # exact for free decay at fixed size


@kernel
def front_area(flame, g, theta, V, behind):
    """Area (m2) of the front that encloses the volume ``behind`` (m3) at crank angle ``theta``."""
    rows, columns = int(flame[ROWS]), int(flame[COLUMNS])
    x = math.sqrt(min(max(piston_height(g, theta) / flame[STROKE], 0.0), 1.0)) * (rows - 1)
    y = min(max(behind / V, 0.0), 1.0) ** (1.0 / 3.0) * (columns - 1)
    i = min(int(x), rows - 2)
    j = min(int(y), columns - 2)
    fx = x - i
    fy = y - j
    a = TABLE + i * columns + j
    b = a + columns
    low = (1.0 - fy) * flame[a] + fy * flame[a + 1]
    high = (1.0 - fy) * flame[b] + fy * flame[b + 1]
    return ((1.0 - fx) * low + fx * high) * max(behind, 0.0) ** (2.0 / 3.0)


@kernel
def front_step(gas, g, burn, flame, s, out, theta, dtheta, dt):
    """Advance the flame front over a step; returns the mass fraction burned at its end."""
    m = s[L.S_M]
    lit = s[L.S_MODE] == 1.0
    yf = s[L.S_YF0] if lit else s[L.S_FUEL] / m
    yb = s[L.S_YB0] if lit else s[L.S_BURNED] / m
    Tu = s[L.S_TU] if lit else s[L.S_T]
    R = packed_R(gas, yf, yb)
    rho = s[L.S_P] / (R * Tu)
    s_l = laminar_speed(flame, Tu, s[L.S_P], yb * gas[P_R + 2] / R)
    u2 = 2.0 / 3.0 * max(s[L.S_K], LEAST_K)
    e, nu = u2 ** 1.5 / (INTEGRAL * flow_size(g, s, s[L.S_P], theta)), viscosity(Tu, rho)
    tau = math.sqrt(15.0 * nu * u2 / e) / s_l
    h = dt
    if s[L.S_AGE] == 0.0:
        h *= min(max((theta + dtheta - s[L.S_START]) / dtheta, 1e-3), 1.0)
        s[L.S_BURNT] = 4.0 / 3.0 * math.pi * flame[SPARK_R] ** 3 * rho / (EXPANSION * m)
        s[L.S_ENTRAINED] = s[L.S_BURNT]
    h /= FRONT_STEPS
    V = volume(g, theta)
    u = burn[FACTOR] * turbulent_speed(math.sqrt(u2), e, s_l, nu)
    s[L.S_AGE] += h * FRONT_STEPS
    me, mb, before = s[L.S_ENTRAINED], s[L.S_BURNT], s[L.S_BURNT]
    for _ in range(FRONT_STEPS):
        behind = V - (1.0 - me) * m / rho if lit else (me + (EXPANSION - 1.0) * mb) * m / rho
        swept = rho * front_area(flame, g, theta, V, behind) / m
        me = min(me + h * swept * (s_l + u), 1.0)
        mb = min((mb + h * (swept * s_l + me / tau)) / (1.0 + h / tau), me)
    s[L.S_ENTRAINED], s[L.S_BURNT] = me, mb
    note_burned(s, out, before, mb, theta, dtheta)
    return mb


@kernel
def note_burned(s, out, before, after, theta, dtheta):
    """Note the angles at which 10, 50 and 90 % are burned."""
    for level in (0.1, 0.5, 0.9):
        if before < level <= after:
            at = theta + dtheta * (level - before) / (after - before)
            if level == 0.1:
                s[L.S_CA10] = at
            elif level == 0.5:
                s[L.S_CA50] = at - 360.0
                out[L.C_CA50] = at - 360.0
            else:
                out[L.C_DURATION] = at - s[L.S_CA10]


@kernel
def light(burn, s, out, start, theta):
    """Spark of a flame, deg: as stated, or last cycle's moved by what its CA50 missed. Sets the front to nothing.

    A CA50 that this cycle has noted already is kept: cylinders that fire about the turn of the cycle light the next
    burn before the results of the last are read.
    """
    spark = 360.0 - start
    if burn[0] < 0.5 and s[L.S_LEAD] > 0.0:
        spark = min(max(s[L.S_LEAD] + s[L.S_CA50] - burn[1], -20.0), 59.0)
    s[L.S_START] = max(360.0 - spark, theta)
    s[L.S_LEAD] = 360.0 - s[L.S_START]
    s[L.S_AGE] = 0.0
    s[L.S_ENTRAINED] = 0.0
    s[L.S_BURNT] = 0.0
    out[L.C_SPARK] = s[L.S_LEAD]
    if out[L.C_CA50] == 0.0:
        out[L.C_CA50] = math.nan
        out[L.C_DURATION] = math.nan
