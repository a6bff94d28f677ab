"""A valve on the bench: effective over pipe area 0.3, 0.6, 0.9, both directions (orifice of Heywood 1988, app. C)."""

import numpy as np
from scipy.optimize import brentq
from validation.exact.rig import GAMMA, End, R, Rig, Volume, pipe
from validation.harness import Check, at_most, relative
from validation.reference import steady as s

from pullcast.kernels import layout as L
from pullcast.network.arrays import no_cylinders

SOURCE = "orifice of Heywood 1988 app. C and isentropic pipe, solved together"
P0, T0, A, LENGTH = 101325.0, 293.15, 1.2e-3, 0.3


def drawn(share: float, ratio: float) -> float:
    """Flow (kg/s) from the surroundings through the pipe and the orifice into a volume at ``ratio``.

    The pipe's total state is the surroundings'; the throat's static pressure is the volume's.
    """
    return s.orifice_flux(P0, T0, ratio * P0) * share * A


def blown(share: float, ratio: float) -> float:
    """Flow (kg/s) from a volume at P0 through the orifice into a pipe that ends at ``ratio`` P0.

    The throat's static pressure is the pipe's; the jet fills the pipe at that pressure with its energy kept. Choked
    by the pipe (Mach 1 at its end) if the flow asks for more.
    """
    def flux(p: float) -> float:
        return share * s.orifice_flux(P0, T0, p)

    def mach(p: float) -> float:  # of that flux in the pipe at static pressure p, with total temperature T0
        g = flux(p) * np.sqrt(R * T0 / GAMMA) / p
        return np.sqrt((np.sqrt(1 + 0.8 * g**2) - 1) / 0.4)

    p = ratio * P0
    if mach(p) > 1:
        p = brentq(lambda q: mach(q) - 1, p, P0)
    return flux(p) * A


def solved(share: float, ratio: float, into_pipe: bool) -> tuple[float, float]:
    """Mean flow (kg/s) at the orifice and its flutter over the mean, at an engine's cells and courant number."""
    orifice = End("box", area=share * A)
    rig = Rig(pipe("p", LENGTH, A, orifice, "ambient"), cell=0.015, volumes=(Volume("box", 1e9),))
    if into_pipe:  # the surroundings are the low side
        rig.fill_volume(1, P0 / ratio, T0)
    else:
        rig.fill_volume(1, ratio * P0, T0)
    rig.march(0.15)
    flow = []
    for _ in range(50):
        rig.march(2e-4)
        flow.append(rig.end_flow("p", True))
    scale = ratio if into_pipe else 1.0  # flows scale with the upstream pressure
    return abs(float(np.mean(flow))) * scale, float(np.std(flow) / abs(np.mean(flow)))


def valve(share: float, into_pipe: bool, p_high: float, p_low: float) -> float:
    """Steady flow (kg/s) of a poppet valve between the pipe and a cylinder held at its state.

    The pipe ends in the surroundings at P0; the cylinder is at ``p_high`` (flow into the pipe) or ``p_low``.
    """
    area = np.full((2, 1441), share * A)
    state, p = np.zeros((1, L.S_COUNT)), p_high if into_pipe else p_low
    state[0, [L.S_M, L.S_P, L.S_T, L.S_TU]] = p * 1e3 / (R * T0), p, T0, T0
    cylinder = no_cylinders()._replace(
        phase=np.zeros(1), area_fwd=area, area_rev=area.copy(), intake_row=np.zeros(1, dtype=np.int64),
        exhaust_row=np.ones(1, dtype=np.int64), closed=np.zeros((1, 2)), state=state, acc=np.zeros((1, L.A_COUNT)),
        out=np.zeros((1, L.C_COUNT)),
    )
    rig = Rig(pipe("p", LENGTH, A, "exhaust valve 1" if into_pipe else "intake valve 1", "ambient"), cell=0.015,
              cylinders=cylinder)
    rig.march(0.2)
    return abs(rig.end_flow("p", True))


def valves() -> list[Check]:
    """The same through the solver's valve, which meets a cylinder instead of a volume."""
    rows = []
    for share in (0.3, 0.6, 0.9):
        out = valve(share, False, P0, 0.7 * P0)
        rows.append(relative(f"valve of {share:g} pipe areas, ratio 0.7, pipe to cylinder: mass flow", SOURCE,
                             drawn(share, 0.7), out, 0.001, "kg/s"))
        into = valve(share, True, P0 / 0.7, P0)
        rows.append(relative(f"valve of {share:g} pipe areas, ratio 0.7, cylinder to pipe: mass flow", SOURCE,
                             blown(share, 0.7) / 0.7, into, 0.001, "kg/s"))
    return rows


def checks() -> list[Check]:
    rows = valves()
    for share in (0.3, 0.6, 0.9):
        for ratio in (0.931, 0.7, 0.4):
            for into, exact in ((False, drawn), (True, blown)):
                got, flutter = solved(share, ratio, into)
                way = "into the pipe" if into else "out of the pipe"
                name = f"orifice of {share:g} pipe areas, pressure ratio {ratio:g}, {way}"
                rows.append(relative(f"{name}: mass flow", SOURCE, exact(share, ratio), got, 0.001, "kg/s"))
                rows.append(at_most(f"{name}: flutter", SOURCE, 1e-4, flutter))
    return rows
