"""What is known so far of one engine on the page: its lumped curve and cycle, and the waves' as they come."""

from __future__ import annotations

from dataclasses import dataclass, field

from pullcast.card.engine import Engine
from pullcast.errors import SolveError
from pullcast.show.lab.behind import Memory
from pullcast.show.lab.bench import Setup
from pullcast.show.lab.readings import Curve, Cycle, curve_of, cycle_of, speeds_of
from pullcast.solve.jobs import Job
from pullcast.solve.keys import march_sha256
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.settle import Point
from pullcast.solve.sweep import Failed, sweep


@dataclass
class Results:
    """Results of one setup. Filled by one thread, the page's."""

    setup: Setup
    lumped: Curve | None = None
    lumped_cycle: Cycle | None = None
    wave_points: dict[float, Point | Failed] = field(default_factory=dict)
    wave_cycle: Cycle | None = None

    @property
    def engine(self) -> Engine:
        """The engine."""
        return self.setup.engine

    @property
    def speeds(self) -> tuple[float, ...]:
        """Speeds of its curves, rpm."""
        return speeds_of(self.engine)

    @property
    def waves_complete(self) -> bool:
        """Whether the wave model has been asked at every speed and gave something."""
        return all(rpm in self.wave_points for rpm in self.speeds) and bool(self.waves.columns)

    @property
    def waves(self) -> Curve:
        """The wave model's curve as far as it has come."""
        return curve_of(self.engine, self.wave_points, self.speeds)

    def cycle(self, rpm: float) -> Cycle | None:
        """The best cycle known at a speed: of the waves, else lumped."""
        for found in (self.wave_cycle, self.lumped_cycle):
            if found is not None and found.rpm == rpm:
                return found
        return None

    def take(self, job: Job, point: Point | Failed) -> None:
        """Keep a point of the wave model."""
        if not job.traces:
            self.wave_points[job.rpm] = point
        elif isinstance(point, Point):
            self.wave_cycle = cycle_of(self.engine, point, "wave")


def lumped_curve(engine: Engine, memory: Memory) -> Curve:
    """The lumped model's curve: remembered, or computed here."""
    speeds = speeds_of(engine)
    key = f"lumped {march_sha256(engine)} {speeds}"
    known = memory.get(key)
    if known is None:
        found = sweep(engine, speeds, fidelity="lumped")
        known = curve_of(engine, {p.rpm: p for p in found}, speeds)
        memory.put(key, known)
    return known


def lumped_cycle(engine: Engine, rpm: float) -> Cycle | None:
    """The lumped model's cycle at a speed, None where it breaks down."""
    try:
        return cycle_of(engine, settle_lumped(engine, rpm, traces=True), "lumped")
    except SolveError:
        return None
