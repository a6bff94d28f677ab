"""Steady flow through a junction: straight through, sudden enlargement, merging jets (Borda 1766)."""

import numpy as np
from scipy.optimize import brentq
from validation.exact.rig import End, Junction, Rig, Volume, pipe
from validation.harness import Check, at_most, relative
from validation.reference import steady as s

SOURCE = "mass, momentum, energy over the junction (Borda-Carnot, compressible)"
P0, T0, A, LENGTH = 101325.0, 293.15, 1e-3, 0.6


def mixed(inlets: int, a_in: float, a_out: float, ratio: float, half_angle: float) -> float:
    """Flow (kg/s) when jets at one static pressure mix, with that pressure on the end wall, into the outlet."""
    along = np.cos(np.radians(half_angle))
    k = np.sqrt(1.4 / (287.05 * T0))

    def exit_pressure(m1: float) -> float:
        p1 = P0 / s.total_over_static(m1)
        flow = s.mass_flux(P0, T0, m1) * a_in * inlets
        push = p1 * a_out + along * 1.4 * p1 * m1**2 * a_in * inlets

        def gap(m2: float) -> float:
            return flow * (1 + 1.4 * m2**2) - push * m2 * k * np.sqrt(1 + 0.2 * m2**2)

        if gap(1e-6) * gap(1.0) > 0:
            return -1.0  # the outlet would choke
        m2 = brentq(gap, 1e-6, 1.0)
        return push / (a_out * (1 + 1.4 * m2**2))

    m1 = brentq(lambda m: exit_pressure(m) - ratio * P0, 0.01, 0.999)
    return s.mass_flux(P0, T0, m1) * a_in * inlets


def loss_free(a_out: float, ratio: float) -> float:
    """Flow (kg/s) of a loss-free nozzle of the outlet's area."""
    return s.mass_flux(P0, T0, np.sqrt(5 * (ratio ** (-0.4 / 1.4) - 1))) * a_out


def solved(inlets: int, a_in: float, a_out: float, ratio: float, half_angle: float) -> tuple[float, float]:
    """Mean flow (kg/s) out of the outlet and its flutter over the mean."""
    angles = [180.0] if inlets == 1 else 180.0 + half_angle * np.linspace(-1, 1, inlets)
    names = [f"in {i}" for i in range(inlets)]
    ends = [End("meet", angle_deg=float(g)) for g in angles]
    pipes = [pipe(n, LENGTH, a_in, "ambient", e) for n, e in zip(names, ends, strict=True)]
    rig = Rig(*pipes, pipe("out", LENGTH, a_out, End("meet", angle_deg=0.0), "sink"), cell=0.015,
              junctions=(Junction("meet"),), volumes=(Volume("sink", 1e9),))
    rig.fill_volume(1, ratio * P0, T0)
    for name in rig.names.pipes:
        rig.fill(name, ratio * P0, T0)
    rig.march(0.3)
    flow = []
    for _ in range(50):
        rig.march(4e-4)
        flow.append(-rig.end_flow("out", False))
    return float(np.mean(flow)), float(np.std(flow) / np.mean(flow))


def checks() -> list[Check]:
    cases = [
        ("straight through, equal areas, Mach 0.39", (1, A, A, 0.9, 0.0), loss_free(A, 0.9)),
        ("straight through, equal areas, Mach 0.73", (1, A, A, 0.7, 0.0), loss_free(A, 0.7)),
        ("contraction to half the area (loss-free)", (1, 2 * A, A, 0.8, 0.0), loss_free(A, 0.8)),
        ("four into one of twice the area, in line (loss-free)", (4, A, 2 * A, 0.8, 0.0), loss_free(2 * A, 0.8)),
        ("sudden enlargement 1:2", (1, A, 2 * A, 0.9, 0.0), mixed(1, A, 2 * A, 0.9, 0.0)),
        ("sudden enlargement 1:2, inlet near Mach 1", (1, A, 2 * A, 0.75, 0.0), mixed(1, A, 2 * A, 0.75, 0.0)),
        ("sudden enlargement 1:4", (1, A, 4 * A, 0.9, 0.0), mixed(1, A, 4 * A, 0.9, 0.0)),
    ]
    rows = []
    for half_angle, wider in ((10.0, 1.0), (15.0, 1.5)):
        given = (2, A, 2 * A * wider, 0.9, half_angle)
        name = f"junction, two jets at {half_angle:g} deg either side into {wider:g} times their area"
        got, flutter = solved(*given)
        rows += [relative(f"{name}: mass flow, with three quarters of the angle", f"{SOURCE}; Hager 1984",
                          mixed(*given[:4], 0.75 * half_angle), got, 0.003, "kg/s"),
                 relative(f"{name}: mass flow, with the angle of the pipes", SOURCE, mixed(*given), got, 0.02,
                          "kg/s"),
                 at_most(f"{name}: flutter of the flow", SOURCE, 1e-3, flutter)]
    for name, given, expected in cases:
        got, flutter = solved(*given)
        rows += [relative(f"junction, {name}: mass flow", SOURCE, expected, got, 0.003, "kg/s"),
                 at_most(f"junction, {name}: flutter of the flow", SOURCE, 1e-3, flutter)]
    return rows
