"""Effective area of the valves over lift, from a flow sheet or from discharge coefficients.

A flow sheet is measured through valve *and* port. The wave solver has the port as a duct with its own losses, so the
valve gets the area that, together with that port, gives the sheet back. The relations are those of the solver's
valve end:

* into the cylinder: from the total state at the pipe's face to the pressure of the cylinder;
* out of the cylinder: from the state of the cylinder to the static pressure at the pipe's face.

The bench. Intake: air enters the flange through a radiused lip from the room, the cylinder stands below the room by
the sheet's depression. Exhaust: the cylinder stands above the room by it, the flange opens into the room. Volume flow
is counted at bench temperature and the pressure upstream of the valve and port (for the exhaust: the cylinder; a
bench that counts at room pressure would get exhaust areas 6.9 % too large at 28 in of water).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from pullcast.card.engine import FlowSheet, ValveSide
from pullcast.errors import InputError
from pullcast.network.lift import LiftCurve
from pullcast.network.port_flow import R_AIR, area_for, into_port, out_of_port, through_valve

INCH_WATER = 249.0889  # Pa, conventional
DEPRESSION = 28.0 * INCH_WATER  # Pa, of the sheet made from coefficients
MAX_RATIO = 0.98  # effective area over face area of the port: the valve end takes no more
# Cd on curtain area over lift/diameter: shape as in Heywood 1988, figs. 6-18 and 6-20 (from memory, +/- 0.06)
CD_LIFT = (0.05, 0.10, 0.15, 0.20, 0.25)
CD = {"intake": (0.70, 0.70, 0.66, 0.62, 0.58), "exhaust": (0.72, 0.72, 0.69, 0.66, 0.61)}


@dataclass(frozen=True)
class ValveArea:
    """Effective area of all valves of one side over lift. ``findings``: what the sheet and the port disagree on."""

    kind: str
    lifts: tuple[float, ...]  # m, from zero
    areas: tuple[float, ...]  # m2, forward
    reverse_ratio: float
    basis: str  # "flow sheet" or "discharge coefficients"
    findings: tuple[str, ...] = ()
    beyond: tuple[float, float, float] = (0.0, 0.0, 0.0)  # curtain per lift (m), throat (m2), coefficient

    def at(self, lift, direction: str = "forward") -> np.ndarray:
        """Effective area, m2, at ``lift`` (m; any shape), "forward" or "reverse"."""
        lift = np.maximum(np.asarray(lift, float), 0.0)
        inside = PchipInterpolator(self.lifts, self.areas)(np.minimum(lift, self.lifts[-1]))
        per_lift, throat, coefficient = self.beyond
        more = coefficient * (np.minimum(per_lift * lift, throat) - min(per_lift * self.lifts[-1], throat))
        area = inside + np.where(lift > self.lifts[-1], more, 0.0)
        return area * (self.reverse_ratio if direction == "reverse" else 1.0)


def curtain_area(side: ValveSide, lift):
    """Curtain area of all valves, m2: count pi D L (the reference of Cd)."""
    return side.count * math.pi * side.diameter * np.asarray(lift, float)


def throat_area(side: ValveSide) -> float:
    """Area of all throats less the stems, m2."""
    return side.count * math.pi / 4 * (side.throat_diameter**2 - side.stem_diameter**2)


def effective_area(side: ValveSide, lifts, kind: str = "intake", direction: str = "forward") -> np.ndarray:
    """Effective area, m2, at ``lifts`` (m) of an "intake" or "exhaust" side, "forward" or "reverse"."""
    return valve_area(side, kind).at(lifts, direction)


def area_over_crank(side: ValveSide, curve: LiftCurve) -> tuple[np.ndarray, np.ndarray]:
    """Effective areas, m2, forward and reverse, float64[1441] each, at the angles of ``curve`` (its side counts)."""
    area = valve_area(side, curve.side)
    return area.at(curve.lift_m), area.at(curve.lift_m, "reverse")


@lru_cache(maxsize=512)
def valve_area(side: ValveSide, kind: str) -> ValveArea:
    """Effective area over lift of one side, ``kind`` "intake" or "exhaust".

    Raises InputError for a flow sheet that cannot be read as one; a sheet that the port cannot pass gives the largest
    area the port allows and a finding.
    """
    if kind not in CD:
        msg = f"valve side {kind!r}: give 'intake' or 'exhaust'."
        raise InputError(msg)
    return _from_sheet(side, kind) if side.flow is not None else _from_coefficients(side, kind)


def bench_flow(side: ValveSide, kind: str, lift: float, depression: float, direction: str = "forward", *,
               pressure: float = 101325.0, temperature: float = 288.7) -> float:
    """Volume flow (m3/s at the state upstream) of port and valve on a bench, with the areas of this module.

    ``lift`` m, ``depression`` Pa between room (``pressure`` Pa, ``temperature`` K) and cylinder. "reverse" blows an
    intake out of its flange and draws an exhaust in through it.
    """
    area = float(valve_area(side, kind).at(lift, direction))
    inward = (kind == "intake") == (direction == "forward")
    upstream = pressure if inward else pressure + depression
    density = upstream / (R_AIR * temperature)
    if area <= 0.0:
        return 0.0

    def excess(flow: float) -> float:
        if inward:
            total = float(into_port(side.port, flow, pressure, temperature))
            passed = through_valve(area, total, temperature, pressure - depression) if total == total else 0.0
        else:
            face, _ = out_of_port(side.port, flow, pressure, temperature)
            passed = through_valve(area, upstream, temperature, float(face)) if face == face else 0.0
        return float(passed) - flow

    largest = float(through_valve(area, upstream, temperature, 0.0)) * 1.001
    return brentq(excess, 0.0, largest, xtol=1e-14, rtol=1e-12) / density


def discharge_coefficients(side: ValveSide, kind: str = "intake") -> tuple[np.ndarray, np.ndarray]:
    """Cd of port and valve on curtain area and on throat area at the lifts of the sheet (compressible bench flow)."""
    sheet = _checked(side.flow, kind)
    upstream, downstream = _bench_pressures(sheet, kind)
    flow = np.array(sheet.flows) * upstream / (R_AIR * sheet.temperature)
    whole = area_for(flow, upstream, sheet.temperature, downstream)
    return whole / curtain_area(side, sheet.lifts), whole / throat_area(side)


def _from_sheet(side: ValveSide, kind: str) -> ValveArea:
    sheet = _checked(side.flow, kind)
    lifts, flows = np.array(sheet.lifts), np.array(sheet.flows)
    upstream, downstream = _bench_pressures(sheet, kind)
    mass = flows * upstream / (R_AIR * sheet.temperature)
    if kind == "intake":
        total = into_port(side.port, mass, upstream, sheet.temperature)
        area = area_for(mass, total, sheet.temperature, downstream)
    else:
        face, _ = out_of_port(side.port, mass, downstream, sheet.temperature)
        area = area_for(mass, upstream, sheet.temperature, face)
    most = MAX_RATIO * side.port[0].area_start
    fits = np.isfinite(area) & (area <= most)
    area = np.where(fits, area, most)
    findings = tuple(_misfit(side, kind, lift, flow) for lift, flow in zip(lifts[~fits], flows[~fits], strict=True))
    last = min(float(curtain_area(side, lifts[-1])), throat_area(side))
    return ValveArea(kind, (0.0, *lifts.tolist()), (0.0, *area.tolist()), side.reverse_ratio, "flow sheet", findings,
                     _extension(side, float(area[-1]), last, most))


def _extension(side: ValveSide, area: float, reference: float, most: float) -> tuple[float, float, float]:
    """Constant coefficient on the smaller of curtain and throat beyond the last lift, held at what the port takes."""
    coefficient = area / reference
    return float(curtain_area(side, 1.0)), min(throat_area(side), most / coefficient), coefficient


def _misfit(side: ValveSide, kind: str, lift: float, flow: float) -> str:
    return (f"{kind} flow sheet at {1e3 * lift:.2f} mm: the port as described "
            f"({1e4 * side.port[0].area_start:.2f} cm2 at the valve, with its bends and friction) cannot pass "
            f"{1e3 * flow:.1f} L/s ({flow / 0.3048**3 * 60:.0f} CFM) at this depression. The largest area it allows "
            "is used: check port areas, bend losses and the depression of the sheet.")


def _from_coefficients(side: ValveSide, kind: str) -> ValveArea:
    """The sheet that published coefficients of port and valve on curtain area would make, read like any sheet.

    Curtain coefficients are blended into the throat area, which no valve passes more than.
    """
    lifts = np.concatenate([[0.02], CD_LIFT]) * side.diameter
    throat = throat_area(side)
    curtain = np.array([CD[kind][0], *CD[kind]]) * curtain_area(side, lifts)
    whole = curtain / (1.0 + (curtain / throat) ** 8) ** 0.125
    bench = FlowSheet(tuple(lifts), tuple(lifts), DEPRESSION)
    upstream, downstream = _bench_pressures(bench, kind)
    mass = through_valve(whole, upstream, bench.temperature, downstream)
    flows = mass * R_AIR * bench.temperature / upstream
    made = _from_sheet(replace(side, flow=replace(bench, flows=tuple(flows.tolist()))), kind)
    finding = (f"no {kind} flow sheet: discharge coefficients of ordinary poppet valves stand in for it, with low "
               "confidence (+/- 10 % of flow)")
    return replace(made, basis="discharge coefficients", findings=(finding,))


def _bench_pressures(sheet: FlowSheet, kind: str) -> tuple[float, float]:
    """Pressure (Pa) upstream and downstream of port and valve."""
    if kind == "intake":
        return sheet.pressure, sheet.pressure - sheet.depression
    return sheet.pressure + sheet.depression, sheet.pressure


def _checked(sheet: FlowSheet | None, kind: str) -> FlowSheet:
    problem = None
    if sheet is None:
        problem = "is not given"
    elif len(sheet.lifts) != len(sheet.flows) or len(sheet.lifts) < 2:
        problem = f"has {len(sheet.lifts)} lifts and {len(sheet.flows)} flows; give two or more, one flow per lift"
    elif not all(math.isfinite(v) for v in (*sheet.lifts, *sheet.flows, sheet.depression)):
        problem = "holds a value that is no number"
    elif any(b <= a for a, b in zip((0.0, *sheet.lifts), sheet.lifts, strict=False)):
        problem = f"has lifts that do not rise from above zero ({', '.join(f'{1e3 * v:g}' for v in sheet.lifts)} mm)"
    elif min(sheet.flows) <= 0.0:
        problem = f"has a flow of {min(sheet.flows):g} m3/s; every flow must be above zero"
    elif not 0.0 < sheet.depression < 0.4 * sheet.pressure:
        problem = (f"has a depression of {sheet.depression:g} Pa; benches run at 250 to 15000 Pa "
                   "(28 in of water = 6974 Pa)")
    if problem:
        msg = f"{kind} flow sheet {problem}."
        raise InputError(msg)
    return sheet


def depression_factor(have: float, want: float) -> float:
    """Factor on volume flow from depression ``have`` to ``want`` (same unit): sqrt(want/have), the trade's rule.

    >>> round(depression_factor(15.0, 28.0), 5)
    1.36626
    """
    return math.sqrt(want / have)


def compressible_factor(have: float, want: float, pressure: float = 101325.0) -> float:
    """The same for a fixed orifice in compressible flow, depressions in Pa below ``pressure`` upstream.

    >>> round(compressible_factor(15 * INCH_WATER, 28 * INCH_WATER), 3)
    1.342
    """
    one = through_valve(1.0, pressure, 288.7, pressure - np.array([have, want]))
    return float(one[1] / one[0])


def ideal_flow_per_area(depression: float, temperature: float = 288.706, pressure: float = 101325.0) -> float:
    """Incompressible ideal volume flow per area, m/s: sqrt(2 dp/rho); 146 CFM/in2 at 28 in of water and 60 F.

    >>> round(ideal_flow_per_area(28 * INCH_WATER) * 0.0254**2 / 0.3048**3 * 60, 2)
    146.01
    """
    return math.sqrt(2.0 * depression * R_AIR * temperature / pressure)
