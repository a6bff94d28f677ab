"""Engines with single effects of gas exchange switched off, by values of the engine alone.

``ideal_exhaust``   every cylinder exhausts into still hot gas at outside pressure
``still_intake``    the intake keeps its volumes, losses and wall heat, but has no inertia and no waves
``one_way``         nothing goes back through the intake valves
``adiabatic``       no heat between gas and walls, in the tracts and in the cylinder
``open_intake``     one cylinder, its intake valve drawing from a short wide lossless pipe
``dry``             fuel arrives as vapour
``creeping``        turned so slowly that pressures equalise at all times

Pipes lose their inertia by being made short and wide at constant volume: of length s L and section A/s the same flow
has inertia s^2 and dynamic head s^2. Losses are raised by as much, so that the pressure they cost stays; so are wall
friction and wall heat (friction factor and Nusselt number as Re^-0.2 and Re^0.8).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from pullcast.answers.tract_mix import port_of
from pullcast.card.engine import Burn, Cam, End, Engine, Head, Lobe, Pipe, Segment, Tract, ValveSide

SHORT = 0.06  # m: a pipe made short; its own quarter wave is above 1000 Hz
LENGTH, WIDE = 0.12, 0.7  # m, and swept volumes, of the pipe that stands for still gas outside an exhaust port
SHALLOW = 0.03  # m: the same of an intake port, where inertia would ram at high speed
CREEP, CREEP_CELL = 150.0, 0.05  # rpm, m: speed of the slow engine, and cells that do for it
CELLS = 5  # of its shortest pipe at least, which holds what left last apart from fresh air
CHECK = 1.0e-3  # m of valve lift at which events are counted (common practice, no source)
ENOUGH = 4.0e-3  # m: lift that costs no pressure at creeping speed
FLANK = 1.0  # deg, half the width of the flanks of a valve that opens "at once"
THROAT = 0.55  # narrowest over widest section below which a feeding pipe is a throat that may choke


def ideal_exhaust(engine: Engine) -> Engine:
    """The engine with each exhaust port opening into a short wide lossless pipe to the outside, which holds what left
    last: what comes back in the overlap is exhaust gas."""
    area = WIDE * engine.block.swept_volume / LENGTH
    pipe = Segment(LENGTH, area, area, wall_temperature=900.0, heat_factor=0.0, friction=0.0)
    pipes = tuple(Pipe(f"still primary {k}", End(f"port {k}"), End("ambient"), (pipe,))
                  for k in range(1, engine.block.cylinders + 1))
    head = replace(engine.head, exhaust=replace(engine.head.exhaust, port=(replace(pipe, length=0.02),)))
    return replace(engine, head=head, exhaust=Tract("still exhaust", pipes))


def still_intake(engine: Engine, throats: bool = False) -> Engine:
    """The engine with an intake of the same volumes, losses and wall heat, without inertia and waves.

    ``throats``: feeding pipes that narrow much (a restrictor) stay as they are, since made wide they cannot choke.
    """
    tract, port = engine.intake, engine.head.intake.port
    runners = [p for p in tract.pipes if port_of(p) is not None]
    length = sum(p.length for p in runners) / len(runners) + sum(s.length for s in port)
    s = min(1.0, SHORT / length)
    pipes = tuple(_short(p, s) if port_of(p) is not None else
                  p if throats and _is_throat(p) else _short(p, min(1.0, SHORT / p.length)) for p in tract.pipes)
    head = replace(engine.head, intake=replace(engine.head.intake, port=_squeezed(port, s)))
    return replace(engine, head=head, intake=replace(tract, pipes=pipes))


def _is_throat(pipe: Pipe) -> bool:
    areas = [a for s in pipe.segments for a in (s.area_start, s.area_end)]
    return min(areas) < THROAT * max(areas)


def one_way(engine: Engine) -> Engine:
    """The engine with intake valves that let nothing back."""
    side = replace(engine.head.intake, reverse_ratio=0.0)
    return replace(engine, head=replace(engine.head, intake=side))


def _squeezed(segments: Sequence[Segment], s: float) -> tuple[Segment, ...]:
    """Segments made ``s`` times as long and 1/s as wide; flow losses and heat as before."""
    if s == 1.0:
        return tuple(segments)
    return tuple(replace(g, length=s * g.length, area_start=g.area_start / s, area_end=g.area_end / s,
                         bend_loss=g.bend_loss / s**2, friction=g.friction * s**-3.4,
                         heat_factor=g.heat_factor * s**-1.4) for g in segments)


def _short(pipe: Pipe, s: float) -> Pipe:
    """A pipe squeezed by ``s``; end losses are on the head of the wider section, end corrections gone."""
    start, end = (replace(e, loss_in=e.loss_in / s**2, loss_out=(1.0 + e.loss_out) / s**2 - 1.0, end_length=0.0)
                  for e in (pipe.start, pipe.end))
    return replace(pipe, start=start, end=end, segments=_squeezed(pipe.segments, s))


def adiabatic(engine: Engine, share: float) -> Engine:
    """The engine without wall heat. ``share`` of the fuel's energy went to the cylinder walls: as much less burns,
    so that the exhaust is about as hot as before."""
    def bare(tract: Tract) -> Tract:
        pipes = tuple(replace(p, segments=_unheated(p.segments)) for p in tract.pipes)
        return replace(tract, pipes=pipes, volumes=tuple(replace(v, wall_area=0.0) for v in tract.volumes))

    def side(v: ValveSide) -> ValveSide:
        return replace(v, port=_unheated(v.port))

    burn = replace(engine.burn, efficiency=max(engine.burn.efficiency - share, 0.05))
    return replace(engine, intake=bare(engine.intake), exhaust=bare(engine.exhaust), burn=burn,
                   head=replace(engine.head, intake=side(engine.head.intake), exhaust=side(engine.head.exhaust)),
                   walls=replace(engine.walls, factor=0.0))


def _unheated(segments: Sequence[Segment]) -> tuple[Segment, ...]:
    return tuple(replace(s, heat_factor=0.0) for s in segments)


def open_intake(engine: Engine) -> Engine:
    """One cylinder of the engine, drawing outside air through a short wide pipe without loss or wall heat.

    The pipe holds what the piston pushes back late in the compression stroke, in plug flow.
    """
    area = WIDE * engine.block.swept_volume / SHALLOW
    wide = Segment(SHALLOW, area, area, heat_factor=0.0, friction=0.0)
    side = engine.head.intake
    head = Head(engine.head.name, replace(side, port=(replace(wide, length=0.02),)), engine.head.exhaust)
    block = replace(engine.block, cylinders=1, firing_order=(1,), firing_intervals_deg=(720.0,), banks=((1,),))
    intake = Tract("still air", (Pipe("still air", End("ambient"), End("port 1"), (wide,)),))
    exhaust = replace(engine.exhaust, pipes=engine.exhaust.pipes[:1])
    return replace(engine, block=block, head=head, intake=intake, exhaust=exhaust)


def dry(engine: Engine) -> Engine:
    """The engine with fuel that arrives as vapour and takes no heat from the charge."""
    return replace(engine, mixture=replace(engine.mixture, evaporated=0.0))


def creeping(engine: Engine, rpm: float, ca50: float) -> Engine:
    """An ``open_intake`` engine with valves phased as at ``rpm`` that open and shut at once where their lift passes
    ``CHECK``, burning centred at ``ca50`` (deg), to be turned at ``CREEP``.

    The lift below is left out since next to nothing passes there at any speed an engine runs at; so is the overlap
    (the valves change over in its middle): with equal pressures nothing says which way gas would go. The pipes
    outside the ports are as narrow as the ports: inertia has no part in it, and they damp ringing.
    """
    lobes = _at_once(engine, rpm)
    timing = ca50 if math.isfinite(ca50) else 8.0
    burn = Burn("ca50", ((CREEP, timing),), engine.burn.duration_10_90_deg, engine.burn.delay_deg,
                engine.burn.efficiency, CREEP)
    sides, tracts = {}, {}
    for kind in ("intake", "exhaust"):
        side, tract = getattr(engine.head, kind), getattr(engine, kind)
        area = 1.2 * side.count * math.pi / 4 * side.throat_diameter**2
        pipe = tract.pipes[0]
        narrow = replace(pipe.segments[0], length=WIDE * engine.block.swept_volume / area, area_start=area,
                         area_end=area)
        sides[kind] = replace(side, port=(replace(narrow, length=0.02),))
        tracts[kind] = replace(tract, pipes=(replace(pipe, segments=(narrow,)),))
    head = replace(engine.head, **sides)
    return replace(engine, cam=Cam(engine.cam.name, *lobes), burn=burn, head=head, **tracts)


def _at_once(engine: Engine, rpm: float) -> list[Lobe]:
    """Both lobes as tables that are at full lift between the events at the check lift, without overlap."""
    from pullcast.network.cylinders import lifts_at

    intake, exhaust = lifts_at(engine, rpm)
    (io, ic), (eo, ec) = (c.events_at(min(CHECK, 0.3 * c.max_lift)) for c in (intake, exhaust))
    if io < 360.0:
        io, ic = io + 720.0, ic + 720.0
    if ec - io > -2.0 * FLANK:
        middle = 0.5 * (ec + io)
        ec, io = middle - FLANK, middle + FLANK
    return [_table(engine.cam.intake, io, ic, intake.max_lift, 1.0),
            _table(engine.cam.exhaust, eo, ec, exhaust.max_lift, -1.0)]


def _table(lobe: Lobe, opening: float, closing: float, top: float, sign: float) -> Lobe:
    """A lobe at full lift between two angles (deg, overlap TDC at 720); ``sign`` -1: centreline counted before it."""
    half, top = 0.5 * (closing - opening), min(top, ENOUGH)
    table = tuple((x, y) for x, y in ((-half - FLANK, 0.0), (-half, 0.5 * top), (-half + FLANK, top), (0.0, top),
                                      (half - FLANK, top), (half, 0.5 * top), (half + FLANK, 0.0)))
    centre = sign * (0.5 * (opening + closing) - 720.0)
    return replace(lobe, lift=top, centreline_deg=centre, table=table, asymmetry_deg=0.0)
