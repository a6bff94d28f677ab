"""The network: pipes, volumes, junctions, surroundings and valves as values that can be printed."""

from __future__ import annotations

from dataclasses import dataclass

from pullcast.card.engine import Junction, Pipe, Volume


@dataclass(frozen=True)
class Surroundings:
    """Gas outside every "ambient" end: p Pa, T K, mass fractions of fuel vapour and burned gas."""

    pressure: float = 101325.0
    temperature: float = 298.15
    fuel: float = 0.0
    burned: float = 0.0


@dataclass(frozen=True)
class Injection:
    """Fuel joins the air of ``pipe`` at ``distance`` (m) before its ``toward`` end ("start" or "end")."""

    pipe: str
    distance: float
    toward: str
    evaporated: float
    temperature: float


@dataclass(frozen=True)
class Network:
    """Everything gas flows through. Pipe ends name "ambient", "closed", a volume, a junction, or
    "intake valve N" / "exhaust valve N"."""

    pipes: tuple[Pipe, ...]
    volumes: tuple[Volume, ...] = ()
    junctions: tuple[Junction, ...] = ()
    surroundings: Surroundings = Surroundings()
    injections: tuple[Injection, ...] = ()
    burned_pipes: tuple[str, ...] = ()  # pipes and volumes that start full of hot burned gas
