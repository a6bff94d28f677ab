"""The arrays of the lumped model: every row named, with unit and meaning.

``ns`` stores of well-stirred gas: the surroundings (0), the volumes, the junctions, then one per pipe. ``nl`` links:
the column of gas between a pipe's store and the store at one of its ends (a volume's, a junction's or another
pipe's); flow is positive *into the pipe*.
``nv`` valves, ``ni`` injectors, ``nc`` cylinders.
"""

from typing import NamedTuple

import numpy as np

from pullcast.kernels import layout as L
from pullcast.kernels.lanes import WIDTH, zeros

# rows of Lump.store: state, then what follows from it. Pressure and temperature are stagnation values.
(X_M, X_MF, X_MB, X_U, X_T, X_P, X_YF, X_YB, X_R, X_H, X_GAMMA, X_SPECIFIC, X_STIFF, X_CHOKE, X_CRITICAL, X_CF, X_CH,
 X_WALL, X_SPEED, X_P_SUM, X_COUNT) = range(21)
# kg, kg fuel, kg burned, J sensible, K, Pa, -, -, J/(kg K), J/kg sensible, -, m3/kg, gamma R T / V in Pa/kg,
# square of the choked flow function, critical pressure ratio, half f/D in 1/m, W/(m3 K), wall conductance W/K, m/s,
# Pa deg

# rows of Lump.rate, per second into each store
R_M, R_H, R_F, R_B, R_COUNT = range(5)

# rows of Lump.const
(K_VOLUME, K_H_WALL, K_T_WALL, K_DIAMETER, K_ROUGHNESS, K_LOSS, K_HEAT, K_FRICTION, K_AREA, K_PER_VOLUME,
 K_COUNT) = range(11)
# m3, W/K (volumes), K, m, m, 0, factor on Nusselt number, factor on friction, m2 volume over length,
# 1/m3

# rows of Lump.link_at (int) and Lump.link
N_PIPE, N_NODE, N_INLET, N_COUNT = range(4)
(L_INERTIA, L_AREA, L_IN, L_OUT, L_FRICTION, L_FRICTION_FAR, L_BENDS, L_ORIFICE, L_NARROWEST, L_COUNT) = range(10)
# 1/m (integral dx/A), m2 of the end, loss coefficients into and out of the pipe on its dynamic head, 1/m3 (integral
# of friction factor times D/D(x) dx/A2) of the pipe and of the one beyond if a pipe is, 1/m4 (half the integral of
# K/L dx/A2), m2 effective (0: none), m2

# rows of Batch.hold: what a sub-step needs of a link and what changes slowly
H_PER, H_IN, H_OUT, H_MOST_IN, H_MOST_OUT, H_COUNT = range(6)
# m s (time step over inertia), 1/m4 (half the losses over area^2, into and out of the pipe), m4 choked (the same,
# narrowest area times choked flow function, squared)

# rows of Lump.valve_at (int) and Lump.valve
V_PIPE, V_CYLINDER, V_ROW, V_INTAKE, V_COUNT = range(5)
W_FACE, W_FORWARD, W_REVERSE, W_MACH, W_FLOW, W_COUNT = range(6)
# m2, m2 now, m2 now, face Mach number into the cylinder, kg/s into the pipe in the last sub-step

# rows of Lump.injector_at (int; the link it sprays past and the store the fuel reaches) and Lump.injector
J_LINK, J_STORE, J_COUNT = range(3)
I_EVAPORATED, I_TEMPERATURE, I_COUNT = range(3)

HF = slice(3, 6)  # formation enthalpies in the packed gas table, J/kg

BLOCKS = 60  # parts of the cycle with a number of sub-steps of their own

# columns of Lump.gate: cylinders as their valves see them during a step
(G_P, G_T, G_YF, G_YB, G_H, G_R, G_GAMMA, G_PER_V, G_PUSH, G_SHARE, G_CP, G_CHOKE, G_CRITICAL, G_COUNT) = range(14)
# 1/m3; push: dp/dt by the piston, Pa/s; (gamma - 1)/gamma; gamma R/(gamma - 1); choked and critical as of a store


# rows of Batch.speed and Batch.fate
P_RPM, P_OCTANE, P_COUNT = range(3)
F_STATUS, F_WHERE, F_ANGLE, F_COUNT = range(4)  # kernels.layout status or IDLE, component index, deg
IDLE = -1.0


class Lump(NamedTuple):
    """One engine (or network without cylinders) at one speed, at its start."""

    gas: np.ndarray  # packed gas table, see kernels.packed
    store: np.ndarray  # (X_COUNT, ns)
    const: np.ndarray  # (K_COUNT, ns)
    first_pipe: int
    link_at: np.ndarray  # (N_COUNT, nl)
    link: np.ndarray  # (L_COUNT, nl)
    flow: np.ndarray  # (nl,) kg/s into the pipe
    plug: np.ndarray  # (nl,) kg of outside air in the mouth of a pipe, which leaves first when the flow turns
    valve_at: np.ndarray  # (V_COUNT, nv)
    valve: np.ndarray  # (W_COUNT, nv)
    injector_at: np.ndarray  # (J_COUNT, ni)
    injector: np.ndarray  # (I_COUNT, ni)
    phase: np.ndarray  # (nc,) deg
    geometry: np.ndarray  # and on: as kernels.layout.Cylinders
    room: np.ndarray  # (1441,) m3, cylinder volume at every half degree
    area_fwd: np.ndarray  # (2, 1441) intake, exhaust
    area_rev: np.ndarray
    closed: np.ndarray  # (nc, 2)
    burn: np.ndarray
    flame: np.ndarray
    walls: np.ndarray
    fuelling: np.ndarray
    state: np.ndarray  # (nc, S_COUNT)


class Batch(NamedTuple):
    """Points of one topology side by side: arrays of ``Lump`` with a last axis of lanes, and the march's own.

    The gas, the integer arrays and the crank phases are the same for all lanes.
    """

    gas: np.ndarray
    first_pipe: int
    link_at: np.ndarray
    valve_at: np.ndarray
    injector_at: np.ndarray
    phase: np.ndarray
    store: np.ndarray  # (X_COUNT, ns, lanes), and so on
    const: np.ndarray
    link: np.ndarray
    flow: np.ndarray
    plug: np.ndarray
    valve: np.ndarray
    injector: np.ndarray
    geometry: np.ndarray
    room: np.ndarray
    area_fwd: np.ndarray
    area_rev: np.ndarray
    closed: np.ndarray
    burn: np.ndarray
    walls: np.ndarray
    fuelling: np.ndarray
    state: np.ndarray
    flame: np.ndarray  # (lanes, columns)
    rate: np.ndarray  # (R_COUNT, ns, lanes)
    hold: np.ndarray  # (H_COUNT, nl, lanes)
    gate: np.ndarray  # (nc, G_COUNT, lanes)
    pace: np.ndarray  # (BLOCKS, lanes) sub-steps per crank step by part of the cycle: the most needed there so far
    acc: np.ndarray  # (nc, A_COUNT, lanes)
    out: np.ndarray  # (nc, C_COUNT, lanes)
    books: np.ndarray  # (B_COUNT, lanes)
    speed: np.ndarray  # (P_COUNT, lanes) rpm, octane number
    fate: np.ndarray  # (F_COUNT, lanes)
    taken: np.ndarray  # (1, lanes) sub-steps of the last cycle
    is_open: np.ndarray  # (nc + nv,) int, cylinders and valves open in some lane
    one_state: np.ndarray  # scratch for what is done lane by lane
    one_out: np.ndarray
    one_acc: np.ndarray
    one_books: np.ndarray
    one_geometry: np.ndarray
    one_burn: np.ndarray
    one_walls: np.ndarray
    one_row: np.ndarray  # (1, lanes)
    one_dt: np.ndarray


SHARED = ("gas", "link_at", "valve_at", "injector_at", "phase")
LANED = ("store", "const", "link", "flow", "plug", "valve", "injector", "geometry", "room", "area_fwd", "area_rev",
         "closed", "burn", "walls", "fuelling", "state")


def empty_batch(like: Lump) -> Batch:
    """Room for points of the topology of ``like``, every lane idle but filled with it."""
    n = like.state.shape[0]
    counts = {"rate": (R_COUNT, like.store.shape[1]), "hold": (H_COUNT, like.link.shape[1]),
              "gate": (n, G_COUNT), "pace": (BLOCKS,),
              "acc": (n, L.A_COUNT), "out": (n, L.C_COUNT), "books": (L.B_COUNT,), "speed": (P_COUNT,),
              "fate": (F_COUNT,), "taken": (1,), "one_row": (1,), "one_dt": (1,)}
    made = Batch(
        **{name: getattr(like, name) for name in SHARED}, first_pipe=like.first_pipe,
        **{name: zeros(*getattr(like, name).shape) for name in LANED}, **{k: zeros(*v) for k, v in counts.items()},
        flame=np.zeros((WIDTH, len(like.flame))), is_open=np.zeros(n + like.valve_at.shape[1], dtype=np.int64),
        one_state=np.zeros(L.S_COUNT), one_out=np.zeros(L.C_COUNT), one_acc=np.zeros(L.A_COUNT),
        one_books=np.zeros(L.B_COUNT), one_geometry=np.zeros(len(like.geometry)), one_burn=np.zeros(len(like.burn)),
        one_walls=np.zeros(len(like.walls)),
    )
    for lane in range(WIDTH):
        seat(made, lane, like, 1000.0, 95.0)
    made.fate[F_STATUS] = IDLE
    return made


def seat(batch: Batch, lane: int, lump: Lump, rpm: float, octane: float) -> None:
    """Put a point at its start into a lane."""
    for name in LANED:
        getattr(batch, name)[..., lane] = getattr(lump, name)
    batch.flame[lane] = lump.flame
    for rows in (batch.rate, batch.gate, batch.acc, batch.out, batch.books, batch.fate):
        rows[..., lane] = 0.0
    batch.pace[:, lane] = 1.0
    batch.speed[:, lane] = rpm, octane


def alike(a: Lump, b: Lump) -> bool:
    """Whether two points can march side by side."""
    if a is b:
        return True
    same = all(np.array_equal(getattr(a, name), getattr(b, name)) for name in SHARED)
    shapes = all(getattr(a, name).shape == getattr(b, name).shape for name in (*LANED, "flame"))
    return same and shapes and a.first_pipe == b.first_pipe and a.walls[3] == b.walls[3] and a.burn[8] == b.burn[8]
