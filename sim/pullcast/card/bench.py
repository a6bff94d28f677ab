"""Flow-bench arithmetic for checks: effective areas and coefficients of a sheet, ideal flow."""

from __future__ import annotations

import math
from itertools import pairwise

from pullcast.card.engine import FlowSheet, ValveSide

GAMMA, R = 1.4, 287.05
# Coefficient on curtain area over lift/diameter, where there is no sheet; shape as in Heywood 1988, figs. 6-18, 6-20
# (from memory, low confidence, +-0.06)
CURTAIN = {"intake": ((0.05, 0.70), (0.10, 0.70), (0.15, 0.66), (0.20, 0.62), (0.25, 0.58)),
           "exhaust": ((0.05, 0.72), (0.10, 0.72), (0.15, 0.69), (0.20, 0.66), (0.25, 0.61))}


def ideal_velocity(drop: float, temperature: float = 288.7, pressure: float = 101325.0) -> float:
    """Volume flow at upstream conditions per effective area, m/s, of an isentropic orifice (Heywood 1988, app. C).

    >>> round(ideal_velocity(28 * 249.08891) * 0.0254**2 / (0.3048**3 / 60), 1)  # CFM per square inch at 28 inH2O
    140.5
    """
    ratio = 1.0 - drop / pressure
    psi = math.sqrt(2 * GAMMA / (GAMMA - 1) * (ratio ** (2 / GAMMA) - ratio ** ((GAMMA + 1) / GAMMA)))
    return psi * math.sqrt(R * temperature)


def limit_velocity(drop: float, temperature: float = 288.7, pressure: float = 101325.0) -> float:
    """As :func:`ideal_velocity` for a fluid of constant density, sqrt(2 dp/rho): what no bench reading can exceed.

    >>> round(limit_velocity(28 * 249.08891) * 0.0254**2 / (0.3048**3 / 60), 1)
    146.0
    """
    return math.sqrt(2.0 * drop * R * temperature / pressure)


def effective_areas(sheet: FlowSheet) -> tuple[float, ...]:
    """Effective area (m2) of port and valves at each lift of a sheet."""
    per_area = ideal_velocity(sheet.depression, sheet.temperature, sheet.pressure)
    return tuple(q / per_area for q in sheet.flows)


def curtain_area(side: ValveSide, lift: float) -> float:
    """Curtain area pi D L of all valves of a side at ``lift`` (m), m2."""
    return side.count * math.pi * side.diameter * lift


def throat_area(side: ValveSide) -> float:
    """Area under the seats less the stems, all valves of a side, m2."""
    return side.count * math.pi / 4 * (side.throat_diameter**2 - side.stem_diameter**2)


def curtain_coefficients(side: ValveSide) -> tuple[float, ...]:
    """Discharge coefficient on curtain area at each lift of the side's sheet; empty without a sheet."""
    if side.flow is None:
        return ()
    return tuple(a / curtain_area(side, lift)
                 for a, lift in zip(effective_areas(side.flow), side.flow.lifts, strict=True))


def interpolate(x: float, rows: list[tuple[float, float]]) -> float:
    """Piecewise linear value at ``x``; held beyond the ends."""
    if x <= rows[0][0]:
        return rows[0][1]
    for (a, fa), (b, fb) in pairwise(rows):
        if x <= b:
            return fa + (fb - fa) * (x - a) / (b - a)
    return rows[-1][1]


def effective_area_at(side: ValveSide, kind: str, lifts: list[float]) -> list[float]:
    """Effective areas (m2) at lifts: from the sheet, else from literature coefficients within the throat's area."""
    if side.flow is not None:
        rows = [(0.0, 0.0), *zip(side.flow.lifts, effective_areas(side.flow), strict=True)]
        return [interpolate(lift, rows) for lift in lifts]
    rows, most = list(CURTAIN[kind]), 0.85 * throat_area(side)
    return [min(interpolate(lift / side.diameter, rows) * curtain_area(side, lift), most) for lift in lifts]


def effective_area(side: ValveSide, kind: str, lift: float) -> float:
    """Effective area (m2) at a lift, see ``effective_area_at``."""
    return effective_area_at(side, kind, [lift])[0]


def mean_coefficient(side: ValveSide, kind: str, lift: float) -> float:
    """Effective area averaged over the opening, on the valves' head area: Taylor's mean inlet flow coefficient.

    The lift is taken as sin2 of the share of the opening, up to ``lift`` (m).
    """
    n = 90
    areas = effective_area_at(side, kind, [lift * math.sin(math.pi * (i + 0.5) / n) ** 2 for i in range(n)])
    return sum(areas) / n / (side.count * math.pi / 4 * side.diameter**2)
