"""Pipes that meet at one junction in steady slow flow, and the loss of total pressure from one to another."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from validation.exact.rig import GAMMA, End, Junction, R, Rig, Volume, pipe
from validation.reference.steady import orifice_flux, total_over_static

P, T = 101325.0, 293.15
DROP = 0.06 * P  # over the orifice that feeds or drains a pipe: its resistance is then near the pipe's own rho a, so
# that waves leave instead of ringing
LENGTH, CELL = 0.4, 0.02
MACH = 0.1  # of all the flow in the first pipe's area


class Leg(NamedTuple):
    """A pipe: its area (m2), the direction in which it leaves the junction (deg), its share of the flow (in > 0)."""

    area: float
    angle: float
    share: float


class Met(NamedTuple):
    """Steady state of a leg at the junction: mass flow towards it (kg/s), total pressure and dynamic head (Pa)."""

    flow: float
    total: float
    head: float


def steady(legs: dict[str, Leg], reference: float) -> dict[str, Met]:
    """Every leg's state at the junction; ``reference`` area (m2) in which all the flow would run at ``MACH``."""
    rho, sound = P / (R * T), np.sqrt(GAMMA * R * T)
    flow = rho * MACH * sound * reference
    pipes, volumes = [], []
    for name, (area, angle, share) in legs.items():
        meet = End("meet", angle_deg=angle)
        if share == 0.0:
            pipes.append(pipe(name, LENGTH, area, "closed", meet))
            continue
        p = P + np.sign(share) * DROP
        plate = abs(share) * flow / orifice_flux(max(p, P), T, min(p, P))
        pipes.append(pipe(name, LENGTH, area, End(f"{name} room", area=min(plate, 0.95 * area)), meet))
        volumes.append((Volume(f"{name} room", 1e9), p))
    rig = Rig(*pipes, cell=CELL, junctions=(Junction("meet"),), volumes=tuple(v for v, _ in volumes))
    for i, (_, p) in enumerate(volumes):
        rig.fill_volume(i + 1, p, T)
    for name, (area, _, share) in legs.items():
        rig.fill(name, P, T, share * flow / (rho * area))
    rig.march(0.15)
    states = {name: [] for name in legs}
    for _ in range(10):
        rig.march(2e-3)
        for name in legs:
            states[name].append(rig.state(name)[:, -1])
    return {name: _met(np.mean(s, axis=0), legs[name].area) for name, s in states.items()}


def _met(state: np.ndarray, area: float) -> Met:
    rho, u, p = state
    return Met(rho * u * area, p * total_over_static(abs(u) / np.sqrt(GAMMA * p / rho)), 0.5 * rho * u**2)


def loss(met: dict[str, Met], start: str, end: str, common: str) -> float:
    """K: total pressure lost from one leg to another over the dynamic head of a third."""
    return (met[start].total - met[end].total) / met[common].head
