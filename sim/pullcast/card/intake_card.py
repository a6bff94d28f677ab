"""The intake card: plenum and runners, individual throttles, dual plane, or a free list of pipes."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, StrictInt

from pullcast.card import fields as f
from pullcast.card.free_form import JunctionCard, PipeCard, VolumeCard
from pullcast.card.section import Stations


class ThrottleCard(f.Table):
    """Table [throttle]: ``count`` bores (per cylinder for individual throttles), or a carburettor's rating."""

    count: StrictInt | None = Field(None, ge=1, le=16)
    diameter: f.Diameter | None = None
    rating: f.quantity("volume flow", 0.005, 2.0) | None = None
    rated_at: f.Depression | None = None
    shaft: f.quantity("length", 0.0, 0.025) | None = None
    closed_angle: f.quantity("angle", 0.0, 30.0) | None = None
    opening: f.quantity("angle", 1.0, 90.0) | None = None
    coefficient: f.quantity("fraction", 0.3, 1.0) | None = None
    body_length: f.quantity("length", 0.020, 1.0) | None = None
    inlet_loss: f.Loss | None = None


class PlenumCard(f.Table):
    """Table [plenum]: with ``length`` it becomes ducts in series, one station for each of ``order``."""

    volume: f.Space | None = None
    length: f.Duct | None = None
    order: tuple[tuple[StrictInt, ...], ...] | None = None
    throttle_at: Literal["end", "middle"] = "end"


class RunnerCard(f.Table):
    """Table [runner]: from the plenum to the head's flange. Sections are those at the head unless ``_plenum``."""

    length: f.Duct | None = None
    lengths: f.series("length", 0.005, 3.0) | None = None  # one for each cylinder
    measured_from: Literal["flange", "valve"] = "flange"
    area: f.Area | None = None
    diameter: f.Diameter | None = None
    width: f.Diameter | None = None
    height: f.Diameter | None = None
    area_plenum: f.Area | None = None
    diameter_plenum: f.Diameter | None = None
    width_plenum: f.Diameter | None = None
    height_plenum: f.Diameter | None = None
    taper: f.quantity("fraction", 0.5, 4.0) | None = None  # plenum-end area over head-end area
    stations: Stations | None = None  # from the plenum
    volume: f.quantity("volume", 5e-6, 0.01) | None = None  # of one runner: cross-check
    entry: Literal["sharp", "rounded", "bellmouth"] = "rounded"
    entry_loss: f.Loss | None = None
    bend_loss: f.Loss | None = None


class AirBoxCard(f.Table):
    """Table [airbox]: a volume before the throttles, fed by a snorkel."""

    volume: f.Space | None = None
    snorkel_diameter: f.Diameter | None = None
    snorkel_count: StrictInt = Field(1, ge=1, le=8)
    snorkel_length: f.Duct | None = None
    inlet_loss: f.Loss | None = None
    wall_temperature: f.WallT | None = None


class RestrictorCard(f.Table):
    """Table [restrictor]: a round restrictor with its diffuser, between throttle and plenum."""

    diameter: f.Diameter | None = None
    coefficient: f.quantity("fraction", 0.5, 1.0) | None = None
    diffuser_length: f.quantity("length", 0.040, 1.0) | None = None
    diffuser_loss: f.Loss | None = None  # of separation in the diffuser, on the throat's head


class IntakeCard(f.Table):
    """An intake card: a ``style`` with its tables, or [[pipe]], [[volume]], [[junction]] lists."""

    name: str = "class default intake"
    style: Literal["plenum_runners", "individual", "dual_plane"] | None = None
    throttle: ThrottleCard = ThrottleCard()
    plenum: PlenumCard = PlenumCard()
    runner: RunnerCard = RunnerCard()
    airbox: AirBoxCard | None = None
    restrictor: RestrictorCard | None = None
    planes: tuple[tuple[StrictInt, ...], ...] | None = None
    divider_area: f.Area | None = None
    hood_height: f.Duct | None = None
    wall_temperature: f.WallT | None = None
    roughness: f.Roughness | None = None
    heat_factor: f.Factor | None = None
    pipe: tuple[PipeCard, ...] = ()
    volume: tuple[VolumeCard, ...] = ()
    junction: tuple[JunctionCard, ...] = ()
    source: dict[str, str] = Field(default_factory=dict)
