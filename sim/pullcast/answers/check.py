"""Check: what follows from an engine card without simulating, what was assumed, what does not fit together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pullcast.card.engine import Assumed, Engine, Finding, must_be_engine
from pullcast.results.html import answer_html

CONTRADICTION = "contradiction"
ROOM = 1.05  # a lobe known by its durations alone is fitted: its velocity is good to about 5 %


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

    return Review(engine, tuple(derived(engine)), tuple(engine.assumed), (*_tappets(engine), *checks(engine)))


def _tappets(engine: Engine) -> Iterator[Finding]:
    """A lobe that would run off the edge of its flat tappet."""
    if engine.cam.tappet_diameter is None or engine.cam.follower != "flat":
        return
    from pullcast.network.lift import flat_tappet_velocity_limit, tappet_velocity
    from pullcast.units import show

    most = flat_tappet_velocity_limit(engine.cam.tappet_diameter)
    for side in ("intake", "exhaust"):
        needed = tappet_velocity(getattr(engine.cam, side), side)
        if needed > ROOM * most:
            has, takes = (show(d, "length") for d in (engine.cam.tappet_diameter,
                                                      engine.cam.tappet_diameter * needed / most))
            yield Finding("doubt", "cam.tappet_diameter", f"the {side} lobe moves its tappet by {1e3 * needed:.3f} "
                          f"mm a cam degree; a flat one of {has} keeps contact to {1e3 * most:.3f}",
                          f"It takes {takes}, less lift, or more duration.")
