"""A ranking as a finished value: places, chances, what decides the order, and how it was computed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pullcast.answers.agreement import Agreement
from pullcast.answers.influence import Influence, chance_text
from pullcast.results.html import answer_html


@dataclass(frozen=True)
class Limit:
    """One constraint of one engine: its ``value`` (SI; deg; None: not known), the ``limit``, whether it is kept.

    ``aside``: no engine of the ranking keeps it, the base neither, so that it cannot choose among them.
    """

    name: str
    title: str
    value: float | None
    limit: float
    at_least: bool
    kept: bool
    aside: bool = False


@dataclass(frozen=True, repr=False)
class Place:
    """One engine of a ranking; gains are fractions of the base's goal.

    ``score`` N m or W; ``gain`` by ``fidelity``; ``low`` and ``high`` its 80 % band, ``best`` the chance to be the
    best of those that keep the limits, ``better`` the chance to be better than the base: None where no samples were
    drawn. ``verdict`` against the base. ``torque`` (N m) at the ranking's speeds; ``change_low`` and ``change_high``
    there the 80 % band of the change of torque to the base (fractions; drawn at ``Ranking.sampled_speeds``).
    """

    name: str
    swaps: Mapping[str, Any]
    fidelity: str
    score: float
    gain: float
    torque: tuple[float, ...]
    limits: tuple[Limit, ...] = ()
    low: float | None = None
    high: float | None = None
    best: float | None = None
    better: float | None = None
    verdict: str = ""
    change_low: tuple[float, ...] = ()
    change_high: tuple[float, ...] = ()
    trouble: str = ""
    notes: tuple[str, ...] = ()

    def __repr__(self) -> str:
        """Gain, band, verdict and chance in a line."""
        if self.trouble:
            return f"{self.name}: {self.trouble}"
        text = f"{self.name}: {100 * self.gain:+.2f} %"
        if self.low is not None:
            text += (f" ({100 * self.low:+.2f} to {100 * self.high:+.2f} %), {self.verdict or 'the base'}, best "
                     f"{100 * self.best:.0f} %")
        return text + "".join(f"; breaks {x.title}" for x in self.limits if not x.kept)

    @property
    def kept(self) -> bool:
        """Whether it could be computed and keeps every limit that is known and not set aside."""
        return not self.trouble and all(limit.kept or limit.aside for limit in self.limits)


@dataclass(frozen=True)
class Screened:
    """The lumped screening: ``names`` and lumped ``gains`` of all candidates, best first; ``carried`` to waves, with
    those computed to compare that were not the last by waves; ``controls`` the others computed to compare; ``behind``
    the largest chance that one left behind would by waves beat the best, and its name."""

    names: tuple[str, ...]
    gains: tuple[float, ...]
    carried: tuple[str, ...]
    controls: tuple[str, ...]
    behind: float
    behind_name: str


@dataclass(frozen=True, repr=False)
class Ranking:
    """Candidates, best first: those that keep the limits, then those that do not, then those without a curve.

    ``pairs`` (name, name) -> chance that the first is truly better, ``apart`` -> 80 % band of its gain less the
    second's. ``winner`` the name of the engine that can be
    said to be the best, "" when none can. All gains of ``places`` are of one ``fidelity``; of the ``samples``
    draws, by the model ``spread``, ``wave_draws`` were computed by waves too.
    """

    name: str
    goal: str
    band: tuple[float, float]
    speeds: tuple[float, ...]
    sampled_speeds: tuple[float, ...]
    base: Place
    places: tuple[Place, ...]
    fidelity: str
    spread: str
    samples: int
    pairs: Mapping[tuple[str, str], float]
    verdicts: Mapping[tuple[str, str], str]
    winner: str
    agreement: Agreement
    influence: Influence | None
    screened: Screened | None
    notes: tuple[str, ...]
    version: str = ""
    engine: str = ""
    wave_draws: int = 0
    apart: Mapping[tuple[str, str], tuple[float, float]] = field(default_factory=dict)

    def place(self, name: str) -> Place:
        """The place of a candidate or of the base, by name; KeyError for another."""
        found = {p.name: p for p in (*self.places, self.base)}
        return found[name]

    @property
    def unit(self) -> str:
        """Unit of the goal: "W" or "N m"."""
        return "W" if "power" in self.goal else "N m"

    def headline(self) -> str:
        """The answer in one sentence."""
        sure = [p for p in self.places if p.kept]
        if not sure:
            return "No candidate could be computed and keeps the limits."
        first = sure[0]
        if self.winner == self.base.name:
            what = f"Nothing of the {len(self.places)} by waves" if self.screened else "Nothing on the list"
            return f"{what} is better than what is on ({chance_text(self.base.best)} % chance)."
        if self.winner:
            return (f"{self.winner}: {100 * first.gain:+.1f} % over the base, the best with a chance of "
                    f"{chance_text(self.place(self.winner).best)} %.")
        if first.best is None:
            return f"{first.name} comes first, {100 * first.gain:+.1f} %; chances were not sampled."
        top = max((p for p in (*sure, self.base) if p.best is not None), key=lambda p: p.best)
        return (f"No winner: {top.name} is the likeliest best, with a chance of {chance_text(top.best)} % "
                f"({100 * top.gain:+.1f} % over the base).")

    def __repr__(self) -> str:
        """The answer and a row a candidate."""
        rows = [f"  {k:2d} {p!r}" for k, p in enumerate(self.places, 1)]
        head = f"{self.name}, {self.goal} {self.band[0]:.0f} to {self.band[1]:.0f} rpm, {self.fidelity} model:"
        return "\n".join([head, self.headline(), *rows])

    def _repr_html_(self) -> str:
        rows = [(p.name, "–" if p.trouble else f"{100 * p.gain:+.2f}",
                 "–" if p.low is None else f"{100 * p.low:+.2f} to {100 * p.high:+.2f}",
                 p.trouble or p.verdict or "–", "–" if p.best is None or not p.kept else chance_text(p.best),
                 "kept" if p.kept else "broken") for p in self.places]
        band = f"{self.engine}: {self.goal}, {self.band[0]:.0f} to {self.band[1]:.0f} rpm, {self.fidelity} model"
        heads = ("candidate", "gain, %", "80 % band, %", "against the base", "best, %", "limits")
        return answer_html([self.headline(), band], heads, rows, self.notes)
