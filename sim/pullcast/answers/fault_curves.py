"""What each fault does to the torque curve of an engine: logarithm of the torque ratio over speed and severity."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pullcast.answers.attributes import mean_area
from pullcast.answers.faults import FAULTS, Fault, Span
from pullcast.answers.performance import performance
from pullcast.answers.tract_mix import port_of
from pullcast.card.engine import Engine
from pullcast.errors import SolveError
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.sweep import Failed

BETWEEN = 4  # severities taken from one node to the next by straight lines
KEPT = ("torque", "bmep", "gross_imep", "plenum_pressure", "exhaust_temperature", "volumetric_efficiency")


@dataclass(frozen=True)
class FaultCurves:
    """One fault of one engine, ``key``, ``name``, ``prior`` and ``what`` as ``faults.Fault``: ``severity`` (k,);
    ``effect`` (k, m) ln(torque with over without); ``readings`` (k,) of what checks would read, at the top speed."""

    key: str
    name: str
    prior: float
    what: str
    severity: np.ndarray
    effect: np.ndarray
    readings: tuple[dict[str, float], ...]


@dataclass(frozen=True)
class Family:
    """All fault curves of an engine at ``speed`` (m,) rpm, and its own ``torque`` (m,) N m and ``readings``."""

    engine: str
    speed: np.ndarray
    torque: np.ndarray
    readings: dict[str, float]
    curves: tuple[FaultCurves, ...]


def fault_curves(engine: Engine, speeds: Sequence[float], *, fidelity: str = "wave", numerics: Numerics | None = None,
                 store=None, workers: int | None = None, on_tick: Callable | None = None,
                 faults: Sequence[Fault] = FAULTS) -> Family:
    """Compute what each fault does to ``engine`` at ``speeds`` (rpm).

    A severity at which an engine breaks down ends its fault's list there. Raises SolveError when the sound engine
    itself breaks down.
    """
    rpm = np.array(sorted(speeds), dtype=float)
    numerics = numerics or Numerics()
    faults = [f for f in faults if f.applies(engine)]
    sound = _rows([engine] * len(rpm), rpm, fidelity, numerics, store, workers, on_tick)
    if any(r is None for r in sound):
        msg = f"{engine.name} itself could not be computed, so no fault of it can be"
        raise SolveError(msg, rpm=float(rpm[[r is None for r in sound].index(True)]), component="the sound engine")
    torque = np.array([r["torque"] for r in sound])
    span = Span(float(rpm[0]), float(rpm[-1]), float(rpm[int(np.argmax(torque))]))
    changed = [(f, s, float(r)) for f in faults if f.change for s in f.nodes for r in rpm]
    rows = iter(_rows([f.change(engine, s, r, span) for f, s, r in changed], [r for _, _, r in changed], fidelity,
                      numerics, store, workers, on_tick))
    base = _readings(engine, sound[-1])
    made = []
    for f in faults:
        per_node = []
        for s in f.nodes:
            if f.change:
                got = [next(rows) for _ in rpm]
                altered = f.change(engine, s, float(rpm[-1]), span)
            else:
                got = [r | {"torque": f.torque(r, s, float(v), span)} for r, v in zip(sound, rpm, strict=True)]
                altered = engine
            per_node.append(None if any(r is None or r["torque"] <= 0.0 for r in got) else
                            (s, np.log(np.array([r["torque"] for r in got]) / torque),
                             _readings(altered, got[-1]) | _override(f, s, base)))
        made.append(_between(f, per_node, base, len(rpm)))
    return Family(engine.name, rpm, torque, base, tuple(c for c in made if c is not None))


def torque_with(engine: Engine, fault: Fault | None, severity: float, speeds: Sequence[float], *,
                fidelity: str = "wave", numerics: Numerics | None = None, workers: int | None = 1) -> np.ndarray:
    """Torque (m,) N m of an engine with a fault at ``severity`` (None: sound) at rising ``speeds`` (rpm).

    Raises SolveError when a speed breaks down.
    """
    rpm, numerics = np.asarray(speeds, dtype=float), numerics or Numerics()
    changed = fault is not None and fault.change is not None
    span = Span(float(rpm[0]), float(rpm[-1]), float(rpm[len(rpm) // 2]))
    engines = [fault.change(engine, severity, float(r), span) if changed else engine for r in rpm]
    rows = _rows(engines, rpm, fidelity, numerics, None, workers, None)
    if any(r is None for r in rows):
        msg = f"{engine.name} with {fault.name if fault else 'no fault'} could not be computed"
        raise SolveError(msg, rpm=float(rpm[[r is None for r in rows].index(True)]), component="the engine")
    if fault is None or changed:
        return np.array([r["torque"] for r in rows])
    span = Span(span.low, span.high, float(rpm[int(np.argmax([r["torque"] for r in rows]))]))
    return np.array([fault.torque(r, severity, float(v), span) for r, v in zip(rows, rpm, strict=True)])


def _rows(engines: Sequence[Engine], speeds: Sequence[float], fidelity: str, numerics: Numerics, store, workers,
          on_tick) -> list[dict | None]:
    jobs = [Job(e, float(r), fidelity, numerics) for e, r in zip(engines, speeds, strict=True)]
    results = run(jobs, store=store, workers=workers, on_tick=on_tick).results
    rows = []
    for job, point in zip(jobs, results, strict=True):
        if isinstance(point, Failed):
            rows.append(None)
            continue
        p = performance(job.engine, point)
        back = max((v for name, v in point.junction_pressure.items() if "collector" in name or "merge" in name),
                   default=np.nan)
        rows.append({k: float(p[k]) for k in KEPT} | {"back_pressure": float(back),
                                                      "cylinders": job.engine.block.cylinders})
    return rows


def _readings(engine: Engine, row: dict) -> dict[str, float]:
    """What instruments would show at the highest speed: kPa, degrees C, lambda, bar, per cent."""
    b, day = engine.block, engine.day
    closing = 0.85 * b.swept_volume / b.clearance_volume + 1.0  # effective ratio when cranking
    return {
        "plenum pressure": row["plenum_pressure"] / 1e3, "air temperature": day.temperature - 273.15,
        "back pressure": (row["back_pressure"] - day.pressure) / 1e3, "lambda": engine.mixture.lambda_,
        "exhaust temperature": row["exhaust_temperature"] - 273.15, "timing low": 0.0, "timing high": 0.0,
        "throttle opening": 100.0, "cam centreline": 0.0, "oil temperature": 90.0, "coldest primary": 0.0,
        "cranking pressure": day.pressure * closing**1.25 / 1e5, "leak down": 5.0, "spring load": 0.0,
        "knock log": 0.0, "runner inside": 0.0, **_taped(engine),
    }


def _taped(engine: Engine) -> dict[str, float]:
    """Mean length (mm) and section (cm2) of the runners, without the head's port."""
    runners = [p for p in engine.intake.pipes if port_of(p) is not None]
    return {"runner length": 1e3 * float(np.mean([p.length for p in runners])),
            "runner section": 1e4 * float(np.mean([mean_area(p) for p in runners]))}


def _override(f: Fault, s: float, base: dict[str, float]) -> dict[str, float]:
    made = dict(f.readings(s)) if f.readings else {}
    if "cranking pressure" in made:
        made["cranking pressure"] = base["cranking pressure"] * max(1.0 + made["cranking pressure"] / 100.0, 0.2)
    return made


def _between(f: Fault, nodes: list, base: dict[str, float], m: int) -> FaultCurves | None:
    """Severities between the computed ones; from a third of the mildest on, whose effect is taken in proportion."""
    good = nodes[: next((i for i, n in enumerate(nodes) if n is None), len(nodes))]
    if not good:
        return None
    if len(f.nodes) == 1:
        s, effect, readings = good[0]
        return FaultCurves(f.key, f.name, f.prior, f.what, np.array([s]), effect[None], (readings,))
    points = [(f.nil, np.zeros(m), base), *good]
    severity, effect, readings = [], [], []
    for i, ((s0, e0, r0), (s1, e1, r1)) in enumerate(itertools.pairwise(points)):
        for k in range(1, BETWEEN + 1):
            t = k / BETWEEN
            if i == 0 and t < 0.4:
                continue
            severity.append(s0 + t * (s1 - s0))
            effect.append((1 - t) * e0 + t * e1)
            readings.append({key: (1 - t) * r0[key] + t * r1[key] for key in base})
    return FaultCurves(f.key, f.name, f.prior, f.what, np.array(severity), np.array(effect), tuple(readings))
