"""Check: what follows from an engine card without simulating, what was assumed, what does not fit together."""

from __future__ import annotations

from dataclasses import dataclass

from pullcast.card.engine import Assumed, Engine, must_be_engine
from pullcast.results.html import answer_html

CONTRADICTION = "contradiction"


@dataclass(frozen=True, repr=False)
class Review:
    """The review of one card.

    ``derived`` are the numbers that follow from the card, ``assumed`` those it did not give, with their ranges,
    ``findings`` the contradictions, doubts and notes (``pullcast.card.engine.Finding``).
    """

    engine: Engine
    derived: tuple
    assumed: tuple[Assumed, ...]
    findings: tuple

    @property
    def contradictions(self) -> tuple:
        """The findings where two numbers of the card cannot both be right."""
        return tuple(f for f in self.findings if f.level == CONTRADICTION)

    def __repr__(self) -> str:
        """One sentence: how much was derived, assumed and found."""
        counts = {level: sum(f.level == level for f in self.findings) for level in (CONTRADICTION, "doubt")}
        told = ", ".join(f"{n} {level}{'' if n == 1 else 's'}" for level, n in counts.items())
        return (f"{self.engine.name}: {told}; {len(self.derived)} numbers derived, "
                f"{len(self.assumed)} values assumed or uncertain.")

    def _repr_html_(self) -> str:
        rows = [(f.level, f.key, f.text, f.remedy) for f in self.findings]
        return answer_html([repr(self)], ("level", "key", "what", "remedy") if rows else (), rows)


def check(engine: Engine) -> Review:
    """Review an engine (``pullcast.card.read_engine``): derived numbers, assumed values, contradictions."""
    must_be_engine(engine, "check")
    from pullcast.card.checks import checks
    from pullcast.card.derived import derived

    return Review(engine, tuple(derived(engine)), tuple(engine.assumed), tuple(checks(engine)))
