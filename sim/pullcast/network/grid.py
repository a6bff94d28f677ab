"""A pipe cut into cells: face areas, volumes, wall data from its straight-sided segments."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from pullcast.card.engine import Pipe, Segment

PER_CELL = 0.2  # largest change of ln(area) across a cell of a cone
FINE = 16  # sub-intervals per cell when volumes and wall data are averaged


@dataclass(frozen=True)
class Grid:
    """Cells of one pipe from its start; lengths m, areas m2, volumes m3; all arrays (n,) but ``face`` (n+1,)."""

    dx: float
    face: np.ndarray
    volume: np.ndarray
    wall: np.ndarray
    roughness: np.ndarray
    loss: np.ndarray
    heat_factor: np.ndarray
    friction: np.ndarray

    @property
    def diameter(self) -> np.ndarray:
        """Hydraulic diameter of each cell taken as round, m."""
        return np.sqrt(4.0 / np.pi * self.volume / self.dx)


def with_end_lengths(pipe: Pipe) -> tuple[Segment, ...]:
    """Segments of the pipe with its end corrections as frictionless, adiabatic extensions; negative ones cut it."""
    parts = list(pipe.segments)
    for end, at_start in ((pipe.start, True), (pipe.end, False)):
        if end.end_length < 0.0:
            parts = _shortened(parts, -end.end_length, at_start)
        if end.end_length > 0.0:
            area = parts[0].area_start if at_start else parts[-1].area_end
            extra = Segment(end.end_length, area, area, heat_factor=0.0, friction=0.0)
            parts.insert(0 if at_start else len(parts), extra)
    return tuple(parts)


def _shortened(parts: list[Segment], by: float, at_start: bool) -> list[Segment]:
    """The stretch less ``by`` metres at one end, but never less than half of what it was."""
    length = sum(s.length for s in parts)
    by = min(by, 0.5 * length)
    x0, x1 = (by, length) if at_start else (0.0, length - by)
    kept, at = [], 0.0
    for s in parts:
        a, b = max(x0, at), min(x1, at + s.length)
        if b > a:
            d = [math.sqrt(v) for v in (s.area_start, s.area_end)]
            ends = [(d[0] + (d[1] - d[0]) * (x - at) / s.length) ** 2 for x in (a, b)]
            kept.append(replace(s, length=b - a, area_start=ends[0], area_end=ends[1],
                                bend_loss=s.bend_loss * (b - a) / s.length))
        at += s.length
    return kept


def area_at(segments: tuple[Segment, ...], x: np.ndarray) -> np.ndarray:
    """Flow area (m2) at distances ``x`` (m) from the start: diameters are linear within a segment."""
    knots, diameters, at = [], [], 0.0
    for s in segments:
        knots += [at, at + s.length]
        diameters += [np.sqrt(4 / np.pi * s.area_start), np.sqrt(4 / np.pi * s.area_end)]
        at += s.length
    knots = np.array(knots)
    knots[1:] += np.where(np.diff(knots) <= 0, 1e-12, 0.0)
    return np.pi / 4 * np.interp(x, np.maximum.accumulate(knots), diameters) ** 2


def _finest(segments: tuple[Segment, ...], cell: float) -> float:
    """Cell length (m) at which no cone changes its area by more than ``PER_CELL`` across a cell; at least .4 cells.

    A steeper change loses total pressure in the scheme itself: a 1:2 cone of one cell about one dynamic head.
    """
    steep = [s.length * PER_CELL / abs(math.log(s.area_end / s.area_start)) for s in segments
             if s.area_end != s.area_start]
    return max(min(steep, default=cell), 0.4 * cell)


def cut(pipe: Pipe, cell: float) -> Grid:
    """Cut a pipe into equal cells of about ``cell`` metres; at least two, one if it is shorter than half of that.

    Pipes alike share one grid, whose arrays cannot be written to.
    """
    return cut_segments(with_end_lengths(pipe), cell)


@lru_cache(maxsize=512)
def cut_segments(segments: tuple[Segment, ...], cell: float) -> Grid:
    """``cut`` for a pipe whose segments have their end corrections already."""
    length = sum(s.length for s in segments)
    n = max(2 if length > 0.5 * cell else 1, round(length / min(cell, _finest(segments, cell))))
    dx = length / n
    mid = (np.arange(n * FINE) + 0.5) * dx / FINE
    owner = np.minimum(np.searchsorted(np.cumsum([s.length for s in segments]), mid), len(segments) - 1)

    def mean(values: np.ndarray) -> np.ndarray:
        return values.reshape(n, FINE).mean(axis=1)

    def of(name: str) -> np.ndarray:
        return mean(np.array([getattr(s, name) for s in segments])[owner])

    area = area_at(segments, mid)
    per_length = np.array([s.bend_loss / s.length if s.length > 0 else 0.0 for s in segments])
    grid = Grid(
        dx=dx,
        face=area_at(segments, np.arange(n + 1) * dx),
        volume=mean(area) * dx,
        wall=of("wall_temperature"),
        roughness=of("roughness"),
        loss=mean(per_length[owner]),
        heat_factor=of("heat_factor"),
        friction=of("friction"),
    )
    for values in vars(grid).values():
        if isinstance(values, np.ndarray):
            values.flags.writeable = False
    return grid
