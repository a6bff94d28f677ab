"""Cross-sections and tapers of ducts as cards state them, and the straight-sided segments they make."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

from pullcast.card import fields as f
from pullcast.card.book import Book
from pullcast.card.engine import Segment


class Stations(f.Table):
    """Cross-sections along a duct: distances from its start, and areas or diameters there."""

    at: f.series("length", 0.0, 6.0)
    area: f.series("area", 1e-6, 0.08) | None = None
    diameter: f.series("length", 0.004, 0.3) | None = None


def circle(diameter: float) -> float:
    """Area (m2) of a circle of ``diameter`` (m)."""
    return math.pi / 4 * diameter**2


def diameter_of(area: float) -> float:
    """Diameter (m) of a circle of ``area`` (m2)."""
    return math.sqrt(4.0 / math.pi * area)


def tube_id(od: float | None, wall: float | None, inner: float | None) -> float | None:
    """Inside diameter (m) of a tube from outside diameter and wall, or as given."""
    if inner is not None:
        return float(inner)
    return None if od is None else float(od) - 2.0 * float(wall or 0.0)


def section_area(card: object, key: str, book: Book, suffix: str = "") -> float | None:
    """Area (m2) of the section a table states: area, diameter, width and height, id, or od and wall.

    ``suffix`` picks the other end's keys ("_end"). None if nothing is stated; two statements are compared.
    """
    def get(name: str) -> float | None:
        return getattr(card, name + suffix, None)

    found: dict[str, float] = {}
    if get("area") is not None:
        found["area"] = float(get("area"))
    if get("diameter") is not None:
        found["diameter"] = circle(get("diameter"))
    if get("width") is not None and get("height") is not None:
        found["width x height"] = float(get("width")) * float(get("height"))
    elif get("width") is not None or get("height") is not None:
        book.problem(f"{key}.width{suffix}", "width and height must be given together", "Give both, or an area.")
    inner = tube_id(get("od"), get("wall"), get("id"))
    if inner is not None:
        if inner <= 0.003:
            book.problem(f"{key}.od{suffix}", "the wall leaves no bore", "Check od and wall.")
            return None
        found["tube"] = circle(inner)
    values = list(found.values())
    if len(values) > 1 and max(values) > 1.03 * min(values):
        book.found("contradiction", key, f"{' and '.join(found)} state different areas: "
                   + " and ".join(f"{v * 1e4:.2f} cm2" for v in values), "Keep the one that was measured.")
    return values[0] if values else None


def stations_profile(stations: Stations, key: str, book: Book) -> list[tuple[float, float]] | None:
    """(distance m, area m2) pairs of a stations table; problems go to ``book``."""
    if stations.area is not None:
        areas = [float(a) for a in stations.area]
    elif stations.diameter is not None:
        areas = [circle(d) for d in stations.diameter]
    else:
        book.problem(key, "stations need area or diameter", 'Write { at = "0 100 mm", diameter = "40 38 mm" }.')
        return None
    at = list(stations.at)
    if len(at) != len(areas) or len(at) < 2:
        book.problem(key, f"{len(at)} distances and {len(areas)} sections do not pair",
                     "Give one section per distance.")
        return None
    if at[0] != 0.0 or any(b <= a for a, b in itertools.pairwise(at)):
        book.problem(key, "distances must start at 0 and rise", "Measure from the start of the duct.")
        return None
    return list(zip(at, areas, strict=True))


def segments_of(profile: Sequence[tuple[float, float]], make: Callable[..., Segment],
                bend_loss: float = 0.0) -> tuple[Segment, ...]:
    """Segments along (distance, area) pairs; ``bend_loss`` is shared out by length."""
    total = profile[-1][0] - profile[0][0]
    return tuple(
        make(length=b - a, area_start=area_a, area_end=area_b, bend_loss=bend_loss * (b - a) / total)
        for (a, area_a), (b, area_b) in itertools.pairwise(profile))


def profile_volume(profile: Sequence[tuple[float, float]]) -> float:
    """Volume (m3) of a duct whose diameter is linear between (distance, area) pairs."""
    return sum((b - a) / 3.0 * (s + math.sqrt(s * t) + t)
               for (a, s), (b, t) in itertools.pairwise(profile))
