"""The arrays the march works on: every column named, with shape, unit and meaning.

Flat structure-of-arrays over all cells of all pipes; each pipe has one ghost
cell at either end (``num_ghost = 1``). Face ``i`` lies between cells ``i-1`` and ``i``.
``n``: cells with ghosts, ``ne``: pipe ends, ``nn``: nodes (volumes, node 0 is
the surroundings), ``nj``: junctions, ``nc``: cylinders, ``nv``: valve rows.
"""

from typing import NamedTuple

import numpy as np

# kinds of pipe end
CLOSED, OPEN, ORIFICE, VALVE, JUNCTION, JUNCTION_ORIFICE = 0, 1, 2, 3, 4, 5

# status codes (0: fine); solve/ turns them into a named error
OK, BAD_CELL, BAD_NODE, BAD_JUNCTION, BAD_CYLINDER, STUCK = 0, 1, 2, 3, 4, 5

# columns of the books of one cycle (totals; kg, J; energies include formation enthalpy)
(B_MASS_IN, B_MASS_OUT, B_FUEL, B_H_IN, B_H_OUT, B_H_FUEL, B_Q_DUCT, B_Q_NODE, B_Q_CYL, B_WORK, B_AIR_IN,
 B_COUNT) = range(12)

# columns of the per-cylinder results of one cycle
(C_WORK_GROSS, C_WORK_PUMP, C_HEAT, C_TRAPPED, C_RESIDUAL, C_P_MAX, C_KNOCK, C_CA50, C_SPARK, C_DURATION, C_AIR,
 C_FUEL, C_MACH_MAX, C_MACH_SUM, C_MACH_ANGLE, C_BACKFLOW, C_T_MAX, C_BURNED_MASS, C_EVO_T, C_SHORT,
 C_EX_MASS, C_EX_TSUM, C_SHUT_AT, C_SHUT_M, C_SHUT_FUEL, C_SHUT_BURNED, C_SHUT_U, C_SHUT_T, C_SHUT_K, C_SHUT_FLOW,
 C_SHUT_TUMBLE, C_WORK_OPEN, C_COUNT) = range(33)
# C_SHUT_: the charge when the valves had just shut, at angle C_SHUT_AT; C_WORK_OPEN: work from exhaust opening to 540

# columns of the cylinder state
(S_M, S_FUEL, S_BURNED, S_U, S_P, S_T, S_MODE, S_X, S_TU, S_YF0, S_YB0, S_START, S_WIDTH, S_FORM, S_TB, S_PREPARED,
 S_DPDT, S_KNOCK, S_K, S_FLOW, S_TUMBLE, S_AGE, S_ENTRAINED, S_BURNT, S_CA10, S_CA50, S_LEAD, S_SHUT_P, S_SHUT_V,
 S_SHUT_T, S_LIT_P, S_CREVICE, S_SIZE, S_COUNT) = range(34)

# columns of the cylinder accumulators: flows per second into the cylinder during a step
A_MASS, A_H, A_FUEL, A_BURNED, A_INTAKE, A_EXHAUST, A_P_INTAKE, A_P_EXHAUST, A_JET, A_COUNT = range(10)

# columns of the table of what is outside the pipe ends
(O_P, O_T, O_YF, O_YB, O_H, O_R, O_GAMMA, O_UX, O_UY, O_RATE, O_INFLOW, O_STIFF, O_IN, O_IN_H, O_IN_F, O_IN_B,
 O_COUNT) = range(17)

# columns of the trace, per cylinder
(T_P, T_T, T_INTAKE_FLOW, T_EXHAUST_FLOW, T_INTAKE_P, T_EXHAUST_P, T_TU, T_X, T_COUNT) = range(9)


class Ducts(NamedTuple):
    """Geometry and walls of all pipes, constant during a run."""

    first: np.ndarray  # (pipes,) int, first real cell
    last: np.ndarray  # (pipes,) int, last real cell
    dx: np.ndarray  # (n,) m
    vol: np.ndarray  # (n,) m3 (ghosts: 1)
    face: np.ndarray  # (n+1,) m2, face area
    slope: np.ndarray  # (n,) 1/m, d(ln A)/dx
    diameter: np.ndarray  # (n,) m, hydraulic
    roughness: np.ndarray  # (n,) m
    loss: np.ndarray  # (n,) 1/m, loss coefficient of bends per length
    wall: np.ndarray  # (n,) K
    heat_factor: np.ndarray  # (n,) on the smooth-pipe Nusselt number
    friction: np.ndarray  # (n,) on the Darcy friction factor
    real: np.ndarray  # (n,) 1.0 for real cells, 0.0 for ghosts


class Flow(NamedTuple):
    """State of the gas in the pipes and what a step computes from it; all (n,) unless said."""

    rho: np.ndarray  # kg/m3
    mom: np.ndarray  # kg/(m2 s)
    ene: np.ndarray  # J/m3, sensible + kinetic: the conserved books
    rf: np.ndarray  # kg/m3 of fuel vapour
    rb: np.ndarray  # kg/m3 of burned gas
    p: np.ndarray  # Pa, marched with frozen gamma and relaxed to the books
    u: np.ndarray  # m/s
    yf: np.ndarray  # -
    yb: np.ndarray  # -
    gamma: np.ndarray  # -
    e0: np.ndarray  # J/kg, energy offset that goes with gamma
    a: np.ndarray  # m/s
    T: np.ndarray  # K
    eint: np.ndarray  # J/m3, rho e(T) + kinetic, of the marched pressure
    cf: np.ndarray  # 1/m, half (f/D + K/L)
    ch: np.ndarray  # W/(m3 K), heat transfer per gas volume
    left: np.ndarray  # (5, n) half-step rho, u, p, yf, yb at the lower face of each cell
    right: np.ndarray  # (5, n) the same at its upper face
    p_half: np.ndarray  # Pa, half-step cell pressure
    flux: np.ndarray  # (5, n+1) mass, momentum, energy, fuel, burned through each face, per area
    flux_lo: np.ndarray  # (n+1,) energy flux with the gamma of the cell below the face
    flux_hi: np.ndarray  # (n+1,) energy flux with the gamma of the cell above the face


class Ends(NamedTuple):
    """Pipe ends and what they open into; all (ne,)."""

    kind: np.ndarray  # int, see above
    cell: np.ndarray  # int, adjacent real cell
    ghost: np.ndarray  # int
    face: np.ndarray  # int
    sign: np.ndarray  # +1 at the start of a pipe, -1 at its end: sign*u > 0 flows into the pipe
    node: np.ndarray  # int, volume, junction or cylinder
    row: np.ndarray  # int, its row in ``Model.outside``: volumes, then junctions, then cylinders
    lone: np.ndarray  # int, 1 where the pipe has one cell only: no slopes there
    inlet: np.ndarray  # int, 1 where an intake meets the surroundings: air counted for volumetric efficiency
    valve: np.ndarray  # int, row of the valve tables (kind VALVE)
    area: np.ndarray  # m2 of the end face
    loss_in: np.ndarray  # -
    loss_out: np.ndarray  # -
    orifice: np.ndarray  # m2 effective area (kinds ORIFICE, JUNCTION_ORIFICE)
    free: np.ndarray  # int, 1 where an orifice or valve does not choke (a thought experiment)
    nx: np.ndarray  # direction in which the pipe leaves a junction
    ny: np.ndarray
    p_face: np.ndarray  # Pa, last face pressure: start of the next root search (state)
    w_drawn: np.ndarray  # m/s, at which the pipe draws from a junction; lags by its residence time (state)
    beside: np.ndarray  # int, the next end at the same junction, round and round; itself where there is none
    merge: np.ndarray  # -, share of the mixing loss of a pipe that draws faster than the jets carry towards it
    ahead: np.ndarray  # -, how far some other pipe of the junction looks straight into this one
    spare: np.ndarray  # m/s, what the other pipes draw from the junction, through this mouth, times ``ahead`` (state)
    push: np.ndarray  # N, of the jet that this pipe sends into a junction (of the last step)
    along: np.ndarray  # m/s, speed at which the jets of a junction carry its gas towards this pipe (state)
    flow: np.ndarray  # (6, ne) last mass, energy, fuel, burned, momentum flow into the pipe; Mach number (state)


class Injectors(NamedTuple):
    """Faces at which fuel joins passing air that has none yet; all (ni,)."""

    face: np.ndarray  # int
    sign: np.ndarray  # +1 if +x is downstream (towards the valve)
    evaporated: np.ndarray  # share that evaporates there by the heat of the charge
    temperature: np.ndarray  # K, of the liquid


class Nodes(NamedTuple):
    """Well-stirred volumes; node 0 is the surroundings and does not change. All (nn,)."""

    volume: np.ndarray  # m3
    h_wall: np.ndarray  # W/K
    t_wall: np.ndarray  # K
    m: np.ndarray  # kg (state)
    mf: np.ndarray  # kg
    mb: np.ndarray  # kg
    U: np.ndarray  # J sensible internal energy
    p: np.ndarray  # Pa
    T: np.ndarray  # K
    p_sum: np.ndarray  # Pa deg, over the cycle
    acc: np.ndarray  # (4, nn) mass, energy, fuel, burned flow in during the step, per second


class Junctions(NamedTuple):
    """Meetings of pipes: small volumes with one static pressure and the momentum the jets bring; all (nj,)."""

    volume: np.ndarray  # m3
    m: np.ndarray  # kg (state)
    mf: np.ndarray  # kg
    mb: np.ndarray  # kg
    px: np.ndarray  # kg m/s
    py: np.ndarray  # kg m/s
    E: np.ndarray  # J sensible + kinetic
    p: np.ndarray  # Pa, static
    T: np.ndarray  # K, static
    p_sum: np.ndarray  # Pa deg, over the cycle
    acc: np.ndarray  # (7, nj) mass, energy, fuel, burned, x-, y-momentum flow in, mass flow out, per second


class Cylinders(NamedTuple):
    """Cylinders and their valves."""

    geometry: np.ndarray  # (6,) bore, stroke, rod, pin offset, clearance volume (m, m3), head area factor
    phase: np.ndarray  # (nc,) deg behind the first cylinder
    area_fwd: np.ndarray  # (nv, 1441) m2 effective, every half degree of local angle, in the valve's proper direction
    area_rev: np.ndarray  # (nv, 1441)
    intake_row: np.ndarray  # (nc,) int
    exhaust_row: np.ndarray  # (nc,) int
    closed: np.ndarray  # (nc, 2) deg, local: last valve closing before firing, first opening after it
    burn: np.ndarray  # (14,) see kernels.burn
    flame: np.ndarray  # (8,) laminar speed coefficients, see kernels.burn; with a flame more, see kernels.flame
    walls: np.ndarray  # (5,) piston, head, liner K; model; factor
    fuelling: np.ndarray  # (2,) share evaporated by charge heat in the cylinder, liquid K
    state: np.ndarray  # (nc, S_COUNT)
    acc: np.ndarray  # (nc, A_COUNT)
    out: np.ndarray  # (nc, C_COUNT)


class Model(NamedTuple):
    """Everything one march needs."""

    gas: tuple
    ducts: Ducts
    flow: Flow
    ends: Ends
    injectors: Injectors
    nodes: Nodes
    junctions: Junctions
    cylinders: Cylinders
    outside: np.ndarray  # (nn + nj + nc, O_COUNT) scratch of kernels.ends
    books: np.ndarray  # (B_COUNT,)
