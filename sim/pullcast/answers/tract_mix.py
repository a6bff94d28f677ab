"""A tract between two others: some of its attributes from one engine, the rest from the other.

The *layout* (which pipes, volumes and junctions there are and what they join) comes whole from one of the two;
lengths, section schedules, entries, bends, walls, plenum volume and throttles can each come from either. Pipes are
matched by the cylinder whose port they reach, schedules so that a longer runner keeps its taper.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection
from dataclasses import replace

from pullcast.card.engine import End, Pipe, Segment, Tract, Volume

INTAKE = ("runner length", "runner section", "runner entry", "runner bends", "plenum volume", "throttle",
          "intake wall heat", "intake layout")
EXHAUST = ("primary length", "primary diameter", "primary bends", "collector", "exhaust wall heat",
           "exhaust layout")

Segments = tuple[Segment, ...]


def mixed(a: Tract, b: Tract, take: Collection[str], names: tuple[str, ...]) -> Tract:
    """Tract ``a`` with the attributes in ``take`` from ``b``; ``names`` is ``INTAKE`` or ``EXHAUST``.

    Attributes that one of the two does not have (a plenum, a throttle plate) stay with the layout.
    """
    intake = names is INTAKE
    layout = b if names[-1] in take else a

    def source(name: str) -> Tract:
        return b if name in take else a

    length, section, bends = (source(n) for n in (names[0], names[1], "runner bends" if intake else "primary bends"))
    entry = source("runner entry") if intake else layout
    walls = source("intake wall heat" if intake else "exhaust wall heat")
    pipes = []
    for pipe in layout.pipes:
        k = port_of(pipe)
        if k is not None:
            pipes.append(_port_pipe(pipe, k, *(_at_port(t)[k] for t in (length, section, bends, walls, entry))))
        elif intake and _has_plate(pipe):
            pipes.append(_with_walls(_throttled(pipe, layout, source("throttle")), layout, walls))
        else:
            if not intake and pipe.name.startswith("collector "):
                pipe = _collector(pipe, source("collector"))
            pipes.append(_with_walls(pipe, layout, walls))
    rooms = _rooms(layout, source("plenum volume") if intake else layout, walls)
    return replace(layout, pipes=tuple(pipes), volumes=rooms)


def port_of(pipe: Pipe) -> int | None:
    """The cylinder whose port the pipe reaches, None if it reaches none."""
    for end in (pipe.start, pipe.end):
        if end.node.startswith("port "):
            return int(end.node.split()[1])
    return None


def to_port(pipe: Pipe) -> tuple[End, Segments]:
    """The open end of a pipe that reaches a port, and its segments from there to the port."""
    if pipe.end.node.startswith("port "):
        return pipe.start, pipe.segments
    return pipe.end, flipped(pipe.segments)


def flipped(segments: Segments) -> Segments:
    """The same stretch walked the other way."""
    return tuple(replace(s, area_start=s.area_end, area_end=s.area_start) for s in reversed(segments))


def _at_port(tract: Tract) -> dict[int, Pipe]:
    return {k: p for p in tract.pipes if (k := port_of(p)) is not None}


def _port_pipe(pipe: Pipe, k: int, length: Pipe, section: Pipe, bends: Pipe, walls: Pipe, entry: Pipe) -> Pipe:
    """The pipe to port ``k`` with each attribute from the pipe given for it; joined as ``pipe``."""
    segments = merged(*(to_port(p)[1] for p in (section, bends, walls, length)))
    mouth, other = to_port(pipe)[0], to_port(entry)[0]
    mouth = replace(mouth, loss_in=other.loss_in, loss_out=other.loss_out, end_length=other.end_length,
                    shaped=other.shaped)
    if pipe.end.node.startswith("port "):
        return replace(pipe, start=mouth, segments=segments)
    return replace(pipe, end=mouth, segments=flipped(segments))


def merged(section: Segments, bends: Segments, walls: Segments, length: Segments) -> Segments:
    """Segments with areas, bend losses and roughness, wall data and lengths of four stretches.

    Stretches of the same number of segments are matched one by one (a throttle body stays one), others over their
    relative length. Loss coefficients keep their sums.
    """
    if len(section) == len(bends) == len(walls) == len(length):
        return tuple(replace(a, length=le.length, roughness=b.roughness, bend_loss=b.bend_loss, friction=b.friction,
                             wall_temperature=w.wall_temperature, heat_factor=w.heat_factor)
                     for a, b, w, le in zip(section, bends, walls, length, strict=True))
    total = sum(s.length for s in length)
    edges = sorted({round(x, 9) for stretch in (section, bends, walls) for x in _edges(stretch)})
    made = []
    for low, high in itertools.pairwise(edges):
        a, b, w = (_over(stretch, low, high) for stretch in (section, bends, walls))
        made.append(Segment(total * (high - low), a.area_start, a.area_end, wall_temperature=w.wall_temperature,
                            roughness=b.roughness, bend_loss=b.bend_loss, heat_factor=w.heat_factor,
                            friction=b.friction))
    return tuple(made)


def _edges(segments: Segments) -> list[float]:
    whole, at, edges = sum(s.length for s in segments), 0.0, [0.0]
    for s in segments:
        at += s.length / whole
        edges.append(min(at, 1.0))
    edges[-1] = 1.0
    return edges


def _over(segments: Segments, low: float, high: float) -> Segment:
    """The part of a stretch between two relative places that lie within one of its segments."""
    edges, middle = _edges(segments), 0.5 * (low + high)
    i = next(i for i in range(len(segments)) if middle <= edges[i + 1] or i == len(segments) - 1)
    s, span = segments[i], edges[i + 1] - edges[i]
    d0, d1 = math.sqrt(s.area_start), math.sqrt(s.area_end)
    at = [(d0 + (d1 - d0) * min(max((x - edges[i]) / span, 0.0), 1.0)) ** 2 for x in (low, high)]
    return replace(s, area_start=at[0], area_end=at[1], bend_loss=s.bend_loss * (high - low) / span)


def _has_plate(pipe: Pipe) -> bool:
    return pipe.start.area is not None or pipe.end.area is not None


def plates(tract: Tract) -> list[Pipe]:
    """The pipes with a throttle plate that reach no port."""
    return [p for p in tract.pipes if _has_plate(p) and port_of(p) is None]


def plate_areas(tract: Tract) -> float:
    """Effective area of all throttle plates together, m2."""
    return sum((p.start.area or 0.0) + (p.end.area or 0.0) for p in plates(tract))


def _throttled(pipe: Pipe, layout: Tract, source: Tract) -> Pipe:
    """A throttle pipe of the layout with the source's plate area, bore, body and inlet loss (shared out evenly)."""
    mine, theirs = plates(layout), plates(source)
    if source is layout or not theirs:
        return pipe
    twin = next((p for p in theirs if p.name == pipe.name), None) if len(mine) == len(theirs) else None
    twin, share = (twin, 1.0) if twin is not None else (theirs[0], len(theirs) / len(mine))
    walls = pipe.segments[0]
    segments = tuple(replace(s, area_start=s.area_start * share, area_end=s.area_end * share,
                             wall_temperature=walls.wall_temperature, heat_factor=walls.heat_factor)
                     for s in twin.segments)
    start, end = (replace(here, loss_in=there.loss_in, loss_out=there.loss_out,
                          end_length=there.end_length if share == 1.0 else here.end_length,
                          area=None if there.area is None else there.area * share)
                  for here, there in ((pipe.start, twin.start), (pipe.end, twin.end)))
    return replace(pipe, start=start, end=end, segments=segments)


def _collector(pipe: Pipe, source: Tract) -> Pipe:
    """The pipe with length and section of the first stretch of the source's pipe of the same name."""
    twin = next((p for p in source.pipes if p.name == pipe.name), None)
    if twin is None:
        return pipe
    first = twin.segments[0]
    mine = replace(pipe.segments[0], length=first.length, area_start=first.area_start, area_end=first.area_end)
    return replace(pipe, segments=(mine, *pipe.segments[1:]))


def _with_walls(pipe: Pipe, layout: Tract, walls: Tract) -> Pipe:
    """A pipe that reaches no port with wall temperature and heat factor of its namesake in ``walls``, if any."""
    twin = next((p for p in walls.pipes if p.name == pipe.name), None)
    if walls is layout or twin is None:
        return pipe
    warm = tuple(replace(s, wall_temperature=w.wall_temperature, heat_factor=w.heat_factor)
                 for s, w in zip(pipe.segments, twin.segments, strict=False))
    return replace(pipe, segments=warm + pipe.segments[len(warm):])


def _rooms(layout: Tract, size: Tract, walls: Tract) -> tuple[Volume, ...]:
    """Volumes of the layout with their sizes from ``size`` (in all; shared out as in the layout) and their walls."""
    rooms = layout.volumes
    if size is not layout and rooms and size.volumes:
        twins = {v.name: v for v in size.volumes}
        if set(twins) == {v.name for v in rooms}:
            rooms = tuple(replace(v, volume=twins[v.name].volume, wall_area=twins[v.name].wall_area) for v in rooms)
        else:
            scale = sum(v.volume for v in size.volumes) / sum(v.volume for v in rooms)
            rooms = tuple(replace(v, volume=v.volume * scale, wall_area=v.wall_area * scale ** (2 / 3))
                          for v in rooms)
    if walls is not layout and walls.volumes:
        warm = {v.name: v.wall_temperature for v in walls.volumes}
        usual = walls.volumes[0].wall_temperature
        rooms = tuple(replace(v, wall_temperature=warm.get(v.name, usual)) for v in rooms)
    return rooms
