"""What happens in one cylinder over one cycle, with the waves in its pipes: the evidence behind an explanation."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pullcast.answers.performance import performance, traces
from pullcast.answers.waves_split import Waves, split_at_station
from pullcast.card.engine import Engine, Pipe
from pullcast.errors import SolveError
from pullcast.kernels import layout as L
from pullcast.kernels.crank import volume
from pullcast.network.build import build
from pullcast.network.cylinders import HEAD_AREA, lifts_at
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point
from pullcast.solve.sweep import Failed

MOST_STATIONS = 24
GAMMA = {"intake": 1.38, "exhaust": 1.32}


@dataclass(frozen=True)
class Along:
    """Gas along a tract: ``x`` (k,) m from the valve, outwards; pressure, velocity (towards the cylinder in an
    intake, away from it in an exhaust) and temperature (k, 720) over the cylinder's own angle."""

    pipe: str
    x: np.ndarray
    pressure: np.ndarray
    velocity: np.ndarray
    temperature: np.ndarray
    kind: str

    def waves(self, k: int) -> Waves:
        """Both waves at station ``k``; "forward" is in the direction of ``velocity``."""
        return split_at_station(self.pressure[k], self.velocity[k], self.temperature[k], GAMMA[self.kind])


@dataclass(frozen=True)
class Evidence:
    """One cylinder at one speed; traces (720,) over its own angle (0: overlap TDC) in SI.

    ``reversion`` gas pushed back through the intake valve over gas drawn in; ``late_reversion`` the share of it after
    bottom dead centre; ``overlap_flow`` net gas through the intake valve while both are open, over gas drawn in;
    ``closing_pressure`` mean of the intake port over the last 30 deg of lift, Pa; ``closing`` and ``opening`` deg.
    """

    engine: str
    rpm: float
    cylinder: int
    cylinder_pressure: np.ndarray
    intake_pressure: np.ndarray
    exhaust_pressure: np.ndarray
    intake_flow: np.ndarray
    exhaust_flow: np.ndarray
    intake_lift: np.ndarray
    exhaust_lift: np.ndarray
    volume: np.ndarray
    outside: float
    plenum: float
    inlet_mach_index: float
    residual: float
    pmep: float
    reversion: float
    late_reversion: float
    overlap_flow: float
    closing_pressure: float
    intake_events: tuple[float, float]
    runner: Along | None
    primary: Along | None


def evidence(engines: Sequence[Engine], speeds: Sequence[float], *, numerics: Numerics | None = None, store=None,
             workers: int | None = None, on_tick: Callable | None = None) -> list[list[Evidence]]:
    """Evidence of each engine at each speed (rpm), by the wave model: a list a speed, an entry an engine.

    The cylinder is the first of the firing order. Raises SolveError when a point breaks down.
    """
    numerics = numerics or Numerics()
    places = [_places(e) for e in engines]
    jobs = [Job(e, r, "wave", numerics, traces=True, stations=runner.stations + primary.stations)
            for r in speeds for e, (runner, primary) in zip(engines, places, strict=True)]
    results = run(jobs, store=store, workers=workers, on_tick=on_tick).results
    for point in results:
        if isinstance(point, Failed):
            msg = f"no evidence can be shown: {point.message}"
            raise SolveError(msg, rpm=point.rpm, component="the engine")
    made = [_read(job.engine, point, places[i % len(engines)]) for i, (job, point) in
            enumerate(zip(jobs, results, strict=True))]
    return [made[i:i + len(engines)] for i in range(0, len(made), len(engines))]


@dataclass(frozen=True)
class _Tract:
    """The pipes from a valve outwards: stations (pipe, m from its start), each m from the valve, and along or against
    its pipe."""

    pipe: str
    stations: tuple[tuple[str, float], ...]
    x: np.ndarray
    outwards: np.ndarray


def _chain(pipes: Sequence[Pipe], node: str) -> list[tuple[Pipe, bool]]:
    """The pipes from ``node`` outwards as long as just two meet, at most into the open air; True: the pipe starts on
    the near side."""
    found: list[tuple[Pipe, bool]] = []
    while node != "ambient":
        here = [(p, p.start.node == node) for p in pipes if node in (p.start.node, p.end.node)]
        here = [(p, starts) for p, starts in here if all(p is not q for q, _ in found)]
        if len(here) != 1:
            return found
        found += here
        pipe, starts = here[0]
        node = (pipe.end if starts else pipe.start).node
    return found


def _places(engine: Engine) -> tuple[_Tract, _Tract]:
    """The intake runner and the primary of the first cylinder, each with its stations from the valve outwards."""
    k = engine.block.firing_order[0]
    pipes = build(engine).pipes
    found = []
    for side in ("intake", "exhaust"):
        chain = _chain(pipes, f"{side} valve {k}")
        total = sum(p.length for p, _ in chain)
        count = min(MOST_STATIONS, max(3, round(total / 0.025)))
        stations, x, flags, before = [], [], [], 0.0
        for pipe, starts in chain:
            mine = [d for d in (np.arange(count) + 0.5) / count * total if before <= d < before + pipe.length]
            stations += [(pipe.name, float(d - before if starts else pipe.length - (d - before))) for d in mine]
            x += mine
            flags += [starts] * len(mine)
            before += pipe.length
        found.append(_Tract(chain[0][0].name, tuple(stations), np.array(x), np.array(flags)))
    return found[0], found[1]


def _read(engine: Engine, point: Point, places: tuple) -> Evidence:
    k = engine.block.firing_order[0] - 1
    t = {name: v[k] if len(v) == engine.block.cylinders and not name.startswith("station") else v
         for name, v in traces(engine, point).items()}
    row = performance(engine, point)
    runner, primary = places
    opening, closing = _events(engine, point.rpm)
    flow = t["intake_mass_flow"]
    drawn = max(float(np.maximum(flow, 0.0).sum()), 1e-12)
    back = np.maximum(-flow, 0.0)
    late = np.arange(720)[90:361]
    both = (t["intake_lift"] > 0.0) & (t["exhaust_lift"] > 0.0)
    b = engine.block
    geometry = np.array([b.bore, b.stroke, b.rod, b.pin_offset, b.clearance_volume, HEAD_AREA])
    last = np.arange(round(closing) - 30, round(closing)) % 720
    return Evidence(
        engine=engine.name, rpm=point.rpm, cylinder=k + 1, cylinder_pressure=t["cylinder_pressure"],
        intake_pressure=t["intake_port_pressure"], exhaust_pressure=t["exhaust_port_pressure"], intake_flow=flow,
        exhaust_flow=t["exhaust_mass_flow"], intake_lift=t["intake_lift"], exhaust_lift=t["exhaust_lift"],
        volume=np.array([float(volume(geometry, float(a))) for a in range(720)]), outside=engine.day.pressure,
        plenum=float(row["plenum_pressure"]), inlet_mach_index=float(row["inlet_mach_index"]),
        residual=float(point.out[k, L.C_RESIDUAL]), pmep=float(row["pmep"]),
        reversion=float(back.sum()) / drawn, late_reversion=float(back[late].sum()) / drawn,
        overlap_flow=float(flow[both].sum()) / drawn, closing_pressure=float(t["intake_port_pressure"][last].mean()),
        intake_events=(opening, closing),
        runner=_along(t, runner, 0, "intake"), primary=_along(t, primary, len(runner.stations), "exhaust"))


def _events(engine: Engine, rpm: float) -> tuple[float, float]:
    """Opening and closing of the intake at 1 mm of lift (0.3 of a small one), deg; opening may be negative."""
    curve = lifts_at(engine, rpm)[0]
    opening, closing = curve.events_at(min(1e-3, 0.3 * curve.max_lift))
    if opening > 360.0:
        opening, closing = opening - 720.0, closing - 720.0
    return opening, closing


def _along(t: dict[str, np.ndarray], tract: _Tract, first: int, kind: str) -> Along:
    rows = slice(first, first + len(tract.stations))
    sign = np.where(tract.outwards == (kind == "intake"), -1.0, 1.0)[:, None]
    return Along(tract.pipe, tract.x, t["station_pressure"][rows], sign * t["station_velocity"][rows],
                 t["station_temperature"][rows], kind)
