"""Faults that make an engine lose, as changes of the engine or of what it delivers, with how common they are.

Which faults there are, how often and how far they go is common practice with no source. ``change`` gives the engine
with the fault at a severity and speed; ``torque`` gives the torque where no change of the engine can express it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers.tract_mix import plate_areas, port_of
from pullcast.card.engine import End, Engine, Pipe, Tract

PART = "the part itself"


@dataclass(frozen=True)
class Span:
    """Where a fault is looked for: lowest and highest speed (rpm) and the speed of the torque peak."""

    low: float
    high: float
    peak: float

    def at(self, rpm):
        """Place of ``rpm`` in the span, 0 to 1."""
        return (rpm - self.low) / max(self.high - self.low, 1.0)


@dataclass(frozen=True)
class Fault:
    """One cause: ``prior`` weight among all; ``nodes`` severities it is computed at, mildest first; ``what`` says the
    severity in words. ``readings`` overrides what checks would read, at a severity."""

    key: str
    name: str
    prior: float
    nodes: tuple[float, ...]
    what: str
    change: Callable[[Engine, float, float, Span], Engine] | None = None
    torque: Callable[[dict, float, float, Span], float] | None = None  # row (SI), severity, rpm, span -> N m
    readings: Callable[[float], dict[str, float]] | None = None
    nil: float = 0.0  # the severity that is no fault

    def applies(self, engine: Engine) -> bool:
        """A dead cylinder needs another one that runs."""
        return self.key != "dead cylinder" or engine.block.cylinders > 1


def _pipes(tract: Tract, edit: Callable[[Pipe], Pipe]) -> Tract:
    return replace(tract, pipes=tuple(edit(p) for p in tract.pipes))


def _throttle(e: Engine, share: float, rpm: float, span: Span) -> Engine:
    """Plates open to ``share`` of their area; without plates the inlets get the loss of such a plate."""
    def plate(end: End) -> End:
        return end if end.area is None else replace(end, area=share * end.area)

    def inlet(p: Pipe) -> Pipe:
        if p.start.node != "ambient":
            return p
        return replace(p, start=replace(p.start, loss_in=p.start.loss_in + (1.0 / (0.8 * share) - 1.0) ** 2))

    if plate_areas(e.intake) > 0.0 or any(x.area for p in e.intake.pipes for x in (p.start, p.end)):
        return replace(e, intake=_pipes(e.intake, lambda p: replace(p, start=plate(p.start), end=plate(p.end))))
    return replace(e, intake=_pipes(e.intake, inlet))


def _hot(e: Engine, kelvin: float, rpm: float, span: Span) -> Engine:
    """Warmer air of the same humidity by mass (relative humidity falls by half every 11 K)."""
    day = e.day
    return replace(e, day=replace(day, temperature=day.temperature + kelvin,
                                  humidity=day.humidity * 0.5 ** (kelvin / 11.0)))


def _exhaust(e: Engine, share: float, rpm: float, span: Span) -> Engine:
    """An orifice of ``share`` of the pipe's area at every outlet."""
    def edit(p: Pipe) -> Pipe:
        if p.end.node != "ambient":
            return p
        return replace(p, end=replace(p.end, area=share * p.segments[-1].area_end, end_length=0.0))

    return replace(e, exhaust=_pipes(e.exhaust, edit))


def _cam(e: Engine, retard: float, rpm: float, span: Span) -> Engine:
    """Both lobes later by ``retard`` deg."""
    c = e.cam
    intake = replace(c.intake, centreline_deg=c.intake.centreline_deg + retard)
    exhaust = replace(c.exhaust, centreline_deg=c.exhaust.centreline_deg - retard)
    return replace(e, cam=replace(c, intake=intake, exhaust=exhaust))


def _late(e: Engine, degrees: float, rpm: float, span: Span) -> Engine:
    """Burning later by ``degrees`` at every speed."""
    sign = -1.0 if e.burn.timing == "spark" else 1.0
    return replace(e, burn=replace(e.burn, table=tuple((r, v + sign * degrees) for r, v in e.burn.table)))


def _lambda(e: Engine, factor: float, rpm: float, span: Span) -> Engine:
    """Mixture leaner (above 1) or richer by ``factor``, within what the gas tables hold."""
    return replace(e, mixture=replace(e.mixture, lambda_=min(max(e.mixture.lambda_ * factor, 0.70), 1.40)))


def _runner(e: Engine, edit: Callable) -> Engine:
    def pipe(p: Pipe) -> Pipe:
        return replace(p, segments=tuple(map(edit, p.segments))) if port_of(p) is not None else p

    return replace(e, intake=_pipes(e.intake, pipe))


def _restrictive(e: Engine, loss: float, rpm: float, span: Span) -> Engine:
    pieces = {k: len(p.segments) for p in e.intake.pipes if (k := port_of(p)) is not None}
    return _runner(e, lambda s: replace(s, bend_loss=s.bend_loss + loss / pieces[min(pieces)]))


def _length(e: Engine, factor: float, rpm: float, span: Span) -> Engine:
    return _runner(e, lambda s: replace(s, length=s.length * factor))


def _section(e: Engine, factor: float, rpm: float, span: Span) -> Engine:
    return _runner(e, lambda s: replace(s, area_start=s.area_start * factor, area_end=s.area_end * factor))


def _indicated(row: dict, lost: float) -> float:
    """Torque with the share ``lost`` of the gross indicated work gone, friction and pumping as before."""
    return row["torque"] * (1.0 - lost * row["gross_imep"] / row["bmep"])


FAULTS = (
    Fault("throttle", "a throttle not fully open, or a blocked inlet", 1.5, (0.85, 0.65, 0.5, 0.38),
          "{:.0%} of the area open", _throttle, readings=lambda s: {"throttle opening": 100.0 * s}, nil=1.0),
    Fault("hot air", "hot intake air", 1.2, (6.0, 15.0, 30.0, 45.0), "{:.0f} K hotter", _hot),
    Fault("exhaust", "a restricted exhaust", 0.8, (0.6, 0.45, 0.34, 0.26), "an outlet of {:.0%} of the area",
          _exhaust, nil=1.0),
    Fault("cam late", "a cam too late (retarded)", 0.7, (3.0, 7.0, 13.0, 20.0), "{:.0f} deg late", _cam,
          readings=lambda s: {"cam centreline": s}),
    Fault("cam early", "a cam too early (advanced)", 0.5, (3.0, 7.0, 13.0, 20.0), "{:.0f} deg early",
          lambda e, s, rpm, span: _cam(e, -s, rpm, span), readings=lambda s: {"cam centreline": -s}),
    Fault("spark", "a spark too late at all speeds", 1.2, (5.0, 9.0, 14.0, 20.0), "{:.0f} deg late", _late,
          readings=lambda s: {"timing low": -s, "timing high": -s}),
    Fault("spark lag", "a spark that lags more and more with speed", 0.6, (6.0, 12.0, 18.0, 25.0),
          "{:.0f} deg late at the top", lambda e, s, rpm, span: _late(e, s * span.at(rpm), rpm, span),
          readings=lambda s: {"timing high": -s}),
    Fault("rich", "a mixture too rich", 0.7, (0.93, 0.87, 0.82), "lambda times {:.2f}", _lambda, nil=1.0),
    Fault("lean", "a mixture too lean, or an intake that leaks", 0.6, (1.1, 1.2, 1.3, 1.4),
          "lambda times {:.2f}", _lambda, nil=1.0),
    Fault("fuel late", "a fuel supply that runs out with speed", 0.6, (1.12, 1.22, 1.33, 1.45),
          "lambda times {:.2f} at the top",
          lambda e, s, rpm, span: _lambda(e, 1.0 + (s - 1.0) * max(2.0 * span.at(rpm) - 1.0, 0.0), rpm, span),
          nil=1.0),
    Fault("oil", "cold or thick oil", 0.7, (1.12, 1.25, 1.4, 1.6), "friction times {:.2f}",
          lambda e, s, rpm, span: replace(e, friction=replace(e.friction, factor=e.friction.factor * s)),
          readings=lambda s: {"oil temperature": 90.0 - 90.0 * (s - 1.0)}, nil=1.0),
    Fault("dead cylinder", "a dead cylinder", 0.6, (1.0,), "one cylinder without fire",
          torque=lambda row, s, rpm, span: _indicated(row, s / row["cylinders"]),
          readings=lambda s: {"coldest primary": -500.0 * s}),
    Fault("leakage", "low compression or leakage", 0.9, (0.02, 0.06, 0.12, 0.2),
          "{:.0%} of the work lost at the bottom",
          torque=lambda row, s, rpm, span: _indicated(row, s * span.low / rpm),
          readings=lambda s: {"cranking pressure": -125.0 * s, "leak down": 5.0 + 150.0 * s}),
    Fault("float", "valve float", 0.6, (0.05, 0.12, 0.25, 0.4), "{:.0%} of the work lost at the top",
          torque=lambda row, s, rpm, span: _indicated(row, s * max((span.at(rpm) - 0.6) / 0.4, 0.0) ** 1.5),
          readings=lambda s: {"spring load": -20.0}),
    Fault("knock", "a spark pulled back by the knock control about the torque peak", 0.6, (0.03, 0.06, 0.1),
          "{:.0%} of the work lost there",
          torque=lambda row, s, rpm, span: _indicated(row, s * float(np.exp(-((rpm - span.peak) / 700.0) ** 2))),
          readings=lambda s: {"knock log": 1.0}),
    Fault("part: restriction", "a restrictive runner or port (the part itself)", 1.0, (0.4, 1.0, 2.0, 3.5),
          "loss coefficient {:.1f} more", _restrictive, readings=lambda s: {"runner inside": 1.0}),
    Fault("part: short", "a runner too short (the part itself)", 0.8, (0.85, 0.7, 0.55), "{:.0%} of the length",
          _length, nil=1.0),
    Fault("part: long", "a runner too long (the part itself)", 0.6, (1.15, 1.35, 1.6), "{:.0%} of the length",
          _length, nil=1.0),
    Fault("part: small", "a runner too small (the part itself)", 0.8, (0.9, 0.8, 0.68), "{:.0%} of the area",
          _section, nil=1.0),
    Fault("part: large", "a runner too large (the part itself)", 0.5, (1.15, 1.35, 1.6), "{:.0%} of the area",
          _section, nil=1.0),
)
