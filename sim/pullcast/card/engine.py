"""The resolved engine: what the cards say, validated, in SI, immutable.

Everything is SI except crank angles, which are degrees throughout pullcast
(720 deg per cycle; 0 deg = top dead centre of the gas-exchange (overlap)
stroke of the cylinder meant; its firing top dead centre is 360 deg).
Pressures are absolute. Areas are flow areas (inside dimensions).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path

from pullcast.errors import InputError


@dataclass(frozen=True)
class Assumed:
    """A value the card did not give: filled from the class defaults, with its plausible range (SI)."""

    key: str
    value: float
    low: float
    high: float
    unit: str
    why: str


@dataclass(frozen=True)
class Finding:
    """A doubt about a card. ``level`` is "contradiction" (two numbers of the card cannot both be right),
    "doubt" (outside what is usual) or "note"; ``remedy`` says what to look at."""

    level: str
    key: str
    text: str
    remedy: str = ""


@dataclass(frozen=True)
class Block:
    """Bottom end. Lengths m; ``banks`` lists cylinder numbers; cylinders are numbered from 1."""

    cylinders: int
    bore: float
    stroke: float
    rod: float
    compression_ratio: float
    firing_order: tuple[int, ...]
    firing_intervals_deg: tuple[float, ...]  # from each firing to the next one, summing to 720
    banks: tuple[tuple[int, ...], ...]
    layout: str = "inline"
    bank_angle_deg: float = 0.0
    pin_offset: float = 0.0

    @property
    def swept_volume(self) -> float:
        """Swept volume of one cylinder, m3."""
        return math.pi / 4 * self.bore**2 * self.stroke

    @property
    def displacement(self) -> float:
        """Swept volume of all cylinders, m3."""
        return self.cylinders * self.swept_volume

    @property
    def clearance_volume(self) -> float:
        """Volume of one cylinder at top dead centre, m3."""
        return self.swept_volume / (self.compression_ratio - 1)

    @property
    def phase_deg(self) -> tuple[float, ...]:
        """Crank angle (deg) by which cylinder k (index k-1) lags the first of the firing order."""
        lag, at = {}, 0.0
        for cylinder, interval in zip(self.firing_order, self.firing_intervals_deg, strict=True):
            lag[cylinder] = at
            at += interval
        return tuple(lag[k] for k in range(1, self.cylinders + 1))


@dataclass(frozen=True)
class Segment:
    """A straight-sided stretch of duct: linear in diameter from ``area_start`` to ``area_end``."""

    length: float
    area_start: float
    area_end: float
    wall_temperature: float = 320.0
    roughness: float = 1.0e-5
    bend_loss: float = 0.0  # loss coefficient K of bends and fittings in this stretch, on its own dynamic head
    heat_factor: float = 1.0  # on the smooth-pipe Nusselt number (pulsating flow)
    friction: float = 1.0  # on the Darcy friction factor


@dataclass(frozen=True)
class End:
    """What a pipe end opens into.

    ``node`` is "ambient", "closed", "port N" (head port of cylinder N) or the name of a volume or junction.
    ``area`` None: a plain opening with loss coefficients (on the face's dynamic head) for flow into and out of
    the pipe; a number: an orifice or throttle plate of that effective area (m2).
    ``angle_deg`` is the direction, in the plane of a junction, in which the pipe leaves it.
    ``end_length`` is the end correction to be added to the pipe (m). ``shaped``: the mouth has a shape of its own (a
    bellmouth, a radius) and ``loss_in`` is all that flow from a junction into it costs.
    """

    node: str
    loss_in: float = 0.0
    loss_out: float = 0.0
    area: float | None = None
    angle_deg: float = 0.0
    end_length: float = 0.0
    shaped: bool = False


@dataclass(frozen=True)
class Pipe:
    """A duct between two ends, segments listed from ``start`` to ``end``."""

    name: str
    start: End
    end: End
    segments: tuple[Segment, ...]

    @property
    def length(self) -> float:
        """Length of all segments, m (without end corrections)."""
        return sum(s.length for s in self.segments)


@dataclass(frozen=True)
class Volume:
    """A well-stirred volume (plenum, air box, muffler chamber); ``volume`` m3."""

    name: str
    volume: float
    wall_temperature: float = 320.0
    wall_area: float = 0.0


@dataclass(frozen=True)
class Junction:
    """A meeting of pipes that keeps the momentum of the jets; ``volume`` m3 (0: chosen from the pipes)."""

    name: str
    volume: float = 0.0


@dataclass(frozen=True)
class Tract:
    """An intake or an exhaust as a small network; pipes reach the engine through "port N"."""

    name: str
    pipes: tuple[Pipe, ...]
    volumes: tuple[Volume, ...] = ()
    junctions: tuple[Junction, ...] = ()
    facts: dict[str, float] = field(default_factory=dict)  # hood height (m), plenum volume (m3) ...


@dataclass(frozen=True)
class FlowSheet:
    """A steady-flow sheet of one port with all its valves: volume flow (m3/s, at bench temperature and
    pressure upstream) at each lift (m) and pressure drop (Pa)."""

    lifts: tuple[float, ...]
    flows: tuple[float, ...]
    depression: float
    temperature: float = 288.7
    pressure: float = 101325.0


@dataclass(frozen=True)
class ValveSide:
    """Valves and port of one side of one cylinder. ``port`` runs from the valve to the flange."""

    count: int
    diameter: float
    throat_diameter: float
    stem_diameter: float
    seat_angle_deg: float
    port: tuple[Segment, ...]
    flow: FlowSheet | None = None  # None: Cd(L/D) tables are used
    reverse_ratio: float = 1.0  # effective area in reverse flow over that in forward flow


@dataclass(frozen=True)
class Head:
    """Cylinder head: both valve sides."""

    name: str
    intake: ValveSide
    exhaust: ValveSide


@dataclass(frozen=True)
class Duration:
    """Duration (crank deg) between the two points where ``side`` ("tappet" or "valve") lift equals ``lift`` (m)."""

    lift: float
    duration_deg: float
    side: str = "tappet"


@dataclass(frozen=True)
class Lobe:
    """One lobe with its valve gear. ``lift`` is the valve lift *after* lash, m; ``centreline_deg`` is measured
    from overlap TDC: after it for the intake, before it for the exhaust, installed position (advance included).
    ``table`` if given is measured valve-side lift: (deg from the centreline, m) pairs."""

    lift: float
    durations: tuple[Duration, ...]
    centreline_deg: float
    rocker_ratio: float = 1.0
    lash: float = 0.0
    table: tuple[tuple[float, float], ...] | None = None
    asymmetry_deg: float = 0.0


@dataclass(frozen=True)
class Cam:
    """Cam timing of the engine. ``phasing``: (rpm, intake advance deg, exhaust retard deg) rows, or empty.

    ``tappet_diameter``: of a flat tappet, m, if the card states it.
    """

    name: str
    intake: Lobe
    exhaust: Lobe
    follower: str = "roller"
    phasing: tuple[tuple[float, float, float], ...] = ()
    tappet_diameter: float | None = None


@dataclass(frozen=True)
class Fuel:
    """Fuel by the key of its gas table, with what the tables do not hold."""

    key: str
    octane: float | None = None
    liquid_density: float = 745.0
    temperature: float = 298.15


@dataclass(frozen=True)
class Mixture:
    """Mixture: lambda, where the fuel goes in ("port", "carburettor", "direct"), and the share of the heat of
    evaporation taken from the charge (0 to 1) before the valve closes. ``spread`` is the standard deviation of the
    mixture's strength about its mean within a cylinder and over its cycles, ``between`` that from cylinder to
    cylinder, both relative."""

    lambda_: float
    preparation: str = "port"
    evaporated: float = 0.5
    spread: float = 0.0
    between: float = 0.0

    @property
    def unevenness(self) -> float:
        """Standard deviation of strength over all the fuel burned, relative (see ``gasdata.tables.uneven_table``)."""
        return math.hypot(self.spread, self.between)


@dataclass(frozen=True)
class Day:
    """Weather at the engine inlet: station pressure Pa, dry-bulb K, relative humidity 0 to 1."""

    pressure: float
    temperature: float
    humidity: float


@dataclass(frozen=True)
class Burn:
    """Combustion: ``timing`` "ca50" or "spark", rows of (rpm, value deg): CA50 after firing TDC or spark before it.
    Durations are those at the class's reference point (deg).

    ``law`` "wiebe" burns by those durations; "flame" predicts the burn from turbulence and the chamber: its shape
    ("roof", "wedge", "flat"), the plug's distance from the bore's axis (m), the share of the bore that is squish and
    its clearance (m), a factor on the turbulence that the flame feels, and the inlet's tumble coefficient.
    ``crevice`` is the volume of the crevices that follow cylinder pressure, over the clearance volume
    (0: none; 0.01 to 0.035 in a six-cylinder, Heywood 1988, sec. 8.6, from memory).
    ``knock_delay`` "douaud_eyzat" or "he" is the published delay of the knock integral.
    """

    timing: str
    table: tuple[tuple[float, float], ...]
    duration_10_90_deg: float
    delay_deg: float
    efficiency: float = 0.97
    reference_rpm: float = 3000.0
    law: str = "wiebe"
    chamber: str = "flat"
    plug: float = 0.0
    squish: float = 0.0
    squish_gap: float = 1.0e-3
    turbulence: float = 1.0
    tumble: float = 0.0
    crevice: float = 0.0
    knock_delay: str = "douaud_eyzat"


@dataclass(frozen=True)
class Walls:
    """Gas-side surface temperatures (K) and the heat-transfer correlation ("hohenberg", "woschni", "annand")."""

    piston: float
    head: float
    liner: float
    model: str = "hohenberg"
    factor: float = 1.0


@dataclass(frozen=True)
class Friction:
    """FMEP correlation ("chen_flynn", "barnes_moss", "patton"), a factor on it, and accessory torque (N m)."""

    model: str = "chen_flynn"
    factor: float = 1.0
    accessory_torque: float = 0.0


@dataclass(frozen=True)
class Limits:
    """What stands beside the power; None where not given."""

    rpm: float
    injector_flow: float | None = None  # kg/s per injector at its rated pressure
    injectors: int | None = None
    driveline_torque: float | None = None  # N m
    piston_speed: float | None = None  # m/s


@dataclass(frozen=True)
class Engine:
    """A whole engine, ready to be built into a network. ``text`` is the card as read, parts included."""

    name: str
    engine_class: str
    block: Block
    head: Head
    cam: Cam
    intake: Tract
    exhaust: Tract
    fuel: Fuel
    mixture: Mixture
    day: Day
    burn: Burn
    walls: Walls
    friction: Friction
    limits: Limits
    speeds: tuple[float, ...]  # rpm
    source: str
    assumed: tuple[Assumed, ...] = ()
    text: str = ""
    findings: tuple[Finding, ...] = ()  # contradictions among redundant numbers, found while reading


def must_be_engine(value: object, verb: str) -> None:
    """Raise InputError for a path given where an Engine is meant; says what to do with it."""
    if isinstance(value, str | Path):
        msg = f"{verb} wants an engine, not {str(value)!r:.80}: read the card first, pullcast.read_engine(PATH)"
        raise InputError(msg)
