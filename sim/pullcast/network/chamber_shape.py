"""The combustion chamber as a simple shape, and the area of a flame front in it.

The head above the bore is a height over the deck, z(x, y); the piston is flat. Three shapes: "roof" (two planes that
meet in a ridge over the bore's diameter), "wedge" (one plane rising towards the plug, ending at a wall) and "flat".
Part of the bore may be squish: there the head is flat at the squish clearance. The height follows from the clearance
volume. A front is a sphere about the plug, cut by head, bore and piston; its area A(r) is that of the directions in
which a ray of length r ends inside the chamber, the volume behind it the integral of A over r.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pullcast.errors import InputError

SHAPES = ("roof", "wedge", "flat")
ROWS, COLUMNS = 21, 41
_RAYS = 3000
_RADII = 160


@dataclass(frozen=True)
class Chamber:
    """A chamber: lengths m. ``plug`` is the distance of the plug from the bore's axis, towards the high side of a
    wedge; ``squish`` the share of the bore that is squish; ``gap`` the squish clearance at top dead centre."""

    shape: str
    bore: float
    stroke: float
    clearance_volume: float
    plug: float = 0.0
    squish: float = 0.0
    gap: float = 1.0e-3

    def __post_init__(self) -> None:
        """Refuse shapes that cannot be."""
        if self.shape not in SHAPES:
            msg = f"no chamber shape {self.shape!r}; there are {', '.join(SHAPES)}"
            raise InputError(msg)
        if not 0.0 <= self.plug <= 0.48 * self.bore:
            msg = f"a plug {1e3 * self.plug:g} mm off the axis is outside a bore of {1e3 * self.bore:g} mm"
            raise InputError(msg)
        if not 0.0 <= self.squish <= 0.7:
            msg = f"squish share {self.squish:g} is outside 0 to 0.7 of the bore"
            raise InputError(msg)

    @property
    def clearance(self) -> float:
        """Gap between flat parts at top dead centre, m: ``gap``, or less where the clearance volume leaves less."""
        most = self.clearance_volume / (math.pi / 4 * self.bore**2)
        return most if self.shape == "flat" else min(self.gap, 0.5 * most)

    @property
    def edge(self) -> float:
        """Length of the boundary between squish and chamber, m."""
        if self.shape == "roof":
            return math.pi * self.bore * math.sqrt(1.0 - self.squish)
        x = _wall(self.squish)
        return self.bore * math.sqrt(max(1.0 - x * x, 0.0))


@lru_cache(maxsize=64)
def _wall(share: float) -> float:
    """Chord position (in bore radii) beyond which ``share`` of a disc lies."""
    low, high = -1.0, 1.0
    for _ in range(60):
        x = 0.5 * (low + high)
        beyond = (math.acos(x) - x * math.sqrt(1 - x * x)) / math.pi
        low, high = (x, high) if beyond > share else (low, x)
    return 0.5 * (low + high)


def _height(chamber: Chamber) -> float:
    """Greatest height of the head over the deck, m: what the clearance volume leaves over the mean of the shape."""
    R, n = chamber.bore / 2, 200
    rho, phi = R * np.sqrt((np.arange(n) + 0.5) / n), 2 * np.pi * (np.arange(2 * n) + 0.5) / (2 * n)  # equal areas
    mean = float(_unit_height(chamber, np.outer(rho, np.cos(phi)), np.outer(rho, np.sin(phi))).mean())
    spare = chamber.clearance_volume - chamber.clearance * math.pi * R * R
    return spare / (mean * math.pi * R * R) if mean > 0.0 else 0.0


def _unit_height(chamber: Chamber, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Shape of the head, 1 at its highest."""
    R = chamber.bore / 2
    if chamber.shape == "roof":
        inside = np.hypot(x, y) <= R * math.sqrt(1.0 - chamber.squish) * (1 + 1e-12)
        return np.where(inside, 1.0 - np.abs(x) / R, 0.0)
    if chamber.shape == "wedge":
        edge = R * _wall(chamber.squish)
        return np.where(x <= edge * (1 + 1e-12), (x + R) / (edge + R), 0.0)
    return np.zeros_like(x)


@lru_cache(maxsize=1)
def _rays() -> np.ndarray:
    """Directions spread evenly over a sphere (golden-angle spiral), (3, n)."""
    i = np.arange(_RAYS) + 0.5
    z, turn = 1.0 - 2.0 * i / _RAYS, np.pi * (1.0 + math.sqrt(5.0)) * i
    flat = np.sqrt(1.0 - z * z)
    return np.array([flat * np.cos(turn), flat * np.sin(turn), z])


def front(chamber: Chamber, travel: float) -> tuple[np.ndarray, np.ndarray]:
    """Area (m2) of the front and volume (m3) behind it, over rising radius, with the piston ``travel`` m down."""
    R, height = chamber.bore / 2, _height(chamber)
    floor = -(chamber.clearance + travel)
    plug = height * float(_unit_height(chamber, np.array([chamber.plug]), np.zeros(1))[0]) - 1e-6
    farthest = math.hypot(R + chamber.plug, max(plug - floor, plug))
    r = farthest * np.linspace(0.0, 1.0, _RADII + 1) ** 1.5
    dx, dy, dz = _rays()
    x, y, z = chamber.plug + np.outer(r, dx), np.outer(r, dy), plug + np.outer(r, dz)
    inside = (np.hypot(x, y) <= R) & (z >= floor) & (z <= height * _unit_height(chamber, x, y))
    area = 4.0 * np.pi * r**2 * inside.mean(axis=1)
    return area, np.concatenate([[0.0], np.cumsum(0.5 * (area[1:] + area[:-1]) * np.diff(r))])


@lru_cache(maxsize=128)
def front_table(chamber: Chamber) -> np.ndarray:
    """A/V_e^(2/3) of the front, (ROWS, COLUMNS); rows over (travel/stroke)^0.5, columns over (V_e/V)^(1/3)."""
    table = np.empty((ROWS, COLUMNS))
    at = np.linspace(0.0, 1.0, COLUMNS)
    for i, q in enumerate(np.linspace(0.0, 1.0, ROWS)):
        area, behind = front(chamber, chamber.stroke * q * q)
        far = behind > 1e-5 * behind[-1]
        share = np.cbrt(behind[far] / behind[-1])
        table[i] = np.interp(at, share, area[far] / behind[far] ** (2.0 / 3.0))
        table[i, -1] = 0.0
    return table
