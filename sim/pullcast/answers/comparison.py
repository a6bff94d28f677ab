"""What a forecast held against pulls came to, as finished values. Errors are predicted less measured, in percent."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from pullcast.answers.judgement import Judgement
from pullcast.answers.session_engine import Setting
from pullcast.pulls.session import Session
from pullcast.results.html import answer_html


def reach(level: float) -> float:
    """Half width of a two-sided normal interval at ``level``, in standard deviations."""
    from scipy.special import ndtri

    return float(ndtri(0.5 + 0.5 * level))


@dataclass(frozen=True)
class Scored:
    """A predicted and a measured number with their sds in one unit; ``predicted_sd`` None: not stated."""

    predicted: float
    measured: float
    predicted_sd: float | None
    measured_sd: float

    @property
    def error(self) -> float:
        """Predicted less measured."""
        return self.predicted - self.measured

    @property
    def sd(self) -> float:
        """Sd of the error as stated beforehand: both sides; nan when the forecast did not say."""
        return math.nan if self.predicted_sd is None else math.hypot(self.predicted_sd, self.measured_sd)

    def inside(self, level: float) -> bool | None:
        """Whether the error lies within its stated interval; None when there is none."""
        return None if self.predicted_sd is None else abs(self.error) <= reach(level) * self.sd

    def interval(self, which: str, level: float) -> tuple[float, float] | None:
        """Low and high of the "predicted" or "measured" number."""
        middle, sd = getattr(self, which), getattr(self, f"{which}_sd")
        return None if sd is None else (middle - reach(level) * sd, middle + reach(level) * sd)


@dataclass(frozen=True)
class ErrorCurve:
    """Over ``rpm`` (m,): ``predicted`` and ``measured`` torque N m (m,), and their relative sds; None: not stated."""

    rpm: np.ndarray
    predicted: np.ndarray
    measured: np.ndarray
    predicted_sd: np.ndarray | None
    measured_sd: np.ndarray

    @property
    def percent(self) -> np.ndarray:
        """Predicted over measured less one, percent (m,)."""
        return 100.0 * (self.predicted / self.measured - 1.0)

    @property
    def sd(self) -> np.ndarray:
        """Sd of ``percent``, that of the measurement alone where the forecast states none (m,)."""
        own = 0.0 if self.predicted_sd is None else self.predicted_sd
        return 100.0 * np.hypot(self.measured_sd, own)


@dataclass(frozen=True)
class PeakScore:
    """Peak of ``metric``: speeds (rpm) and heights (SI); ``rpm_sd`` of the measured speed (scatter of the pulls)."""

    metric: str
    predicted_rpm: float
    measured_rpm: float
    rpm_sd: float
    predicted: float
    measured: float

    @property
    def rpm_error(self) -> float:
        """Predicted less measured speed, rpm."""
        return self.predicted_rpm - self.measured_rpm


@dataclass(frozen=True)
class PartScore:
    """One part: the band (or peak) in SI, the error curve, the peaks; ``refused`` says why it must not be scored."""

    part: str
    name: str
    forecast: str
    what: str
    unit: str
    value: Scored
    curve: ErrorCurve | None = None
    peaks: tuple[PeakScore, ...] = ()
    refused: str = ""
    runs: tuple[int, ...] = ()

    @property
    def percent(self) -> Scored:
        """The band with the measured value as 100 and the error in percent."""
        v, k = self.value, 100.0 / self.value.measured
        return Scored(k * v.predicted, 100.0, None if v.predicted_sd is None else k * v.predicted_sd,
                      k * v.measured_sd)

    def __repr__(self) -> str:
        """Error of the band with the stated interval."""
        p = self.percent
        stated = "" if p.predicted_sd is None else f", stated ±{reach(0.95) * p.sd:.1f} %"
        tail = f" (not scored: {self.refused})" if self.refused else ""
        return f"{self.part}, {self.what}: forecast {p.error:+.1f} % off{stated}{tail}"


@dataclass(frozen=True)
class DifferenceScore:
    """Part against baseline in percent of it; ``resolved`` as judged; the curves over ``rpm`` (m,) in percent."""

    part: str
    baseline: str
    what: str
    value: Scored
    resolved: bool
    verdict: str
    rpm: np.ndarray | None = None
    predicted: np.ndarray | None = None
    predicted_sd: np.ndarray | None = None
    measured: np.ndarray | None = None
    measured_low: np.ndarray | None = None
    measured_high: np.ndarray | None = None
    refused: str = ""

    def share_inside(self, level: float) -> float | None:
        """Share of the speeds at which the predicted difference lies within the intervals of both sides; None when
        the forecast states none. A band can agree while its curves do not: this shows it."""
        if self.rpm is None or self.predicted_sd is None:
            return None
        measured_half = 0.5 * (self.measured_high - self.measured_low)
        both = np.hypot(reach(level) * self.predicted_sd, measured_half)
        return float(np.mean(np.abs(self.predicted - self.measured) <= both))

    @property
    def sign_agrees(self) -> bool | None:
        """Whether forecast and pulls agree which is better; None while the pulls do not say."""
        return self.value.predicted * self.value.measured > 0.0 if self.resolved else None

    def __repr__(self) -> str:
        """Both differences in one line."""
        v = self.value
        return (f"{self.part} against {self.baseline}, {self.what}: predicted {v.predicted:+.2f} %, measured "
                f"{v.measured:+.2f} % ({self.verdict})")


@dataclass(frozen=True)
class RankScore:
    """Agreement of the predicted order of ``parts`` with the measured one: Kendall's tau and Spearman's rho, each
    (value, low, high) with the interval that the uncertainty of the measurement leaves; ``best`` True when the part
    predicted best is measured best."""

    parts: tuple[str, ...]
    kendall: tuple[float, float, float]
    spearman: tuple[float, float, float]
    best: bool


@dataclass(frozen=True)
class Comparison:
    """A session held against forecasts. ``judged`` None when only one part was run."""

    session: Session
    setting: Setting
    band: tuple[float, float] | None
    level: float
    parts: tuple[PartScore, ...]
    differences: tuple[DifferenceScore, ...]
    rank: RankScore | None
    judged: Judgement | None
    sealed: str = ""
    sealed_utc: str = ""
    forecasts: tuple[tuple[str, str], ...] = ()  # part, SHA-256 of its forecast
    digests: tuple[tuple[str, str], ...] = ()  # part, SHA-256 of each pull
    calibrated: bool = False
    version: str = ""
    notes: tuple[str, ...] = ()

    def __repr__(self) -> str:
        """Every part and difference, one per line."""
        rank = [] if self.rank is None else [f"order of {len(self.rank.parts)} parts: Kendall's tau "
                                             f"{self.rank.kendall[0]:+.2f}"]
        return "\n".join([repr(self.session), *map(repr, self.parts), *map(repr, self.differences), *rank,
                          *(f"note: {n}" for n in self.notes)])

    def _repr_html_(self) -> str:
        rows = [(p.part, p.what, f"{p.percent.error:+.2f}", "–" if p.percent.predicted_sd is None else
                 f"{reach(self.level) * p.percent.sd:.2f}", p.refused or "scored") for p in self.parts]
        seal = f"forecast sealed {self.sealed_utc}, seal {self.sealed[:16]}" if self.sealed else "forecast not sealed"
        heads = ("part", "of", "forecast off, %", f"stated {100 * self.level:.0f} % ±, %", "")
        told = [*map(repr, self.differences or self.parts), repr(self.session), seal]
        return answer_html(told, heads, rows, self.notes)
