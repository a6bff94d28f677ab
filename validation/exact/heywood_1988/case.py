"""A valve on the bench: effective over pipe area 0.3, 0.6, 0.9, both directions (orifice of Heywood 1988, app. C)."""

import numpy as np
from scipy.optimize import brentq
from validation.exact.rig import GAMMA, End, R, Rig, Volume, pipe
from validation.harness import Check, at_most, relative
from validation.reference import steady as s

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


def checks() -> list[Check]:
    rows = []
    for share in (0.3, 0.6, 0.9):
        for ratio in (0.931, 0.7, 0.4):
            for into, exact in ((False, drawn), (True, blown)):
                got, flutter = solved(share, ratio, into)
                way = "into the pipe" if into else "out of the pipe"
                name = f"orifice of {share:g} pipe areas, pressure ratio {ratio:g}, {way}"
                rows.append(relative(f"{name}: mass flow", SOURCE, exact(share, ratio), got, 0.001, "kg/s"))
                rows.append(at_most(f"{name}: flutter", SOURCE, 1e-4, flutter))
    return rows
