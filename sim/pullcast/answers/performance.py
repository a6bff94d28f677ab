"""From marched points to the numbers of a full-load curve."""

from __future__ import annotations

import math

import numpy as np

from pullcast.air import air_density
from pullcast.answers.guard import beyond
from pullcast.card.derived import inlet_mach_index
from pullcast.card.engine import Engine
from pullcast.kernels import layout as L
from pullcast.network.cylinders import lifts_at
from pullcast.network.friction import fmep
from pullcast.solve.settle import Point
from pullcast.solve.sweep import Failed

HALF_BURNED = "the flame burns less than half of the charge before the exhaust valve opens"
REPEATS = {1: "converged", 2: "repeats every second cycle; mean of two"}


def reference_density(engine: Engine) -> float:
    """Density of the moist air outside, kg/m3: the reference of volumetric efficiency."""
    return air_density(engine.day.pressure, engine.day.temperature, engine.day.humidity)


def plenum(engine: Engine, point: Point) -> tuple[float, float]:
    """Cycle-mean pressure (Pa) and end-of-cycle temperature (K) of the intake's first volume or junction."""
    for v in engine.intake.volumes:
        return point.node_pressure[v.name], point.node_temperature[v.name]
    for j in engine.intake.junctions:
        return point.junction_pressure[j.name], math.nan
    return engine.day.pressure, engine.day.temperature


def friction_pressure(engine: Engine, rpm: float, p_max: float, p_intake: float) -> float:
    """FMEP, Pa, accessories included, from the mean peak cylinder pressure and the intake's pressure (Pa)."""
    rubbing = fmep(engine.friction.model, block=engine.block, rpm=rpm, p_max=p_max, p_intake=p_intake)
    accessories = engine.friction.accessory_torque * 4 * math.pi / engine.block.displacement
    return rubbing * engine.friction.factor + accessories


def performance(engine: Engine, point: Point) -> dict[str, object]:
    """All numbers of one point by the names of ``pullcast.results.variables`` (SI)."""
    b, o, books = engine.block, point.out, point.books
    V, per_second = b.displacement, point.rpm / 120
    gross = o[:, L.C_WORK_GROSS].sum() / V
    pumping = o[:, L.C_WORK_PUMP].sum() / V
    p_plenum, T_plenum = plenum(engine, point)
    friction = friction_pressure(engine, point.rpm, float(o[:, L.C_P_MAX].mean()), p_plenum)
    bmep = gross + pumping - friction
    torque = bmep * V / (4 * math.pi)
    power = torque * point.rpm * math.pi / 30
    fuel = books[L.B_FUEL] * per_second
    limits, impossible = engine.limits, beyond(engine, point)
    duty = math.nan
    if limits.injector_flow:
        duty = fuel / (limits.injector_flow * (limits.injectors or b.cylinders))
    angle = np.maximum(o[:, L.C_MACH_ANGLE], 1e-9)
    return {
        "torque": torque, "power": power, "bmep": bmep, "imep": gross + pumping, "gross_imep": gross, "pmep": pumping,
        "fmep": friction, "volumetric_efficiency": o[:, L.C_AIR].sum() / (reference_density(engine) * V),
        "bsfc": fuel / power if power > 0 else math.nan, "airflow": o[:, L.C_AIR].sum() * per_second,
        "fuel_flow": fuel,
        "trapped_mass": o[:, L.C_TRAPPED], "residual_fraction": o[:, L.C_RESIDUAL], "plenum_pressure": p_plenum,
        "plenum_temperature": T_plenum, "peak_pressure": o[:, L.C_P_MAX], "ca50": o[:, L.C_CA50].mean(),
        "spark": o[:, L.C_SPARK].mean(), "knock_integral": o[:, L.C_KNOCK], "injector_duty": duty,
        "port_mach_mean": o[:, L.C_MACH_SUM] / angle, "port_mach_max": o[:, L.C_MACH_MAX],
        "mean_piston_speed": 2 * b.stroke * point.rpm / 60, "inlet_mach_index": inlet_mach_index(engine, point.rpm),
        "heat_loss": books[L.B_Q_CYL] * per_second,
        "exhaust_temperature": o[:, L.C_EX_TSUM].sum() / max(o[:, L.C_EX_MASS].sum(), 1e-12),
        "cycles": point.cycles, "converged": point.converged and not impossible, "mass_residual": point.mass_residual,
        "energy_residual": point.energy_residual, "status": impossible or point.status or _end(point),
    }


def _end(point: Point) -> str:
    """How a converged point ended, in words."""
    half = HALF_BURNED if np.isnan(point.out[:, L.C_CA50]).any() else ""
    return "; ".join(filter(None, (REPEATS[point.period], point.remedy, half)))


def failed(engine: Engine, rpm: float, message: str, names: list[str]) -> dict[str, object]:
    """The row of a speed that broke down: nothing but its status."""
    empty = np.full(engine.block.cylinders, np.nan)
    per_cylinder = {"trapped_mass", "residual_fraction", "peak_pressure", "knock_integral", "port_mach_mean",
                    "port_mach_max"}
    row: dict[str, object] = {n: (empty if n in per_cylinder else math.nan) for n in names}
    row |= {"cycles": 0, "converged": False, "status": message}
    return row


def traces(engine: Engine, point: Point) -> dict[str, np.ndarray]:
    """Crank-resolved traces of one point, (cylinders, 720), over each cylinder's own angle."""
    t = point.trace
    intake, exhaust = lifts_at(engine, point.rpm)
    n = engine.block.cylinders
    return {
        "cylinder_pressure": t[:, L.T_P], "cylinder_temperature": t[:, L.T_T],
        "intake_mass_flow": t[:, L.T_INTAKE_FLOW], "exhaust_mass_flow": t[:, L.T_EXHAUST_FLOW],
        "intake_port_pressure": t[:, L.T_INTAKE_P], "exhaust_port_pressure": t[:, L.T_EXHAUST_P],
        "intake_lift": np.tile(intake.lift_m[:-1:2], (n, 1)), "exhaust_lift": np.tile(exhaust.lift_m[:-1:2], (n, 1)),
    } | stations(point)


def stations(point: Point) -> dict[str, np.ndarray]:
    """Crank-resolved pressure, velocity and temperature at the duct stations, (stations, 720)."""
    if point.probes is None or not len(point.probes):
        return {}
    names = ("station_pressure", "station_velocity", "station_temperature")
    return {name: point.probes[:, k] for k, name in enumerate(names, start=1)}


def rows_of(engine: Engine, points: list[Point | Failed], with_traces: bool) -> dict[str, np.ndarray]:
    """Arrays over speed for the Dataset; failed points are nan."""
    rows: list[dict[str, object] | None] = []
    for p in points:
        if isinstance(p, Failed):
            rows.append(None)
            continue
        row = performance(engine, p)
        if with_traces:
            row |= traces(engine, p)
        rows.append(row)
    good = next((r for r in rows if r is not None), None)
    if good is None:
        return {}
    blank = {k: np.full(np.shape(v), np.nan) for k, v in good.items() if np.ndim(v) == 2}
    names = [k for k in good if k not in blank]
    full = [r if r is not None else failed(engine, p.rpm, p.message, names) | blank
            for r, p in zip(rows, points, strict=True)]
    return {k: np.array([r[k] for r in full], dtype=object if k == "status" else None) for k in good}
