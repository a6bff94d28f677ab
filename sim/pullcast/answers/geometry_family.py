"""Which geometries of a part explain two measured peaks, when little of the part is known.

Plausible ranges are sampled (scrambled Sobol points), each sample is forecast, and its weight is the likelihood of
the measured ratios of peak power and peak torque to the base's (sampling importance, Rubin 1988; from memory). What
is left is a family, not one answer. Beside it stand the fits of one change alone and what single faults would do to
the two peaks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pullcast.answers.performance import performance
from pullcast.card.engine import Engine
from pullcast.card.reading import read_engine, with_changes
from pullcast.errors import InputError, SolveError
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.sweep import Failed

LEVELS = 3  # values of a range tried alone
CLEAR = 2.5  # standard deviations at which a cause is excluded


@dataclass(frozen=True)
class Range:
    """A card key from ``low`` to ``high`` in ``unit``, and its ``neutral`` value, that of the base."""

    key: str
    low: float
    high: float
    unit: str
    neutral: float


@dataclass(frozen=True)
class Alone:
    """The best that one cause alone can do: its setting in words, power and torque ratio, and how many standard
    deviations the worse of both is off."""

    cause: str
    setting: str
    power: float
    torque: float
    off: float

    @property
    def excluded(self) -> bool:
        """Whether it is too far off to be the cause by itself."""
        return self.off > CLEAR


@dataclass(frozen=True)
class GeometryFamily:
    """``values`` (n, k) of the ranges, ``power`` and ``torque`` (n,) peak ratios, ``weights`` (n,) summing to 1;
    ``wanted`` both measured ratios, ``sd`` of each; ``alone`` the fits of single causes, best first."""

    ranges: tuple[Range, ...]
    values: np.ndarray
    power: np.ndarray
    torque: np.ndarray
    weights: np.ndarray
    wanted: tuple[float, float]
    sd: float
    alone: tuple[Alone, ...]

    @property
    def explained(self) -> tuple[float, float]:
        """Weighted mean ratios of power and torque of the family."""
        return float(self.weights @ self.power), float(self.weights @ self.torque)

    @property
    def size(self) -> float:
        """How many samples carry the weight (Kish's effective number)."""
        return float(1.0 / (self.weights**2).sum())

    def spread(self, i: int, low: float = 0.1, high: float = 0.9) -> tuple[float, float, float]:
        """Weighted quantiles of range ``i``: low, median, high."""
        order = np.argsort(self.values[:, i])
        at = np.cumsum(self.weights[order]) - 0.5 * self.weights[order]
        return tuple(float(np.interp(q, at, self.values[order, i])) for q in (low, 0.5, high))

    def __repr__(self) -> str:
        """The family and the single causes in a few lines."""
        power, torque = self.explained
        rows = [f"power {100 * (power - 1):+.1f} %, torque {100 * (torque - 1):+.1f} % explained by a family "
                f"(measured {100 * (self.wanted[0] - 1):+.1f}, {100 * (self.wanted[1] - 1):+.1f}; {self.size:.0f} "
                "samples carry it):"]
        for i, r in enumerate(self.ranges):
            low, middle, high = self.spread(i)
            rows.append(f"  {r.key:26s} {low:.3g} to {high:.3g} {r.unit}, middle {middle:.3g} (base {r.neutral:.3g})")
        rows += [f"  alone, {a.cause}: {a.setting}: power {100 * (a.power - 1):+.1f} %, torque "
                 f"{100 * (a.torque - 1):+.1f} %{': excluded' if a.excluded else ''}" for a in self.alone]
        return "\n".join(rows)


def geometry_family(card: str | Path, ranges: Sequence[Range], power: float, torque: float, *, sd: float = 0.013,
                    speeds: Sequence[float], samples: int = 64, seed: int = 0, fidelity: str = "wave",
                    numerics: Numerics | None = None, store=None, workers: int | None = None,
                    on_tick: Callable | None = None) -> GeometryFamily:
    """The family of geometries within ``ranges`` whose peaks are ``power`` and ``torque`` times the base's.

    ``sd`` is the standard deviation of each ratio: measurement (single pulls about .9 %) and model together.
    ``samples`` is a power of two; ``speeds`` (rpm) must hold both peaks. Raises InputError for ratios or samples that
    make no sense, SolveError when the base breaks down.
    """
    from scipy.stats import qmc

    if not (0.3 < power < 1.5 and 0.3 < torque < 1.5) or samples < 2 or samples & (samples - 1):
        msg = (f"peak ratios {power:g} and {torque:g} with {samples} samples: ratios are part over base (about 1), "
               "samples a power of two")
        raise InputError(msg)
    unit = qmc.Sobol(len(ranges), seed=seed).random(samples)
    low, high = (np.array([getattr(r, n) for r in ranges]) for n in ("low", "high"))
    values = low + unit * (high - low)
    neutral = {r.key: _text(r.neutral, r) for r in ranges}
    single = [(r, v) for r in ranges for v in _levels(r)]
    cards = [neutral, *[{r.key: _text(v, r) for r, v in zip(ranges, row, strict=True)} for row in values],
             *[neutral | {r.key: _text(v, r)} for r, v in single]]
    peaks = _peaks([_engine(card, c) for c in cards], speeds, fidelity, numerics or Numerics(), store, workers,
                   on_tick)
    if not np.isfinite(peaks[0]).all():
        msg = "the base itself could not be computed"
        raise SolveError(msg, rpm=float(speeds[0]), component="the base")
    ratio = peaks / peaks[0]
    mine = ratio[1:samples + 1, :2]
    misfit = ((mine - np.array([power, torque])) / sd) ** 2
    score = np.where(np.isfinite(misfit).all(axis=1), -0.5 * misfit.sum(axis=1), -np.inf)
    weights = np.exp(score - score.max())
    alone = _alone(ranges, single, ratio[samples + 1:, :2], (power, torque), sd)
    alone.append(_dead(read_engine(card), peaks[0], (power, torque), sd))
    return GeometryFamily(tuple(ranges), values, mine[:, 0], mine[:, 1], weights / weights.sum(), (power, torque), sd,
                          tuple(sorted(alone, key=lambda a: a.off)))


def _engine(card: str | Path, changes: Mapping[str, str | float]) -> Engine:
    """The changed engine; air that is warmed keeps its water (relative humidity halves every 11 K)."""
    if "day.temperature" not in changes:
        return with_changes(card, changes)
    usual = read_engine(card).day
    engine = with_changes(card, {**changes, "day.humidity": "0 %"})  # as humid as before it could not be read
    humidity = usual.humidity * 0.5 ** ((engine.day.temperature - usual.temperature) / 11.0)
    return replace(engine, day=replace(engine.day, humidity=min(humidity, 1.0)))


def _text(value: float, r: Range) -> str | float:
    return f"{value:.6g} {r.unit}" if r.unit else float(value)


def _levels(r: Range) -> list[float]:
    """Values tried alone: from the neutral one to the farther end of the range."""
    end = r.low if abs(r.low - r.neutral) > abs(r.high - r.neutral) else r.high
    other = r.high if end == r.low else r.low
    far = [r.neutral + (k + 1) / LEVELS * (end - r.neutral) for k in range(LEVELS)]
    return far + ([other] if abs(other - r.neutral) > 0.05 * abs(end - r.neutral) else [])


def _peaks(engines: Sequence[Engine], speeds: Sequence[float], fidelity: str, numerics: Numerics, store, workers,
           on_tick) -> np.ndarray:
    """Peak power (W), peak torque (N m) and gross share of torque at the torque peak, a row an engine."""
    rpm = np.array(sorted(speeds), dtype=float)
    jobs = [Job(e, float(r), fidelity, numerics) for e in engines for r in rpm]
    results = run(jobs, store=store, workers=workers, on_tick=on_tick).results
    rows = []
    for i, engine in enumerate(engines):
        points = results[i * len(rpm):(i + 1) * len(rpm)]
        if any(isinstance(p, Failed) for p in points):
            rows.append([np.nan] * 3)
            continue
        told = [performance(engine, p) for p in points]
        torque = np.array([t["torque"] for t in told])
        k = int(np.argmax(torque))
        gross = told[k]["gross_imep"] / told[k]["bmep"]
        rows.append([_top(rpm, torque * rpm * math.pi / 30), _top(rpm, torque), gross])
    return np.array(rows)


def _top(x: np.ndarray, y: np.ndarray) -> float:
    """Top of the parabola through the highest point and its neighbours."""
    k = int(np.argmax(y))
    if k in (0, len(y) - 1):
        return float(y[k])
    a, b, c = np.polyfit(x[k - 1:k + 2] - x[k], y[k - 1:k + 2], 2)
    return float(c - b * b / (4 * a)) if a < 0 else float(y[k])


def _alone(ranges: Sequence[Range], single: list, ratio: np.ndarray, wanted: tuple[float, float],
           sd: float) -> list[Alone]:
    """The best of each range alone."""
    made: Mapping[str, Alone] = {}
    for (r, v), (power, torque) in zip(single, ratio, strict=True):
        if not (math.isfinite(power) and math.isfinite(torque)):
            continue
        off = max(abs(power - wanted[0]), abs(torque - wanted[1])) / sd
        if r.key not in made or off < made[r.key].off:
            made[r.key] = Alone(r.key, f"{v:.3g} {r.unit}".strip(), float(power), float(torque), float(off))
    return list(made.values())


def _dead(engine: Engine, base: np.ndarray, wanted: tuple[float, float], sd: float) -> Alone:
    """A cylinder without fire: 1/n of the gross work gone, friction as before."""
    ratio = 1.0 - base[2] / engine.block.cylinders
    off = max(abs(ratio - w) for w in wanted) / sd
    return Alone("a dead cylinder", "flat over speed", float(ratio), float(ratio), float(off))
