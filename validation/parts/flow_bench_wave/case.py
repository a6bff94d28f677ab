"""The virtual flow bench: port and valve in the wave solver must give the flow sheet back.

The sheets are invented; what is outside is the requirement that a measured sheet comes back from the model, and the
steady reckoning of flow_sheet, which shares no code with the wave solver.
"""

from __future__ import annotations

import dataclasses

from validation.exact.rig import Rig, Surroundings
from validation.harness import relative

from pullcast.card.engine import End, FlowSheet, Pipe, Segment, ValveSide, Volume
from pullcast.network import flow_sheet as fs
from pullcast.network.port_flow import BENCH_ENTRY_LOSS

CFM, INCH, DROP = 0.3048**3 / 60, 0.0254, 28 * 249.08891
P, T, R = 101325.0, 288.7, 287.05
CELL = 0.012  # m
LIFTS = tuple(0.1 * k * INCH for k in range(1, 7))


def sheet(*cfm: float) -> FlowSheet:
    """A sheet at 0.1 in steps, 28 inH2O."""
    return FlowSheet(LIFTS, tuple(f * CFM for f in cfm), DROP, T, P)


SIDES = {
    "intake": ValveSide(1, 2.02 * INCH, 1.78 * INCH, 0.0087, 45.0, (
        Segment(0.04, 1.45e-3, 1.40e-3, bend_loss=0.06), Segment(0.08, 1.40e-3, 1.6e-3, bend_loss=0.03)),
        sheet(65, 130, 185, 225, 243, 250), 0.93),
    "exhaust": ValveSide(1, 1.60 * INCH, 1.40 * INCH, 0.0087, 45.0, (
        Segment(0.03, 1.0e-3, 0.95e-3, bend_loss=0.15), Segment(0.06, 0.95e-3, 1.15e-3)),
        sheet(55, 105, 145, 168, 180, 186), 0.9),
}


def wave_flow(side: ValveSide, kind: str, lift: float, direction: str) -> float:
    """Volume flow (m3/s, upstream state) of the wave solver once it has settled."""
    area = float(fs.effective_area(side, lift, kind, direction))
    inward = (kind == "intake") == (direction == "forward")
    cylinder = P - DROP if inward else P + DROP
    port = tuple(dataclasses.replace(s, heat_factor=0.0) for s in side.port)
    pipe = Pipe("port", End("cylinder", area=area), End("ambient", loss_in=BENCH_ENTRY_LOSS), port)
    rig = Rig(pipe, cell=CELL, volumes=(Volume("cylinder", 1e5),), outside=Surroundings(P, T))
    rig.fill_volume(1, cylinder, T)
    rig.fill("port", P, T)
    rig.march(0.06)
    samples = []
    for _ in range(20):  # average what is left of the ringing
        rig.march(0.0004)
        samples.append(abs(rig.end_flow("port", True)))
    return sum(samples) / len(samples) / ((P if inward else cylinder) / (R * T))


def checks():
    out = []
    for kind, side in SIDES.items():
        for lift, flow in zip(side.flow.lifts, side.flow.flows, strict=True):
            name = f"{kind}, lift {lift / INCH:.1f} in"
            out.append(relative(f"{name}, forward", "the flow sheet", flow / CFM,
                                wave_flow(side, kind, lift, "forward") / CFM, 0.005, "CFM"))
            out.append(relative(f"{name}, reverse", "steady duct and orifice relations, own integration",
                                fs.bench_flow(side, kind, lift, DROP, "reverse") / CFM,
                                wave_flow(side, kind, lift, "reverse") / CFM, 0.005, "CFM"))
    return out
