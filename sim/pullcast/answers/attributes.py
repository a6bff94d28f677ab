"""The attribute groups in which two engines can differ, and the engine between them that takes some of each.

``differing(base, other)`` lists the groups that make a difference; ``between(base, other, take)`` builds the engine
that has the groups in ``take`` from ``other`` and the rest from ``base``: nothing taken gives ``base`` itself, all
taken gives ``other`` itself.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace

from pullcast.answers import tract_mix
from pullcast.card.engine import Cam, Engine, Lobe
from pullcast.errors import InputError

LOBES = "cam lobes"  # duration and lift together
CAM = ("cam duration", "cam lift", "lobe separation", "cam advance", "cam phasing")
VALUES: dict[str, Callable[[Engine, Engine], Engine]] = {
    "compression": lambda e, o: replace(e, block=replace(e.block, compression_ratio=o.block.compression_ratio)),
    "bore, stroke and rod": lambda e, o: replace(e, block=replace(
        o.block, compression_ratio=e.block.compression_ratio)),
    "intake head flow": lambda e, o: _head(e, o, "intake"),
    "exhaust head flow": lambda e, o: _head(e, o, "exhaust"),
    "head ports": lambda e, o: replace(e, head=replace(
        e.head, intake=replace(e.head.intake, port=o.head.intake.port),
        exhaust=replace(e.head.exhaust, port=o.head.exhaust.port))),
    "fuel": lambda e, o: replace(e, fuel=o.fuel),
    "mixture": lambda e, o: replace(e, mixture=o.mixture),
    "spark and burning": lambda e, o: replace(e, burn=o.burn),
    "cylinder wall heat": lambda e, o: replace(e, walls=o.walls),
    "friction": lambda e, o: replace(e, friction=o.friction),
    "weather": lambda e, o: replace(e, day=o.day),
}
ALL = (*tract_mix.INTAKE, *CAM, *VALUES, *tract_mix.EXHAUST)


@dataclass(frozen=True)
class Attribute:
    """A group that differs: its name and its size on either engine (internal units of ``quantity``; nan: no one
    number tells it)."""

    name: str
    base: float
    other: float
    quantity: str = ""


def _head(engine: Engine, other: Engine, side: str) -> Engine:
    """The engine with valves and flow sheet of one side from another, its port kept."""
    mine, theirs = getattr(engine.head, side), getattr(other.head, side)
    return replace(engine, head=replace(engine.head, **{side: replace(theirs, port=mine.port)}))


def between(base: Engine, other: Engine, take: Collection[str], names: Collection[str] = ALL) -> Engine:
    """The engine with the groups in ``take`` from ``other``; with all of ``names`` taken, ``other`` itself.

    Raises InputError for engines of different numbers of cylinders.
    """
    take = set(take)
    if not take:
        return base
    if take >= set(names):
        return other
    _comparable(base, other)
    if LOBES in take:
        take |= {"cam duration", "cam lift"}
    engine = base
    for name in VALUES:
        if name in take:
            engine = VALUES[name](engine, other)
    changes = {"cam": _cam(base.cam, other.cam, take)}
    for side, groups in (("intake", tract_mix.INTAKE), ("exhaust", tract_mix.EXHAUST)):
        mine, theirs = getattr(base, side), getattr(other, side)
        wanted = [g for g in groups if g in names]
        if wanted and take >= set(wanted):
            changes[side] = theirs
        elif take & set(groups):
            changes[side] = tract_mix.mixed(mine, theirs, take, groups)
    return replace(engine, **changes)


def _comparable(base: Engine, other: Engine) -> None:
    if base.block.cylinders != other.block.cylinders:
        msg = (f"{base.name} has {base.block.cylinders} cylinders, {other.name} {other.block.cylinders}: a "
               "difference is split over attributes only between engines of one number of cylinders")
        raise InputError(msg)


def _cam(a: Cam, b: Cam, take: set[str]) -> Cam:
    """Cam ``a`` with shape, lift, lobe separation, advance and phasing each from ``b`` where taken."""
    if not take & set(CAM):
        return a
    if take >= set(CAM):
        return b

    def source(name: str) -> Cam:
        return b if name in take else a

    separation, advance = separation_of(source("lobe separation")), advance_of(source("cam advance"))
    sides = {}
    for side, centre in (("intake", separation - advance), ("exhaust", separation + advance)):
        shape, lift = (getattr(source(n), side) for n in ("cam duration", "cam lift"))
        sides[side] = replace(shape, lift=lift.lift, rocker_ratio=lift.rocker_ratio, lash=lift.lash,
                              centreline_deg=centre)
    return replace(source("cam duration"), name=a.name, phasing=source("cam phasing").phasing, **sides)


def separation_of(cam: Cam) -> float:
    """Lobe separation, deg: mean of both centrelines."""
    return (cam.intake.centreline_deg + cam.exhaust.centreline_deg) / 2


def advance_of(cam: Cam) -> float:
    """Advance, deg: lobe separation less the intake centreline."""
    return separation_of(cam) - cam.intake.centreline_deg


def differing(base: Engine, other: Engine) -> tuple[Attribute, ...]:
    """The groups in which two engines differ, in the order of ``ALL``.

    A group differs when taking it alone changes the base, or leaving it alone out changes the other. Lobe shape and
    lift are one group (``LOBES``) where a measured table holds both or no lobe fits one with the other.
    """
    _comparable(base, other)
    names = [n for n in ALL if not _alike(between(base, other, {n}), base)
             or not _alike(between(base, other, set(ALL) - {n}), other)]
    for groups in (tract_mix.INTAKE, tract_mix.EXHAUST):
        side = "intake" if groups is tract_mix.INTAKE else "exhaust"
        rest, layout = set(groups[:-1]), groups[-1]
        whole = tract_mix.mixed(getattr(base, side), getattr(other, side), rest, groups)
        if layout in names and _alike(whole, getattr(other, side)):
            names.remove(layout)
    both = {"cam duration", "cam lift"}
    if both <= set(names) and not lobes_fit(base, other):
        names = [LOBES if n == "cam duration" else n for n in names if n != "cam lift"]
    return tuple(Attribute(n, *sizes_of(base, other, n)) for n in names)


def lobes_fit(base: Engine, other: Engine) -> bool:
    """Whether shapes and lifts of two cams can be had in every mixture."""
    from pullcast.network.lift import valve_lift

    if any(lobe.table for cam in (base.cam, other.cam) for lobe in (cam.intake, cam.exhaust)):
        return False
    try:
        for take in ({"cam duration"}, {"cam lift"}):
            cam = _cam(base.cam, other.cam, take)
            valve_lift(cam.intake, "intake"), valve_lift(cam.exhaust, "exhaust")
    except InputError:
        return False
    return True


def _alike(a, b) -> bool:
    """Whether two values are the same to nine digits, names, notes and facts left out."""
    if dataclasses.is_dataclass(a):
        skipped = {"name", "text", "source", "assumed", "findings", "facts", "limits", "speeds", "engine_class"}
        named = type(a).__name__ in ("Pipe", "Volume", "Junction")
        fields = [f.name for f in dataclasses.fields(a) if f.name not in skipped or (named and f.name == "name")]
        return type(a) is type(b) and all(_alike(getattr(a, f), getattr(b, f)) for f in fields)
    if isinstance(a, tuple):
        return isinstance(b, tuple) and len(a) == len(b) and all(map(_alike, a, b))
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-12)
    return a == b


def sizes_of(base: Engine, other: Engine, name: str) -> tuple[float, float, str]:
    """What tells the size of a group: its value on both engines (internal units) and its quantity."""
    measure, quantity = SIZES.get(name, (None, ""))
    if measure is None:
        return math.nan, math.nan, ""
    return measure(base), measure(other), quantity


def _runners(tract) -> list:
    return [p for p in tract.pipes if tract_mix.port_of(p) is not None]


def _mean(values: list[float]) -> float:
    return sum(values) / len(values) if values else math.nan


def mean_area(pipe) -> float:
    """Volume over length, m2 (diameters linear within a segment)."""
    return sum(s.length * (s.area_start + math.sqrt(s.area_start * s.area_end) + s.area_end) / 3
               for s in pipe.segments) / pipe.length


def _bends(tract) -> float:
    return _mean([sum(s.bend_loss for s in p.segments) for p in _runners(tract)])


def _walls(tract) -> float:
    pipes = _runners(tract)
    return _mean([sum(s.length * s.wall_temperature for s in p.segments) / p.length for p in pipes])


def _longest(lobe: Lobe) -> float:
    """Duration at the highest check lift, deg; nan for a measured table."""
    rows = [d for d in lobe.durations if d.side == "tappet"] or list(lobe.durations)
    return max(rows, key=lambda d: d.lift).duration_deg if rows else math.nan


def _flow(side) -> float:
    return max(side.flow.flows) if side.flow is not None else math.nan


def _collector_length(engine: Engine) -> float:
    return _mean([p.segments[0].length for p in engine.exhaust.pipes if p.name.startswith("collector ")])


SIZES: dict[str, tuple[Callable[[Engine], float], str]] = {
    "runner length": (lambda e: _mean([p.length for p in _runners(e.intake)]), "length"),
    "runner section": (lambda e: _mean([mean_area(p) for p in _runners(e.intake)]), "area"),
    "runner entry": (lambda e: _mean([tract_mix.to_port(p)[0].loss_in for p in _runners(e.intake)]), "loss"),
    "runner bends": (lambda e: _bends(e.intake), "loss"),
    "plenum volume": (lambda e: sum(v.volume for v in e.intake.volumes), "displacement"),
    "throttle": (lambda e: tract_mix.plate_areas(e.intake), "area"),
    "intake wall heat": (lambda e: _walls(e.intake), "temperature"),
    "cam duration": (lambda e: _longest(e.cam.intake), "angle"),
    LOBES: (lambda e: e.cam.intake.lift, "length"),
    "cam lift": (lambda e: e.cam.intake.lift, "length"),
    "lobe separation": (lambda e: separation_of(e.cam), "angle"),
    "cam advance": (lambda e: advance_of(e.cam), "angle"),
    "compression": (lambda e: e.block.compression_ratio, "fraction"),
    "intake head flow": (lambda e: _flow(e.head.intake), "volume flow"),
    "exhaust head flow": (lambda e: _flow(e.head.exhaust), "volume flow"),
    "mixture": (lambda e: e.mixture.lambda_, "fraction"),
    "weather": (lambda e: e.day.temperature, "temperature"),
    "primary length": (lambda e: _mean([p.length for p in _runners(e.exhaust)]), "length"),
    "primary diameter": (lambda e: math.sqrt(4 / math.pi * _mean([mean_area(p) for p in _runners(e.exhaust)])),
                         "length"),
    "primary bends": (lambda e: _bends(e.exhaust), "loss"),
    "collector": (_collector_length, "length"),
    "exhaust wall heat": (lambda e: _walls(e.exhaust), "temperature"),
}
