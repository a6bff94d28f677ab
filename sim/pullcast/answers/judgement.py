"""What a judged session says, as finished values."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pullcast.answers.pulls_needed import PullPlan
from pullcast.answers.refit_doubt import REFIT_TOP
from pullcast.pulls.session import Session
from pullcast.results.html import answer_html


@dataclass(frozen=True)
class Effect:
    """A difference with its interval at ``level``: percent of the baseline, and ``unit`` (SI; all None when only
    ratios count)."""

    percent: float
    low: float
    high: float
    absolute: float | None = None
    absolute_low: float | None = None
    absolute_high: float | None = None
    unit: str = ""
    level: float = 0.95

    @property
    def clear(self) -> bool:
        """Whether the interval leaves zero out."""
        return self.low > 0.0 or self.high < 0.0

    def __repr__(self) -> str:
        """Percent with its interval."""
        return f"{self.percent:+.2f} % ({100 * self.level:.0f} % interval {self.low:+.2f} to {self.high:+.2f} %)"


@dataclass(frozen=True)
class Extreme:
    """The largest loss or gain along the curve; its interval is widened for having been picked among many speeds."""

    rpm: float
    effect: Effect


@dataclass(frozen=True)
class Curve:
    """Difference over speed: ``rpm`` (m,), percent ``mean``, ``low``, ``high`` (m,) pointwise, ``base`` (m,) N m."""

    rpm: np.ndarray
    mean: np.ndarray
    low: np.ndarray
    high: np.ndarray
    base: np.ndarray

    def ranges(self, sign: int) -> tuple[tuple[float, float], ...]:
        """Speed ranges (rpm, rpm) where the pointwise interval lies wholly above (+1) or below (-1) zero."""
        clear = self.low > 0.0 if sign > 0 else self.high < 0.0
        edges = np.flatnonzero(np.diff(np.concatenate([[0], clear.astype(int), [0]])))
        pairs = zip(edges[::2], edges[1::2], strict=True)
        return tuple((float(self.rpm[a]), float(self.rpm[b - 1])) for a, b in pairs)


@dataclass(frozen=True)
class Perspective:
    """The difference set beside other engines: per litre (N m/L or kW/L), percent, BMEP in Pa (None for power)."""

    percent: float
    per_litre: float | None
    per_litre_unit: str
    bmep: float | None


@dataclass(frozen=True)
class Difference:
    """Part against baseline: what was judged, the effect, whether it is resolved, the curve, what more would take."""

    part: str
    baseline: str
    metric: str
    effect: Effect
    resolved: bool
    verdict: str
    perspective: Perspective
    noise: float
    refit: float
    curve: Curve | None = None
    largest_loss: Extreme | None = None
    largest_gain: Extreme | None = None
    more: PullPlan | None = None
    more_pulls: int | None = None

    def __repr__(self) -> str:
        """Verdict in one sentence."""
        return f"{self.part} against {self.baseline}, {self.metric}: {self.effect!r}: {self.verdict}"


@dataclass(frozen=True)
class Return:
    """A return to the baseline: fit number, how far off (percent), the allowance, good or bad, measured or stated."""

    fit: int
    percent: float
    allowance: float
    good: bool
    stated: bool = False

    def __repr__(self) -> str:
        """The test in one sentence."""
        word = "good" if self.good else "BAD"
        if self.stated:
            return f"return to the baseline stated {word}, not measured"
        return (f"return to the baseline (fit {self.fit}) off by {self.percent:+.2f} %, "
                f"allowed {self.allowance:.2f} %: {word}")


@dataclass(frozen=True)
class PullRow:
    """One pull on the page: number, part, fit, values of the metric (SI), factor, why it was left out, notes."""

    number: int
    part: str
    fit: int
    file: str
    observed: float | None
    corrected: float | None
    factor: float | None
    dry_pressure: float | None
    excluded: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Judgement:
    """A judged session.

    ``rows`` every pull, used or not; ``differences`` one per part (and per peak where only peaks are known);
    ``returns``; ``warnings``; ``grid`` (m,) rpm with ``curves`` (n, m) corrected torque N m of the used pulls in the
    order of ``used`` (run numbers); ``places`` (n,) in the session.
    """

    session: Session
    metric: str
    band: tuple[float, float] | None
    rows: tuple[PullRow, ...]
    differences: tuple[Difference, ...]
    returns: tuple[Return, ...]
    warnings: tuple[str, ...]
    grid: np.ndarray = field(default_factory=lambda: np.zeros(0))
    curves: np.ndarray = field(default_factory=lambda: np.zeros((0, 0)))
    used: tuple[int, ...] = ()
    places: np.ndarray = field(default_factory=lambda: np.zeros(0))

    @property
    def return_good(self) -> bool | None:
        """True or False as the returns show; None without any return."""
        return all(r.good for r in self.returns) if self.returns else None

    @property
    def meaning(self) -> str:
        """What the intervals and "resolved" mean, in plain words."""
        level = f"{100 * self.session.rules.level:.0f}"
        known = self.session.rules.refit is not None
        firm = "" if known else (f", and would so at any scatter of refits up to {REFIT_TOP:g} % that the pulls do "
                                 "not rule out")
        return (f"A {level} % interval is drawn so that on {level} of 100 such days it holds the true difference. "
                f"Resolved: it leaves zero out{firm}.")

    def __repr__(self) -> str:
        """Every difference and return, one per line."""
        lines = [repr(self.session), *map(repr, self.differences), *map(repr, self.returns)]
        return "\n".join([*lines, *[f"note: {w}" for w in self.warnings]])

    def _repr_html_(self) -> str:
        rows = [(f"{d.part} - {d.baseline}", d.metric, f"{d.effect.percent:+.2f}",
                 f"{d.effect.low:+.2f} to {d.effect.high:+.2f}", d.verdict) for d in self.differences]
        heads = ("difference", "of", "%", f"{100 * self.session.rules.level:.0f} % interval, %", "verdict")
        told = [*map(repr, self.differences), self.meaning, repr(self.session), *map(repr, self.returns)]
        return answer_html(told, heads, rows, self.warnings)
