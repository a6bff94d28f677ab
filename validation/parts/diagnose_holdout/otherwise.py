"""Faults put into an engine in other ways than the diagnosis models them, and faults that it does not know.

Magnitudes are drawn between mild and severe (common practice, no source). ``how`` (0 to 1) is how far a fault goes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers.performance import performance
from pullcast.answers.tract_mix import port_of
from pullcast.card.engine import Engine, Pipe
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.sweep import Failed


@dataclass(frozen=True)
class Place:
    """Where in the span a speed lies: ``x`` 0 to 1; ``peak`` the x of the torque peak; ``onset`` a drawn 0 to 1."""

    x: float
    peak: float
    onset: float


Change = Callable[[Engine, float, Place], Engine]


def _along(low: float, high: float, how: float) -> float:
    return low + (high - low) * how


def _pipes(engine: Engine, side: str, edit: Callable[[Pipe], Pipe]) -> Engine:
    tract = getattr(engine, side)
    return replace(engine, **{side: replace(tract, pipes=tuple(edit(p) for p in tract.pipes))})


def _first(pipe: Pipe, k: float) -> Pipe:
    return replace(pipe, segments=(replace(pipe.segments[0], bend_loss=pipe.segments[0].bend_loss + k),
                                   *pipe.segments[1:]))


def clogged(e: Engine, how: float, at: Place) -> Engine:
    """A clogged filter: a loss along the first pipe."""
    k = _along(0.7, 6.0, how**2)
    return _pipes(e, "intake", lambda p: _first(p, k) if p.start.node == "ambient" else p)


def hot(e: Engine, how: float, at: Place) -> Engine:
    """Warm air that also warms the walls of the intake."""
    rise, day = _along(8.0, 40.0, how), e.day
    warmer = replace(e, day=replace(day, temperature=day.temperature + rise,
                                    humidity=day.humidity * 0.5 ** (rise / 11.0)))
    return _pipes(warmer, "intake", lambda p: replace(p, segments=tuple(
        replace(s, wall_temperature=s.wall_temperature + 0.5 * rise) for s in p.segments)))


def choked_exhaust(e: Engine, how: float, at: Place) -> Engine:
    """Loss along the last pipe."""
    k = _along(4.0, 18.0, how)
    return _pipes(e, "exhaust", lambda p: _first(p, k) if p.end.node == "ambient" else p)


def cam(e: Engine, degrees: float) -> Engine:
    """On a four-valve engine the intake cam alone, else both."""
    c = e.cam
    intake = replace(c.intake, centreline_deg=c.intake.centreline_deg + degrees)
    both = 0.0 if e.head.intake.count > 1 else degrees
    exhaust = replace(c.exhaust, centreline_deg=c.exhaust.centreline_deg - both)
    return replace(e, cam=replace(c, intake=intake, exhaust=exhaust))


def later(e: Engine, degrees: float) -> Engine:
    """Burning later by ``degrees``."""
    sign = -1.0 if e.burn.timing == "spark" else 1.0
    return replace(e, burn=replace(e.burn, table=tuple((r, v + sign * degrees) for r, v in e.burn.table)))


def mixture(e: Engine, factor: float, evaporated: float = 0.0) -> Engine:
    """Lambda times ``factor``, a little more of the fuel evaporated."""
    m = e.mixture
    return replace(e, mixture=replace(m, lambda_=min(max(m.lambda_ * factor, 0.70), 1.40),
                                      evaporated=min(m.evaporated + evaporated, 1.0)))


def stiff(e: Engine, how: float, at: Place) -> Engine:
    """Cold oil: more friction, a part of it a torque that does not change with speed."""
    f, litres = e.friction, 1e3 * e.block.displacement
    return replace(e, friction=replace(f, factor=f.factor * _along(1.08, 1.35, how),
                                       accessory_torque=f.accessory_torque + _along(0.3, 1.5, how) * litres))


def knocking(e: Engine, how: float, at: Place) -> Engine:
    """Spark pulled back about the torque peak, by degrees."""
    return later(e, _along(8.0, 18.0, how) * max(1.0 - abs(at.x - at.peak) / 0.28, 0.0))


def poor_entry(e: Engine, how: float, at: Place) -> Engine:
    """Runners with a poor entry."""
    k = _along(0.5, 3.5, how)
    return _pipes(e, "intake", lambda p: p if port_of(p) is None else (
        replace(p, start=replace(p.start, loss_in=p.start.loss_in + k)) if p.end.node.startswith("port ") else
        replace(p, end=replace(p.end, loss_in=p.end.loss_in + k))))


def runner_length(e: Engine, factor: float) -> Engine:
    """Only the longest stretch of each runner longer or shorter, so that the runner is by ``factor``."""
    def edit(p: Pipe) -> Pipe:
        if port_of(p) is None:
            return p
        k = int(np.argmax([s.length for s in p.segments]))
        length = max(p.segments[k].length + (factor - 1.0) * p.length, 0.01)
        return replace(p, segments=(*p.segments[:k], replace(p.segments[k], length=length), *p.segments[k + 1:]))
    return _pipes(e, "intake", edit)


def runner_taper(e: Engine, factor: float) -> Engine:
    """Runners whose section is scaled more at the plenum than at the head."""
    def edit(p: Pipe) -> Pipe:
        if port_of(p) is None:
            return p
        n, out = len(p.segments), []
        for i, s in enumerate(p.segments):
            a, b = (1.0 + (factor - 1.0) * (1.3 - 0.6 * t) for t in (i / n, (i + 1) / n))
            out.append(replace(s, area_start=s.area_start * a, area_end=s.area_end * b))
        return replace(p, segments=tuple(out))
    return _pipes(e, "intake", edit)


CHANGES: dict[str, Change] = {
    "throttle": clogged, "hot air": hot, "exhaust": choked_exhaust,
    "cam late": lambda e, h, at: cam(e, _along(4.0, 18.0, h)),
    "cam early": lambda e, h, at: cam(e, -_along(4.0, 18.0, h)),
    "spark": lambda e, h, at: later(e, _along(6.0, 18.0, h) + 1.5 * np.sin(9.0 * (at.x + at.onset))),
    "spark lag": lambda e, h, at: later(e, _along(8.0, 24.0, h) * at.x**1.5),
    "rich": lambda e, h, at: mixture(e, _along(0.92, 0.81, h), 0.1),
    "lean": lambda e, h, at: mixture(e, _along(1.12, 1.38, h) + 0.05 * (at.x - 0.5)),
    "fuel late": lambda e, h, at: mixture(e, 1.0 + _along(0.14, 0.42, h) * max(
        (at.x - 0.3 - 0.3 * at.onset) / (0.7 - 0.3 * at.onset), 0.0) ** 1.3),
    "oil": stiff, "knock": knocking, "part: restriction": poor_entry,
    "part: short": lambda e, h, at: runner_length(e, _along(0.82, 0.58, h)),
    "part: long": lambda e, h, at: runner_length(e, _along(1.2, 1.55, h)),
    "part: small": lambda e, h, at: runner_taper(e, _along(0.9, 0.72, h)),
    "part: large": lambda e, h, at: runner_taper(e, _along(1.15, 1.55, h)),
}
# share of the gross work lost
SHARES: dict[str, Callable[[float, Place, float, float], float]] = {
    "leakage": lambda h, at, ratio, n: _along(0.03, 0.2, h) * ratio**0.7,
    "float": lambda h, at, ratio, n: _along(0.08, 0.4, h) * max((at.x - 0.55 - 0.2 * at.onset) / 0.45, 0.0),
    "dead cylinder": lambda h, at, ratio, n: _along(0.93, 1.0, h) / n,
}


def worn_lobe(side: str) -> Change:
    """A lobe worn down."""
    def change(e: Engine, how: float, at: Place) -> Engine:
        lobe = getattr(e.cam, side)
        return replace(e, cam=replace(e.cam, **{side: replace(lobe, lift=lobe.lift * _along(0.8, 0.6, how))}))
    return change


def wrong_primaries(e: Engine, how: float, at: Place) -> Engine:
    """Primaries of another length."""
    factor = 0.55 if at.onset < 0.5 else 1.7
    return _pipes(e, "exhaust", lambda p: p if port_of(p) is None else replace(
        p, segments=tuple(replace(s, length=s.length * factor) for s in p.segments)))


UNKNOWN: dict[str, Change] = {"intake lobe worn": worn_lobe("intake"), "exhaust lobe worn": worn_lobe("exhaust"),
                              "wrong primaries": wrong_primaries}


def strange_curve(kind: str, x: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """ln ratio (m,) of what comes and goes with speed: a band of misfire, a pickup that sees double, two holes."""
    if kind == "misfire in a band":
        start, width = rng.uniform(0.0, 0.7), rng.uniform(0.12, 0.3)
        return -rng.uniform(0.06, 0.18) * ((x >= start) & (x <= start + width))
    if kind == "timing that wanders":
        return -rng.uniform(0.02, 0.05) * (1.0 + np.sin(2 * np.pi * (rng.uniform(1.3, 2.6) * x + rng.uniform())))
    a, b = rng.choice(len(x), 2, replace=False)
    y = np.zeros(len(x))
    y[[a, b]] = -rng.uniform(0.05, 0.14, 2)
    return y


STRANGE = ("misfire in a band", "timing that wanders", "two holes")


def disguised(e: Engine, rng: np.random.Generator) -> Engine:
    """The engine as nobody knows it."""
    u = rng.uniform
    made = replace(e, walls=replace(e.walls, factor=float(u(0.8, 1.25))),
                   friction=replace(e.friction, factor=e.friction.factor * float(u(0.85, 1.18))),
                   burn=replace(e.burn, duration_10_90_deg=e.burn.duration_10_90_deg * float(u(0.88, 1.14))),
                   mixture=replace(e.mixture, evaporated=float(u(0.25, 0.75))),
                   block=replace(e.block, compression_ratio=e.block.compression_ratio * float(u(0.97, 1.03))))
    return later(made, float(u(-2.0, 2.0)))


def rows_of(engines: list[Engine], rpm: np.ndarray, fidelity: str, store=None) -> list[dict] | None:
    """Results of one engine a speed; None when any breaks down."""
    jobs = [Job(e, float(r), fidelity, Numerics()) for e, r in zip(engines, rpm, strict=True)]
    points = run(jobs, store=store, workers=1).results
    if any(isinstance(p, Failed) for p in points):
        return None
    return [performance(e, p) for e, p in zip(engines, points, strict=True)]


def effect_of(engine: Engine, key: str, how: float, onset: float, rpm: np.ndarray,
              fidelity: str) -> np.ndarray | None:
    """ln of the torque with the fault over without (m,); None when an engine breaks down."""
    sound = rows_of([engine] * len(rpm), rpm, fidelity)
    if sound is None:
        return None
    torque = np.array([r["torque"] for r in sound])
    x = (rpm - rpm[0]) / (rpm[-1] - rpm[0])
    places = [Place(float(v), float(x[int(np.argmax(torque))]), onset) for v in x]
    if key in SHARES:
        n = engine.block.cylinders
        lost = [SHARES[key](how, at, rpm[0] / v, n) for at, v in zip(places, rpm, strict=True)]
        with_fault = np.array([r["torque"] * (1.0 - k * r["gross_imep"] / r["bmep"])
                               for r, k in zip(sound, lost, strict=True)])
    else:
        change = CHANGES.get(key) or UNKNOWN[key]
        rows = rows_of([change(engine, how, at) for at in places], rpm, fidelity)
        if rows is None:
            return None
        with_fault = np.array([r["torque"] for r in rows])
    return np.log(with_fault / torque) if (with_fault > 0.0).all() else None
