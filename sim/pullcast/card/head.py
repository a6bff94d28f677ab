"""The cylinder head: valves, ports, flow sheets."""

from __future__ import annotations

import math

from pydantic import Field, StrictInt

from pullcast.card import fields as f
from pullcast.card.book import Book
from pullcast.card.engine import FlowSheet, Head, Segment, ValveSide
from pullcast.card.section import (
    Stations,
    circle,
    diameter_of,
    profile_volume,
    segments_of,
    stations_profile,
)


class SheetCard(f.Table):
    """Table [intake.flow] or [exhaust.flow]: a flow sheet as the bench printed it; the depression must be stated."""

    lifts: f.series("length", 0.0002, 0.030)
    flows: f.series("volume flow", 1e-5, 1.0)
    depression: f.Depression
    temperature: f.GasT | None = None
    pressure: f.Weather | None = None


class SideCard(f.Table):
    """Table [intake] or [exhaust] of a head card. Port dimensions run from the valve to the flange."""

    valves: StrictInt | None = Field(None, ge=1, le=4)
    valve_diameter: f.Valve | None = None
    throat_diameter: f.Valve | None = None
    stem_diameter: f.quantity("length", 0.002, 0.015) | None = None
    seat_angle: f.quantity("angle", 15.0, 60.0) | None = None
    port_length: f.quantity("length", 0.010, 0.400) | None = None
    port_area: f.Area | None = None  # at the flange
    port_area_valve: f.Area | None = None  # just above the seats
    port_volume: f.quantity("volume", 5e-6, 0.002) | None = None  # cross-check
    stations: Stations | None = None
    bend_loss: f.Loss | None = None
    reverse_ratio: f.quantity("fraction", 0.2, 2.0) | None = None
    wall_temperature: f.WallT | None = None
    roughness: f.Roughness | None = None
    heat_factor: f.Factor | None = None
    flow: SheetCard | None = None


class HeadCard(f.Table):
    """A head card; whatever is not given has a class default."""

    name: str = "class default head"
    intake: SideCard = SideCard()
    exhaust: SideCard = SideCard()
    source: dict[str, str] = Field(default_factory=dict)


def resolve_head(card: HeadCard, book: Book) -> Head:
    """The head of a card, class defaults filled in; needs the block's scales in ``book``."""
    counts = book.engine_class.valves
    intake = _side(card.intake, "intake", counts[0], book)
    exhaust = _side(card.exhaust, "exhaust", counts[1], book)
    room = book.scales["bore"] * (1.02 if intake.count == exhaust.count == 1 else 1.0)
    if intake.diameter + exhaust.diameter > room:
        book.problem("head.intake.valve_diameter",
                     f"valves of {intake.diameter * 1e3:.1f} and {exhaust.diameter * 1e3:.1f} mm do not fit "
                     f"side by side in a bore of {book.scales['bore'] * 1e3:.1f} mm",
                     "Check the units and the valve sizes.")
    return Head(card.name, intake, exhaust)


def _side(card: SideCard, side: str, count: int, book: Book) -> ValveSide:
    key = f"head.{side}"
    count = card.valves or count
    diameter = book.take(card.valve_diameter, f"{key}.valve_diameter")
    book.scales |= {f"{side} valve diameter": diameter, f"{side} valve area": count * circle(diameter)}
    throat = book.take(card.throat_diameter, f"{key}.throat_diameter")
    stem = book.take(card.stem_diameter, f"{key}.stem_diameter")
    if not stem < throat < diameter:
        book.problem(f"{key}.throat_diameter", f"stem {stem * 1e3:.1f}, throat {throat * 1e3:.1f} and valve "
                     f"{diameter * 1e3:.1f} mm are not in rising order", "The throat is the bore under the seat.")
    port = _port(card, key, side, count * (circle(throat) - circle(stem)), book)
    book.scales |= {f"{side} port area": port[-1].area_end, f"{side} port diameter": diameter_of(port[-1].area_end)}
    return ValveSide(
        count=count, diameter=diameter, throat_diameter=throat, stem_diameter=stem,
        seat_angle_deg=book.take(card.seat_angle, f"{key}.seat_angle"), port=port,
        flow=_sheet(card.flow, f"{key}.flow", book),
        reverse_ratio=book.take(card.reverse_ratio, f"{key}.reverse_ratio"))


def _port(card: SideCard, key: str, side: str, bowl: float, book: Book) -> tuple[Segment, ...]:
    """Segments of the port, valve to flange."""
    profile = stations_profile(card.stations, f"{key}.stations", book) if card.stations else None
    if profile is None:
        length = book.take(card.port_length, f"{key}.port_length")
        flange = book.take(card.port_area, f"{key}.port_area")
        profile = [(0.0, float(card.port_area_valve or bowl)), (length, flange)]
    elif card.port_length is not None and abs(card.port_length - profile[-1][0]) > 0.003:
        book.found("contradiction", f"{key}.port_length", f"port_length is {card.port_length * 1e3:.0f} mm but the "
                   f"stations end at {profile[-1][0] * 1e3:.0f} mm", "The stations were used.")
    if card.port_volume is not None:
        volume = profile_volume(profile)
        if abs(volume / card.port_volume - 1) > 0.15:
            book.found("contradiction", f"{key}.port_volume",
                       f"the port's sections and length make {volume * 1e6:.0f} cc,"
                       f" the card states {card.port_volume * 1e6:.0f} cc",
                       "Volume over length is the mean area: check the port's length and window.")
    wall = book.take(card.wall_temperature, f"{key}.wall_temperature")
    rough = book.take(card.roughness, f"{key}.roughness")
    heat = book.take(card.heat_factor, f"{key}.heat_factor")
    bend = book.take(card.bend_loss, f"{key}.bend_loss")

    def make(**shape: float) -> Segment:
        return Segment(wall_temperature=wall, roughness=rough, heat_factor=heat, **shape)

    return segments_of(profile, make, bend)


def _sheet(card: SheetCard | None, key: str, book: Book) -> FlowSheet | None:
    if card is None:
        return None
    if len(card.lifts) != len(card.flows):
        book.problem(key, f"{len(card.lifts)} lifts and {len(card.flows)} flows do not pair",
                     "Give one flow per lift.")
        return None
    if any(b <= a for a, b in zip(card.lifts, card.lifts[1:], strict=False)):
        book.problem(f"{key}.lifts", "the lifts do not rise", "List them from the lowest to the highest, each once.")
        return None
    drops = [i for i, (a, b) in enumerate(zip(card.flows, card.flows[1:], strict=False)) if b < 0.9 * a]
    if drops:
        book.found("doubt", f"{key}.flows", f"the flow falls by more than 10 % after lift number {drops[0] + 1}",
                   "A port that separates does this; a typing slip does too.")
    return FlowSheet(
        lifts=tuple(card.lifts), flows=tuple(card.flows), depression=float(card.depression),
        temperature=float(card.temperature) if card.temperature is not None else 288.7,
        pressure=float(card.pressure) if card.pressure is not None else 101325.0)


def seat_flow_area(side: ValveSide) -> float:
    """Area under the seats less the stems, all valves of the side, m2."""
    return side.count * math.pi / 4 * (side.throat_diameter**2 - side.stem_diameter**2)
