"""Finite-amplitude waves at closed and open ends: simple-wave reflections (Benson 1982, vol. 1)."""

import numpy as np
from validation.exact.rig import Rig, pipe
from validation.harness import Check, relative
from validation.reference import waves

SOURCE = "simple waves, Benson 1982 vol. 1 (from memory), recomputed"
P0, T0, A = 101325.0, 293.15, 1e-3
A0 = float(np.sqrt(1.4 * 287.05 * T0))
RHO0 = P0 / (287.05 * T0)


def plateau(ratio: float, end: str, cell: float = 0.015) -> tuple[float, float, float, float]:
    """A long plateau wave with a smooth front runs at ``end``.

    Returns pressure ratio and speed of the incident wave, pressure ratio at the end while it is reflected, and
    that of the reflected wave (from Riemann's invariant).
    """
    u = waves.particle_velocity(ratio, A0)
    length = 6.0
    rig = Rig(pipe("p", length, A, "closed", end), cell=cell)
    x = rig.x("p")
    shape = 0.5 * (1 - np.tanh((x - 4.2) / 0.15))  # high on the left, at rest on the right
    v = u * shape
    k = 1 + 0.2 * v / A0
    rig.fill_rho("p", RHO0 * k**5, v, P0 * k**7)
    rig.march(1.4e-3)
    rho, w, p = rig.state("p")
    i = int(np.argmin(np.abs(x - 3.0)))
    a = np.sqrt(1.4 * p[i] / rho[i])
    front = (p[i] / P0, w[i] + a)
    plateau_speed = waves.wave_speed(ratio, A0)
    rig.march((length - 3.4) / plateau_speed + 3e-3 - rig.time)  # the whole front is back past 5.6 m
    p_end = rig.model.ends.p_face[1] / P0
    rho, w, p = rig.state("p")
    j = int(np.argmin(np.abs(x - 5.6)))
    a = np.sqrt(1.4 * p[j] / rho[j])
    back = ((a - 0.2 * w[j]) / A0 + 1) / 2  # left-going X
    return (*front, p_end, waves.pressure_ratio(back))


def checks() -> list[Check]:
    rows = []
    ratio = 1.5
    got = plateau(ratio, "closed")
    rows += [
        relative("wave of pressure ratio 1.5: ratio held", SOURCE, ratio, got[0], 0.001),
        relative("wave of pressure ratio 1.5: speed u + a", SOURCE, waves.wave_speed(ratio, A0), got[1], 0.001,
                 "m/s"),
        relative("wave of 1.5 at a closed end: pressure ratio", SOURCE, waves.at_closed_end(ratio), got[2], 0.005,
                 note="the front steepens into a weak shock before it arrives"),
    ]
    got = plateau(ratio, "ambient")
    expected = waves.from_open_end(ratio)
    rows.append(relative("wave of 1.5 at an open end: reflected ratio", SOURCE, expected, got[3], 0.005))
    for low in (0.9, 0.7):
        got = plateau(low, "closed")
        rows.append(relative(f"suction wave of {low:g} at a closed end: pressure ratio", SOURCE,
                             waves.at_closed_end(low), got[2], 0.005))
        got = plateau(low, "ambient")
        rows.append(relative(f"suction wave of {low:g} at an open end (inflow): reflected ratio", SOURCE,
                             waves.inflow_reflection(low), got[3], 0.005))
    return rows
