"""A measured session: which parts ran when, in which weather, from which files, and how it is to be judged. SI."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from pullcast.pulls.mapping import Mapping


@dataclass(frozen=True)
class Weather:
    """Air at the engine: station pressure (Pa), intake air temperature (K), relative humidity (0 to 1)."""

    pressure: float
    temperature: float
    humidity: float


@dataclass(frozen=True)
class Run:
    """One pull of the day, in the order run.

    ``number`` from 1; ``part`` its letter; ``fit`` counts the times a part was put on (from 1); ``file`` or the peaks
    ``peak_power`` (W) and ``peak_torque`` (N m); ``at`` minutes since the first run or None; ``rate`` (rpm/s) and
    ``inertia`` (kg m2) of the sweep; ``excluded`` the reason, or empty; ``leave_out`` line numbers of the file and
    ``leave_out_reason``; ``state`` what was noted of oil, coolant, spark, mixture (SI).
    """

    number: int
    part: str
    fit: int
    file: Path | None = None
    peak_power: float | None = None
    peak_torque: float | None = None
    at: float | None = None
    weather: Weather | None = None
    rate: float | None = None
    inertia: float | None = None
    kind: str | None = None
    excluded: str = ""
    leave_out: tuple[int, ...] = ()
    leave_out_reason: str = ""
    state: dict[str, float] = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True)
class Rules:
    """How the session is judged, set beforehand.

    ``band`` (rpm, rpm); ``metric`` "torque" or "power", averaged over the band; ``window`` and ``step`` of the
    smoothing (rpm); ``refit`` standard deviation of putting a part on again as a fraction, or None to estimate it;
    ``worth`` the smallest difference worth knowing, as a fraction; ``level`` of the intervals.
    """

    band: tuple[float, float] | None = None
    metric: str = "torque"
    window: float = 200.0
    step: float = 100.0
    refit: float | None = None
    worth: float = 0.01
    level: float = 0.95


@dataclass(frozen=True)
class Session:
    """A session card as read: what was run and how it is judged."""

    path: Path
    title: str
    source: str
    parts: dict[str, str]
    runs: tuple[Run, ...]
    baseline: str
    basis: str
    recorded: str
    rules: Rules
    mapping: Mapping | None = None
    engine: Path | None = None
    displacement: float | None = None
    strokes: int = 4
    stated_return: str = ""

    @property
    def sequence(self) -> str:
        """Parts in the order they were put on, such as "A-B-A"."""
        fits = {run.fit: run.part for run in self.runs}
        return "-".join(fits[k] for k in sorted(fits))

    def __repr__(self) -> str:
        """Title, sequence, number of runs and exclusions, basis."""
        out = sum(bool(r.excluded) for r in self.runs)
        return (f"session {self.title!r}: {self.sequence}, {len(self.runs)} pulls, {out} excluded, "
                f"recorded {self.recorded}, basis {self.basis}")
