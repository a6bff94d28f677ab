"""Engine -> network: tracts joined to the head ports, steps turned into junctions, fuel put where it goes in."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from pullcast.card.engine import End, Engine, Junction, Pipe, Segment, Tract
from pullcast.errors import InputError
from pullcast.network.arrays import default_junction_volume
from pullcast.network.components import Injection, Network, Surroundings

STEP = 1.15  # area ratio above which an abrupt step becomes a junction with its own loss
CONTRACTION = 0.5  # sharp-edged sudden contraction, on the smaller pipe's head: .5 (1 - A2/A1) (Crane TP-410)
FLANGED = 0.8217  # end correction over radius of an opening in a wall (Rayleigh 1877, App. A)
CARBURETTOR_BODY = 0.03  # m from the mouth of a runner without throttle plate to its jet
PORT_SPRAY = 0.06  # m, distance of the fuel spray's arrival from the valve (common practice, no source)


def _into_volume(end: End, area: float, volumes: set[str]) -> End:
    """A plain opening in the wall of a volume with its end correction, unless the card gave one."""
    if end.node in volumes and end.area is None and end.end_length == 0.0:
        return replace(end, end_length=FLANGED * math.sqrt(area / math.pi))
    return end


def _port_of(end: End) -> int | None:
    """Cylinder number of a "port N" end."""
    return int(end.node.split()[1]) if end.node.startswith("port ") else None


def _flip(segments: tuple[Segment, ...]) -> tuple[Segment, ...]:
    """The same stretch walked the other way."""
    return tuple(replace(s, area_start=s.area_end, area_end=s.area_start) for s in reversed(segments))


def _join_ports(tract: Tract, side: str, port: tuple[Segment, ...], cylinders: int) -> list[Pipe]:
    """Pipes of a tract with the head port of each cylinder added where they reach it."""
    pipes, seen = [], []
    volumes = {v.name for v in tract.volumes}
    for pipe in tract.pipes:
        segments = pipe.segments
        start = _into_volume(pipe.start, segments[0].area_start, volumes)
        end = _into_volume(pipe.end, segments[-1].area_end, volumes)
        if (n := _port_of(pipe.start)) is not None:
            start, segments = End(f"{side} valve {n}"), port + segments
            seen.append(n)
        if (n := _port_of(pipe.end)) is not None:
            end, segments = End(f"{side} valve {n}"), segments + _flip(port)
            seen.append(n)
        pipes.append(replace(pipe, start=start, end=end, segments=segments))
    wanted = list(range(1, cylinders + 1))
    if sorted(seen) != wanted:
        msg = (f"{side} '{tract.name}' reaches ports {sorted(seen)}, but the engine has cylinders 1 to {cylinders}; "
               "give every cylinder exactly one pipe to its port")
        raise InputError(msg)
    return pipes


def _split_steps(pipe: Pipe) -> tuple[list[Pipe], list[Junction]]:
    """Cut a pipe where its area jumps, with a two-pipe junction at each cut."""
    pieces: list[list[Segment]] = [[pipe.segments[0]]]
    for before, after in zip(pipe.segments, pipe.segments[1:], strict=False):
        ratio = after.area_start / before.area_end
        if ratio > STEP or ratio < 1.0 / STEP:
            pieces.append([])
        pieces[-1].append(after)
    if len(pieces) == 1:
        return [pipe], []
    names = [f"{pipe.name} step {i + 1}" for i in range(len(pieces) - 1)]
    faces = [(a[-1].area_end, b[0].area_start) for a, b in pairwise(pieces)]
    losses = [(CONTRACTION * max(1 - a / b, 0.0), CONTRACTION * max(1 - b / a, 0.0)) for a, b in faces]
    pipes = []
    for i, piece in enumerate(pieces):
        start = pipe.start if i == 0 else End(names[i - 1], loss_in=losses[i - 1][1], angle_deg=0.0)
        end = pipe.end if i == len(pieces) - 1 else End(names[i], loss_in=losses[i][0], angle_deg=180.0)
        pipes.append(Pipe(pipe.name if i == 0 else f"{pipe.name}, part {i + 1}", start, end, tuple(piece)))
    return pipes, [Junction(n) for n in names]


def _injections(engine: Engine, intake_pipes: list[Pipe]) -> tuple[Injection, ...]:
    """Where fuel joins the air upstream of the valves.

    Port injection: near every valve. Carburettor: in the pipes with a throttle plate, towards the plate; without
    one, at the far end of every pipe that reaches a valve.
    """
    mix, T = engine.mixture, engine.fuel.temperature
    if mix.preparation == "direct":
        return ()
    both = [(p, end, toward) for p in intake_pipes for end, toward in ((p.start, "start"), (p.end, "end"))]
    throttled = [(p, toward) for p, end, toward in both if end.area is not None]
    if mix.preparation == "carburettor" and throttled:
        return tuple(Injection(p.name, 0.5 * p.length, toward, mix.evaporated, T) for p, toward in throttled)
    far = PORT_SPRAY if mix.preparation == "port" else math.inf
    return tuple(Injection(p.name, min(far, p.length - CARBURETTOR_BODY), toward, mix.evaporated, T)
                 for p, end, toward in both if " valve " in end.node)


def _mixing_rooms(pipes: list[Pipe], junctions: list[Junction]) -> tuple[list[Pipe], list[Junction]]:
    """Give junctions without a stated volume their mixing room, and take its length off the pipes that meet there."""
    ends = [(end, area) for p in pipes for end, area in
            ((p.start, p.segments[0].area_start), (p.end, p.segments[-1].area_end))]
    depth, rooms = {}, []
    for j in junctions:
        areas = np.array([area for end, area in ends if end.node == j.name])
        if j.volume == 0.0 and len(areas):
            rooms.append(replace(j, volume=default_junction_volume(areas)))
            depth[j.name] = rooms[-1].volume / float(areas.sum())
        else:
            rooms.append(j)

    def cut(end: End) -> End:
        return replace(end, end_length=-depth[end.node]) if end.node in depth and end.area is None else end

    return [replace(p, start=cut(p.start), end=cut(p.end)) for p in pipes], rooms


def build(engine: Engine) -> Network:
    """The network of an engine card: every pipe from the air inlet to the tailpipe.

    Errors: InputError if a tract does not reach every cylinder exactly once.
    """
    n = engine.block.cylinders
    intake = _join_ports(engine.intake, "intake", engine.head.intake.port, n)
    exhaust = _join_ports(engine.exhaust, "exhaust", engine.head.exhaust.port, n)
    pipes: list[Pipe] = []
    junctions = list(engine.intake.junctions + engine.exhaust.junctions)
    hot, inlet = [], []
    for group, names in ((intake, inlet), (exhaust, hot)):
        for pipe in group:
            parts, extra = _split_steps(pipe)
            pipes += parts
            junctions += extra
            names += [p.name for p in parts]
    hot += [v.name for v in engine.exhaust.volumes]
    pipes, junctions = _mixing_rooms(pipes, junctions)
    volumes = engine.intake.volumes + engine.exhaust.volumes
    everything = [p.name for p in pipes] + [v.name for v in volumes] + [j.name for j in junctions]
    twice = sorted({name for name in everything if everything.count(name) > 1})
    if twice:
        msg = f"two parts of the network share a name: {', '.join(twice)}; rename one in the intake or exhaust card"
        raise InputError(msg)
    split_intake = [p for p in pipes if p.name in inlet]
    return Network(
        pipes=tuple(pipes), volumes=volumes, junctions=tuple(junctions),
        surroundings=Surroundings(engine.day.pressure, engine.day.temperature),
        injections=_injections(engine, split_intake), burned_pipes=tuple(hot),
    )
