"""The exhaust card: header styles with their tubes, or a free list of pipes."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, StrictInt

from pullcast.card import fields as f
from pullcast.card.free_form import JunctionCard, PipeCard, VolumeCard


class StepCard(f.Table):
    """One further step of a stepped primary."""

    length: f.Duct
    od: f.Diameter | None = None
    wall: f.Thickness | None = None
    id: f.Diameter | None = None


class TubeCard(f.Table):
    """A tube: length, and id or od with wall."""

    length: f.Duct | None = None
    lengths: f.series("length", 0.02, 4.0) | None = None  # primaries only: one for each cylinder
    od: f.Diameter | None = None
    wall: f.Thickness | None = None
    id: f.Diameter | None = None
    bend_loss: f.Loss | None = None
    wall_temperature: f.WallT | None = None
    heat_factor: f.Factor | None = None
    step: tuple[StepCard, ...] = ()


class CollectorCard(TubeCard):
    """Table [collector]."""

    merge_half_angle: f.quantity("angle", 0.0, 80.0) | None = None
    id_end: f.Diameter | None = None


class MufflerCard(f.Table):
    """Table [muffler]: a chamber between collector and tailpipe, one for each collector."""

    volume: f.Space
    loss: f.Loss | None = None


class CrossoverCard(f.Table):
    """Table [crossover]: "x" (the pipes of two banks meet) or "h" (a link between them), after the collectors."""

    kind: Literal["x", "h"]
    distance: f.Duct  # from the collector's end
    id: f.Diameter | None = None  # of the link of an "h"
    length: f.Duct | None = None


class LogCard(f.Table):
    """Table [log]: a straight manifold along the ports."""

    id: f.Diameter
    spacing: f.Duct
    outlet_at: Literal["end", "middle"] = "end"


class ExhaustCard(f.Table):
    """An exhaust card: a ``style`` with its tables, or [[pipe]], [[volume]], [[junction]] lists."""

    name: str = "class default exhaust"
    style: Literal["4-1", "4-2-1", "3-1", "2-1", "6-1", "6-2", "5-1", "single", "log"] | None = None
    groups: tuple[tuple[StrictInt, ...], ...] | None = None
    pairs: tuple[tuple[StrictInt, ...], ...] | None = None
    primary: TubeCard = TubeCard()
    secondary: TubeCard = TubeCard()
    collector: CollectorCard = CollectorCard()
    tailpipe: TubeCard | None = None
    muffler: MufflerCard | None = None
    crossover: CrossoverCard | None = None
    log: LogCard | None = None
    wall_temperature: f.WallT | None = None
    roughness: f.Roughness | None = None
    heat_factor: f.Factor | None = None
    pipe: tuple[PipeCard, ...] = ()
    volume: tuple[VolumeCard, ...] = ()
    junction: tuple[JunctionCard, ...] = ()
    source: dict[str, str] = Field(default_factory=dict)
