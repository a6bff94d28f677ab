"""Tracts listed pipe by pipe: [[pipe]], [[volume]], [[junction]], once or for each cylinder or bank."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import Field, StrictBool

from pullcast.card import fields as f
from pullcast.card.book import Book
from pullcast.card.classes import entry_range
from pullcast.card.engine import Block, End, Junction, Pipe, Segment, Volume
from pullcast.card.section import Stations, section_area, segments_of, stations_profile

Each = Literal["cylinder", "bank"]
BIG_BOX = 3.0  # displacements: a larger intake volume is an air box away from the engine
UNFLANGED, FLANGED = 0.6133, 0.8217  # end correction over radius: Levine & Schwinger 1948; Rayleigh (from memory)


class PipeCard(f.Table):
    """One [[pipe]]: from where to where, sections at its start and end (``*_end``; absent: the same), losses."""

    name: str
    each: Each | None = None
    from_: str = Field(alias="from")
    to: str
    length: f.Duct | None = None
    area: f.Area | None = None
    diameter: f.Diameter | None = None
    width: f.Diameter | None = None
    height: f.Diameter | None = None
    od: f.Diameter | None = None
    id: f.Diameter | None = None
    wall: f.Thickness | None = None
    area_end: f.Area | None = None
    diameter_end: f.Diameter | None = None
    width_end: f.Diameter | None = None
    height_end: f.Diameter | None = None
    stations: Stations | None = None
    bend_loss: f.Loss | None = None
    entry_from: Literal["sharp", "rounded", "bellmouth"] | None = None
    entry_to: Literal["sharp", "rounded", "bellmouth"] | None = None
    loss_from: f.Loss | None = None  # into the pipe
    loss_to: f.Loss | None = None
    orifice_from: f.Area | None = None  # effective area
    orifice_to: f.Area | None = None
    angle_from: f.Angle | None = None
    angle_to: f.Angle | None = None
    flanged: StrictBool = False
    wall_temperature: f.WallT | None = None
    roughness: f.Roughness | None = None
    heat_factor: f.Factor | None = None


class VolumeCard(f.Table):
    """One [[volume]]: a plenum, air box or muffler chamber."""

    name: str
    volume: f.Space
    each: Each | None = None
    wall_temperature: f.WallT | None = None
    wall_area: f.quantity("area", 0.0, 20.0) | None = None


class JunctionCard(f.Table):
    """One [[junction]]: a meeting of pipes; no volume given: chosen from the pipes."""

    name: str
    each: Each | None = None
    volume: f.Space | None = None


def open_end(area: float, *, flanged: bool = False) -> float:
    """End correction (m) of an open pipe end of ``area`` (m2): Levine & Schwinger 1948; Rayleigh (from memory)."""
    return (FLANGED if flanged else UNFLANGED) * math.sqrt(area / math.pi)


def entry_loss(kind: str | None, given: float | None, key: str, book: Book) -> float:
    """Entry loss coefficient as given, by entry kind, or 0 for an end that states neither."""
    if given is not None:
        return book.take(given, key, entry_range("sharp"))
    return book.take(None, key, entry_range(kind), why=f"{kind} entry: Crane TP-410, Idelchik (from "
                     f"memory)") if kind else 0.0


def cube_wall(volume: float) -> float:
    """Wall area (m2) of a box of ``volume`` m3 taken as a cube."""
    return 6.0 * volume ** (2.0 / 3.0)


def expand(pipes: tuple[PipeCard, ...], volumes: tuple[VolumeCard, ...], junctions: tuple[JunctionCard, ...],
           tract: str, block: Block, book: Book) -> tuple[list[Pipe], list[Volume], list[Junction]]:
    """The lists of a free-form tract with every ``each`` written out; problems go to ``book``."""
    kinds = {c.name: c.each for c in (*volumes, *junctions)}
    _check_names(pipes, volumes, junctions, tract, book)
    out_volumes = [
        Volume(name, float(c.volume), _volume_wall(c, f"{tract}.volume.{i}", tract, block, book),
               float(c.wall_area) if c.wall_area is not None else cube_wall(c.volume))
        for i, c in enumerate(volumes) for name, _ in _copies(c.name, c.each, block)]
    out_junctions = [Junction(name, float(c.volume or 0.0)) for c in junctions for name, _ in _copies(c.name, c.each,
                                                                                                      block)]
    out_pipes = []
    for i, c in enumerate(pipes):
        key = f"{tract}.pipe.{i}"
        segments = _segments(c, key, tract, book)
        if not segments:
            continue
        ends = _losses(c, key, book)
        for name, cylinder in _copies(c.name, c.each, block):
            nodes = [_node(text, c, cylinder, kinds, block, f"{key}.{which}", book)
                     for which, text in (("from", c.from_), ("to", c.to))]
            out_pipes.append(Pipe(name, _end(nodes[0], c, "from", ends[0], segments[0].area_start),
                                  _end(nodes[1], c, "to", ends[1], segments[-1].area_end), segments))
    _check_reach(out_pipes, [v.name for v in out_volumes] + [j.name for j in out_junctions], tract, block, book)
    return out_pipes, out_volumes, out_junctions


def of_styles(card: f.Table, tables: tuple[str, ...], tract: str, book: Book) -> None:
    """Refuse what describes a style on a card that lists its own pipes: nothing would read it."""
    for name in tables:
        if name not in card.model_fields_set:
            continue
        value = getattr(card, name)
        inner = sorted(value.model_fields_set) if isinstance(value, f.Table) else []
        for key in [f"{tract}.{name}.{k}" for k in inner] or [f"{tract}.{name}"]:
            book.problem(key, "a [[pipe]] list is given, beside which nothing reads this",
                         "Put it into the pipes, or take the list out.")


def _check_reach(pipes: list[Pipe], nodes: list[str], tract: str, block: Block, book: Book) -> None:
    """Every port reached by one pipe, every part connected, one way to the open air."""
    ends = [e.node for p in pipes for e in (p.start, p.end)]
    for k in range(1, block.cylinders + 1):
        if (count := ends.count(f"port {k}")) != 1:
            book.problem(f"{tract}.pipe", f"{count} pipes reach port {k}",
                         'Each port takes one pipe: each = "cylinder".')
    for node in sorted(set(ends)):
        if node.startswith("port ") and not 1 <= int(node[5:]) <= block.cylinders:
            book.problem(f"{tract}.pipe", f'a pipe ends at "{node}" but the engine has {block.cylinders} cylinders')
    for name in nodes:
        if name not in ends:
            book.problem(f"{tract}.pipe", f'no pipe reaches "{name}"', "Connect it or leave it out.")
    if "ambient" not in ends:
        book.problem(f"{tract}.pipe", "no pipe opens to the air", 'One end must be "ambient".')
    names = [p.name for p in pipes] + nodes
    for name in sorted({n for n in names if names.count(n) > 1}):
        book.problem(f"{tract}.pipe", f'two parts come out with the name "{name}"', "Rename one.")


def _check_names(pipes: tuple, volumes: tuple, junctions: tuple, tract: str, book: Book) -> None:
    seen: set[str] = set()
    for kind, cards in (("pipe", pipes), ("volume", volumes), ("junction", junctions)):
        for i, c in enumerate(cards):
            if c.name in seen or c.name in ("ambient", "closed", "port"):
                book.problem(f"{tract}.{kind}.{i}.name", f'the name "{c.name}" is taken',
                             "Give every part its own name.")
            seen.add(c.name)


def _copies(name: str, each: str | None, block: Block) -> list[tuple[str, int | None]]:
    """(name, a cylinder it belongs to) of every copy."""
    if each == "cylinder":
        return [(f"{name} {k}", k) for k in range(1, block.cylinders + 1)]
    if each == "bank":
        return [(f"{name} bank {b + 1}", bank[0]) for b, bank in enumerate(block.banks)]
    return [(name, None)]


def _node(text: str, card: PipeCard, cylinder: int | None, kinds: dict[str, str | None], block: Block, key: str,
          book: Book) -> str:
    """The node a pipe end names, for the copy that belongs to ``cylinder``."""
    if text in ("ambient", "closed"):
        return text
    if text == "port":
        if card.each != "cylinder":
            book.problem(key, 'only a pipe with each = "cylinder" can end at its "port"', 'Else name it: "port 3".')
            return "closed"
        return f"port {cylinder}"
    if text.startswith("port ") and text[5:].isdecimal():
        return f"port {int(text[5:])}"
    if text not in kinds:
        copies = {n for name, each in kinds.items() for n, _ in _copies(name, each, block)}
        if text not in copies:
            near = nearest(text, [*kinds, "ambient", "closed", "port"])
            book.problem(key, f'there is no volume or junction "{text}"', near)
        return text
    each = kinds[text]
    if each is None:
        return text
    if cylinder is None or (each == "cylinder" and card.each == "bank"):
        book.problem(key, f'"{text}" stands once for each {each}, this pipe does not',
                     f'Set each = "{each}", or name one: "{text} 1".')
        return text
    if each == "cylinder":
        return f"{text} {cylinder}"
    bank = next(b for b, members in enumerate(block.banks) if cylinder in members)
    return f"{text} bank {bank + 1}"


def nearest(text: str, names: list[str]) -> str:
    """A remedy naming the nearest of ``names``."""
    import difflib

    close = difflib.get_close_matches(text, names, n=1, cutoff=0.4)
    return f"Did you mean {close[0]}?" if close else f"Known: {', '.join(names)}."


def _tract_wall(given: float | None, tract: str, book: Book) -> float:
    return float(given) if given is not None else book.tract(f"{tract}.wall_temperature")


def _volume_wall(c: VolumeCard, key: str, tract: str, block: Block, book: Book) -> float:
    """Wall temperature (K) of a volume: a big box on the intake stands away from the engine."""
    if c.wall_temperature is None and tract == "intake" and c.volume > BIG_BOX * block.displacement:
        return book.take(None, f"{key}.wall_temperature", book.row("intake.airbox.wall_temperature"))
    return _tract_wall(c.wall_temperature, tract, book)


def _segments(c: PipeCard, key: str, tract: str, book: Book) -> tuple[Segment, ...]:
    if c.stations is not None:
        profile = stations_profile(c.stations, f"{key}.stations", book)
    else:
        start = section_area(c, key, book)
        end = section_area(c, key, book, "_end")
        if start is None or c.length is None:
            missing = "length" if c.length is None else (
                "section (area, diameter, width and height, id, or od and wall)")
            book.problem(key, f'pipe "{c.name}" has no {missing}', "Give it, or stations.")
            return ()
        book.stated(c.length, f"{key}.length", "length")
        profile = [(0.0, start), (float(c.length), end if end is not None else start)]
    if profile is None:
        return ()
    wall = _tract_wall(c.wall_temperature, tract, book)
    rough = float(c.roughness) if c.roughness is not None else book.tract(f"{tract}.roughness")
    heat = float(c.heat_factor) if c.heat_factor is not None else book.tract(f"{tract}.heat_factor")

    def make(**shape: float) -> Segment:
        return Segment(wall_temperature=wall, roughness=rough, heat_factor=heat, **shape)

    return segments_of(profile, make, float(c.bend_loss or 0.0))


def _losses(c: PipeCard, key: str, book: Book) -> tuple[float, float]:
    return (entry_loss(c.entry_from, c.loss_from, f"{key}.loss_from", book),
            entry_loss(c.entry_to, c.loss_to, f"{key}.loss_to", book))


def _end(node: str, c: PipeCard, which: str, loss: float, area: float) -> End:
    orifice, angle = getattr(c, f"orifice_{which}"), getattr(c, f"angle_{which}")
    usual = 0.0 if which == "from" else 180.0
    return End(node, loss_in=loss, area=None if orifice is None else float(orifice),
               angle_deg=usual if angle is None else float(angle),
               shaped=getattr(c, f"entry_{which}") is not None or getattr(c, f"loss_{which}") is not None,
               end_length=open_end(area, flanged=c.flanged) if node == "ambient" and orifice is None else 0.0)


