"""What is noted while a card is resolved: problems, assumed values, contradictions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from pullcast import units
from pullcast.card.classes import EngineClass, Range
from pullcast.card.engine import Assumed, Finding
from pullcast.card.fields import Given
from pullcast.errors import Problem

WHY = "class default (common practice, no source)"


@dataclass
class Book:
    """Notes of one reading. ``locate`` gives (file, line) of a key path such as "cam.intake.lash"."""

    engine_class: EngineClass
    locate: Callable[[str], tuple[str, int | None]]
    scales: dict[str, float] = field(default_factory=dict)  # internal units: "bore", "stroke" ...
    given_for: dict[str, float] = field(default_factory=dict)  # values a card gives for a whole tract
    problems: list[Problem] = field(default_factory=list)
    assumed: dict[str, Assumed] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def take(self, given: float | None, key: str, row: Range | None = None, *, why: str = "") -> float:
        """The given value, or the class default of ``key`` (or ``row``), noted as assumed with its range."""
        if given is not None:
            self.stated(given, key, (row or self.row(key)).kind if row or key in self.engine_class.rows else "")
            return float(given)
        row = row or self.row(key)
        scale = self.scales[row.per] if row.per else 1.0
        note = f"{WHY}: {row.value:g} x {row.per}" if row.per else WHY
        self.assume(key, row.value * scale, row.low * scale, row.high * scale, row.kind, why or note)
        return row.value * scale

    def tract(self, key: str) -> float:
        """A value for a whole tract ("intake.roughness"): from its card, else the class default."""
        return self.take(self.given_for.get(key), key)

    def row(self, key: str) -> Range:
        """The class default row of a key."""
        return self.engine_class.rows[key]

    def assume(self, key: str, value: float, low: float, high: float, kind: str, why: str) -> None:
        """Note an assumed value (internal units of quantity ``kind``)."""
        self.assumed[key] = Assumed(key, value, min(low, value), max(high, value), units.internal_unit(kind), why)

    def stated(self, given: float, key: str, kind: str) -> None:
        """Note the uncertainty a card states for a given value."""
        within = getattr(given, "within", None)
        if isinstance(given, Given) and within is not None and kind:
            v = float(given)
            self.assume(key, v, v - within, v + within, kind, "given, with the uncertainty the card states")

    def problem(self, key: str, text: str, remedy: str = "") -> None:
        """Note a fault that makes the card unusable."""
        file, line = self.locate(key)
        self.problems.append(Problem(file, line, key, text, remedy))

    def found(self, level: str, key: str, text: str, remedy: str = "") -> None:
        """Note a contradiction, doubt or remark that does not stop the reading."""
        self.findings.append(Finding(level, key, text, remedy))
