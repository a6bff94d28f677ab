"""The intake card: plenum and runners, individual throttles, dual plane, or a free list of pipes."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, StrictInt

from pullcast.card import fields as f
from pullcast.card.book import Book
from pullcast.card.engine import Block, Head, Tract
from pullcast.card.free_form import JunctionCard, PipeCard, VolumeCard, expand
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


class RestrictorCard(f.Table):
    """Table [restrictor]: a round restrictor with its diffuser, between throttle and plenum."""

    diameter: f.Diameter | None = None
    coefficient: f.quantity("fraction", 0.5, 1.0) | None = None
    diffuser_length: f.quantity("length", 0.040, 1.0) | None = None


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


def resolve_intake(card: IntakeCard, block: Block, head: Head, book: Book) -> Tract:
    """The intake as a network; needs the block's and head's scales in ``book``. Problems go to ``book``."""
    from pullcast.card import intake_styles

    for name in ("wall_temperature", "roughness", "heat_factor"):
        _preset(card, name, "intake", book)
    facts = {} if card.hood_height is None else {"hood_height": float(card.hood_height)}
    if card.pipe:
        if card.style is not None:
            book.problem("intake.style", "a style and a [[pipe]] list are given", "Keep one of the two.")
        pipes, volumes, junctions = expand(card.pipe, card.volume, card.junction, "intake", block, book)
        return Tract(card.name, tuple(pipes), tuple(volumes), tuple(junctions), facts)
    if card.volume or card.junction:
        book.problem("intake.volume", "volumes or junctions are listed but no [[pipe]]", "List the pipes too.")
    style = card.style or book.engine_class.intake_style
    build = {"plenum_runners": intake_styles.plenum_runners, "individual": intake_styles.individual,
             "dual_plane": intake_styles.dual_plane}[style]
    pipes, volumes, junctions, more = build(card, block, head, book)
    boxes = [v.volume for v in volumes if v.name == "airbox"]
    if boxes:
        facts["airbox_volume"] = boxes[0]
    return Tract(card.name, tuple(pipes), tuple(volumes), tuple(junctions), facts | more)


def _preset(card: object, name: str, tract: str, book: Book) -> None:
    """A value for the whole tract stated on the card replaces the class default in this reading."""
    value = getattr(card, name)
    if value is not None:
        book.given_for[f"{tract}.{name}"] = value
