"""The arrays of the lumped model: every row named, with unit and meaning.

``ns`` stores of well-stirred gas: the surroundings (0), the volumes, the junctions, then one per pipe. ``nl`` links:
the column of gas between a pipe's store and the store at one of its ends (a volume's, a junction's or another
pipe's); flow is positive *into the pipe*.
``nv`` valves, ``ni`` injectors, ``nc`` cylinders.
"""

from typing import NamedTuple

import numpy as np

# rows of Lump.store: state, then what follows from it. Pressure and temperature are stagnation values.
(X_M, X_MF, X_MB, X_U, X_T, X_P, X_YF, X_YB, X_R, X_H, X_GAMMA, X_RHO, X_STIFF, X_CHOKE, X_CF, X_CH, X_WALL, X_SPEED,
 X_P_SUM, X_COUNT) = range(20)
# kg, kg fuel, kg burned, J sensible, K, Pa, -, -, J/(kg K), J/kg sensible, -, kg/m3, gamma R T / V in Pa/kg,
# choked flow function, half f/D in 1/m, W/(m3 K), wall conductance W/K, m/s, Pa deg

# rows of Lump.rate, per second into each store
R_M, R_H, R_F, R_B, R_COUNT = range(5)

# rows of Lump.const
(K_VOLUME, K_H_WALL, K_T_WALL, K_DIAMETER, K_ROUGHNESS, K_LOSS, K_HEAT, K_FRICTION, K_AREA, K_COUNT) = range(10)
# m3, W/K (volumes), K, m, m, 0, factor on Nusselt number, factor on friction, m2 volume over length

# rows of Lump.link_at (int) and Lump.link
N_PIPE, N_NODE, N_INLET, N_COUNT = range(4)
(L_INERTIA, L_AREA, L_IN, L_OUT, L_FRICTION, L_FRICTION_FAR, L_BENDS, L_ORIFICE, L_NARROWEST, L_COUNT) = range(10)
# 1/m (integral dx/A), m2 of the end, loss coefficients into and out of the pipe on its dynamic head, 1/m3 (integral
# of friction factor times D/D(x) dx/A2) of the pipe and of the one beyond if a pipe is, 1/m4 (half the integral of
# K/L dx/A2), m2 effective (0: none), m2

# rows of Lump.valve_at (int) and Lump.valve
V_PIPE, V_CYLINDER, V_ROW, V_INTAKE, V_COUNT = range(5)
W_FACE, W_FORWARD, W_REVERSE, W_MACH, W_FLOW, W_COUNT = range(6)
# m2, m2 now, m2 now, face Mach number into the cylinder, kg/s into the pipe in the last sub-step

# rows of Lump.injector_at (int; the link it sprays past and the store the fuel reaches) and Lump.injector
J_LINK, J_STORE, J_COUNT = range(3)
I_EVAPORATED, I_TEMPERATURE, I_COUNT = range(3)

BLOCKS = 60  # parts of the cycle with a number of sub-steps of their own

# columns of Lump.gate: cylinders as their valves see them during a step
(G_P, G_T, G_YF, G_YB, G_H, G_R, G_GAMMA, G_V, G_PUSH, G_COUNT) = range(10)  # push: dp/dt by the piston, Pa/s


class Lump(NamedTuple):
    """One engine (or network without cylinders) at one speed."""

    gas: np.ndarray  # packed gas table, see kernels.packed
    store: np.ndarray  # (X_COUNT, ns)
    rate: np.ndarray  # (R_COUNT, ns)
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
    gate: np.ndarray  # (nc, G_COUNT)
    pace: np.ndarray  # (BLOCKS,) int, sub-steps per crank step by part of the cycle: the most needed there so far
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
    acc: np.ndarray  # (nc, A_COUNT)
    out: np.ndarray  # (nc, C_COUNT)
    books: np.ndarray  # (B_COUNT,)
