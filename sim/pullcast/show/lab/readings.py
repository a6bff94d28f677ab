"""What the page computes of an engine, and the numbers read off: curves over speed, one cycle over crank angle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pullcast.answers.performance import performance, traces
from pullcast.card.engine import Engine
from pullcast.kernels.crank import volume
from pullcast.network.build import build
from pullcast.solve.jobs import Job
from pullcast.solve.settle import Point
from pullcast.solve.sweep import Failed

SPEEDS = 12
SPACING = 0.015  # m between the stations of the wave picture
FIRST = 360  # cycles are shown from firing to firing: the gas exchange stands in the middle
ANGLES = np.arange(FIRST, FIRST + 721)
WORST = ("knock_integral", "peak_pressure", "port_mach_max")  # of all cylinders the highest counts, else the mean


def speeds_of(engine: Engine) -> tuple[float, ...]:
    """The speeds of the page's curves, rpm: twelve over the card's range, or the card's if there are fewer."""
    first, last = engine.speeds[0], engine.speeds[-1]
    if len(engine.speeds) < 3 or last - first < SPEEDS:
        return engine.speeds
    return tuple(float(round(v)) for v in np.linspace(first, last, SPEEDS))


def shown_speed(engine: Engine, rpm: float | None) -> float:
    """The speed of the cycle pictures: the one asked for, kept in the card's range; the middle if none was."""
    first, last = engine.speeds[0], engine.speeds[-1]
    middle = 50.0 * round((first + last) / 100.0)
    return float(min(max(rpm if rpm is not None else middle, first), last))


def cylinder_of(engine: Engine) -> int:
    """The cylinder of the cycle pictures: the first to fire, whose angle the stations in pipes are recorded over."""
    return engine.block.firing_order[0]


@dataclass(frozen=True)
class Station:
    """A place in the intake tract: ``at`` metres from its mouth (the plenum's wall), in ``pipe`` at ``x`` m."""

    at: float
    pipe: str
    x: float


def stations_of(engine: Engine) -> tuple[Station, ...]:
    """Places along the intake tract of the shown cylinder, from its mouth to the valve."""
    pipes = {p.end.node: p for p in build(engine).pipes}
    chain = [pipes[f"intake valve {cylinder_of(engine)}"]]
    while " step " in chain[0].start.node and chain[0].start.node in pipes:
        chain.insert(0, pipes[chain[0].start.node])
    found, before = [], 0.0
    for pipe in chain:
        count = max(3, round(pipe.length / SPACING))
        found += [Station(before + x, pipe.name, x) for x in ((k + 0.5) / count * pipe.length for k in range(count))]
        before += pipe.length
    return tuple(found)


def wave_jobs(engine: Engine, rpm: float) -> list[Job]:
    """The background's work for an engine: the cycle looked at first, then the curve from the middle outwards."""
    at = tuple((s.pipe, s.x) for s in stations_of(engine))
    speeds = speeds_of(engine)
    middle = len(speeds) // 2
    outwards = sorted(range(len(speeds)), key=lambda i: (abs(i - middle), i))
    return [Job(engine, rpm, "wave", traces=True, stations=at), *(Job(engine, speeds[i], "wave") for i in outwards)]


@dataclass(frozen=True)
class Curve:
    """Numbers over speed by the names of ``pullcast.results.variables`` (SI), nan where there is no converged point;
    ``troubles`` says where and why."""

    speeds: np.ndarray
    columns: Mapping[str, np.ndarray]
    troubles: tuple[str, ...] = ()

    def column(self, name: str) -> np.ndarray:
        """A variable over speed, nan if it was not computed."""
        return self.columns.get(name, np.full(self.speeds.size, np.nan))

    def at(self, name: str, rpm: float) -> float:
        """A variable at a speed, between speeds on a straight line."""
        values = self.column(name)
        good = np.isfinite(values)
        return float(np.interp(rpm, self.speeds[good], values[good])) if good.any() else float("nan")

    def peak(self, name: str) -> tuple[float, float] | None:
        """The highest value and its speed, None if there is no value."""
        values = self.column(name)
        if not np.isfinite(values).any():
            return None
        k = int(np.nanargmax(values))
        return float(values[k]), float(self.speeds[k])


def curve_of(engine: Engine, points: Mapping[float, Point | Failed], speeds: tuple[float, ...]) -> Curve:
    """The curve of points by speed; speeds without a point are nan and no trouble."""
    rows: list[dict[str, float]] = []
    troubles = []
    for rpm in speeds:
        point = points.get(rpm)
        row = {}
        if isinstance(point, Failed):
            troubles.append(f"{rpm:.0f} rpm: {point.message}")
        elif point is not None:
            row = numbers_of(engine, point)
            if not row.pop("converged"):
                troubles.append(f"{rpm:.0f} rpm: {row['status']}")
                row = {}
        rows.append(row)
    names = sorted({name for row in rows for name in row} - {"status"})
    columns = {n: np.array([row.get(n, np.nan) for row in rows]) for n in names}
    return Curve(np.array(speeds), columns, tuple(troubles))


def numbers_of(engine: Engine, point: Point) -> dict[str, float]:
    """All numbers of a point, one each: of several cylinders the mean, or the highest of what limits."""
    found = {}
    for name, value in performance(engine, point).items():
        if isinstance(value, np.ndarray):
            found[name] = float(value.max() if name in WORST else value.mean())
        else:
            found[name] = value
    return found


@dataclass(frozen=True)
class Cycle:
    """One cylinder over one cycle, arrays over ``ANGLES`` (SI): ``traces`` by the names of
    ``pullcast.results.variables``; ``volume`` m3; ``along`` (m) and ``pressure`` (places, angles) of the waves,
    empty for the lumped model. ``numbers`` are those of the point."""

    rpm: float
    cylinder: int
    fidelity: str
    traces: Mapping[str, np.ndarray]
    volume: np.ndarray
    along: np.ndarray
    pressure: np.ndarray
    numbers: Mapping[str, float]


def cycle_of(engine: Engine, point: Point, fidelity: str) -> Cycle:
    """The cycle of a point marched with traces."""
    cylinder = cylinder_of(engine)
    found = {name: _unrolled(values[cylinder - 1]) for name, values in traces(engine, point).items()
             if not name.startswith("station")}
    along, pressure = np.zeros(0), np.zeros((0, ANGLES.size))
    if fidelity == "wave" and point.probes is not None and len(point.probes):
        along = np.array([s.at for s in stations_of(engine)])
        pressure = np.array([_unrolled(row) for row in point.probes[:, 1]])
    return Cycle(point.rpm, cylinder, fidelity, found, _unrolled(volumes(engine)), along, pressure,
                 numbers_of(engine, point))


def volumes(engine: Engine) -> np.ndarray:
    """Cylinder volume (m3) at 0, 1 ... 719 deg."""
    b = engine.block
    shape = np.array([b.bore, b.stroke, b.rod, b.pin_offset, b.clearance_volume])
    return np.array([volume(shape, float(a)) for a in range(720)])


def _unrolled(values: np.ndarray) -> np.ndarray:
    return np.asarray(values)[ANGLES % 720]
