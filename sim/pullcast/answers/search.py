"""Search: the best place in one or more ranges, as a curve of the goal with its flat width, not as one magic number.

The engine is computed at a spread design over the ranges; a smooth surface through the points is maximised (scipy),
the engine is computed there and the surface drawn again, until the best place stays. Slices through the best place
then give the curve of each variable.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pullcast.answers import scoring
from pullcast.answers.ranking import Limit
from pullcast.card.candidates import Span
from pullcast.card.shortlist import Shortlist, read_shortlist
from pullcast.errors import CardError, InputError, SolveError
from pullcast.results.html import answer_html

FLAT = 0.005  # a place within half a percent of the best is as good
FIRST, SLICE = 9, 9  # places of a one-variable search to begin with, and of a slice of several
ROUNDS, STAYS = 4, 0.01  # refinements at most; the best place stays when it moves less than this share of a range


@dataclass(frozen=True)
class Trend:
    """The goal over one variable, the others at the best place.

    ``at`` (n,) rising, in ``span.unit``; ``gain`` (n,) fractions over the base; ``kept`` (n,) whether the limits are
    kept there; ``best`` and ``flat`` (low, high) where the smooth curve lies within half a percent of its best and
    the limits are kept. ``open_below``, ``open_above``: the flat stretch reaches the end of the range.
    """

    span: Span
    at: tuple[float, ...]
    gain: tuple[float, ...]
    kept: tuple[bool, ...]
    best: float
    flat: tuple[float, float]
    open_below: bool
    open_above: bool

    def __repr__(self) -> str:
        """The flat width in a sentence."""
        unit = self.span.unit
        text = (f"{self.span.key}: anything from {self.flat[0]:.3g} to {self.flat[1]:.3g} {unit} is within "
                f"{100 * FLAT:g} % of the best, which is near {self.best:.3g} {unit}")
        return text + (" (the range searched ends there: search wider)" if self.open_below or self.open_above else "")


@dataclass(frozen=True, repr=False)
class Found:
    """What a search gave: the best place (numbers in each span's unit), its gain over the base, a trend a variable.

    ``engines`` computed in all; ``settled`` False when the best place still moved. ``limits`` at the best place.
    """

    name: str
    goal: str
    band: tuple[float, float]
    fidelity: str
    place: dict[str, float]
    gain: float
    score: float
    base_score: float
    trends: tuple[Trend, ...]
    limits: tuple[Limit, ...]
    engines: int
    settled: bool
    notes: tuple[str, ...]
    version: str = ""
    engine: str = ""

    def __repr__(self) -> str:
        """The best place and every flat width."""
        where = ", ".join(f"{t.span.key} {self.place[t.span.key]:.3g} {t.span.unit}" for t in self.trends)
        head = f"{self.name}, {self.goal}, {self.fidelity} model: {100 * self.gain:+.2f} % over the base at {where}"
        return "\n".join([head, *(f"  {t!r}" for t in self.trends)])

    def _repr_html_(self) -> str:
        rows = [(t.span.key, f"{t.best:.3g}", f"{t.flat[0]:.3g} to {t.flat[1]:.3g}", t.span.unit)
                for t in self.trends]
        told = f"{self.name}, {self.goal}: {100 * self.gain:+.2f} % over the base ({self.fidelity} model)"
        heads = ("variable", "best near", f"within {100 * FLAT:g} %", "unit")
        return answer_html([told], heads, rows, self.notes)


def search(shortlist: Shortlist | str, *, fidelity: str = "wave", seed: int = 0, store=None,
           workers: int | None = None, executor=None, numerics=None,
           on_stage: Callable[[str, object], None] | None = None) -> Found:
    """Search the ranges of a shortlist (or of its card's path) for the best goal that keeps the limits.

    Options as in ``pullcast.answers.rank.rank``. ``fidelity`` "lumped" sees no waves and misjudges lengths.
    Raises InputError when there are no ranges or no place keeps the limits, SolveError when nothing can be computed.
    """
    shortlist = read_shortlist(shortlist) if not isinstance(shortlist, Shortlist) else shortlist
    if not shortlist.spans:
        msg = f"{shortlist.name} lists candidates and no ranges: rank them, or write a [search]"
        raise InputError(msg)
    means = scoring.Means(store, workers, executor, numerics or scoring.Numerics(), on_stage)
    return _Search(shortlist, fidelity, means, seed).run()


class _Search:
    """One search under way: places as rows of numbers from 0 to 1, and what was found there."""

    def __init__(self, shortlist: Shortlist, fidelity: str, means: scoring.Means, seed: int) -> None:
        self.shortlist, self.fidelity, self.means, self.seed = shortlist, fidelity, means, seed
        self.spans, self.speeds = shortlist.spans, list(shortlist.band.speeds)
        self.x, self.y = np.zeros((0, len(self.spans))), np.zeros(0)
        self.rows: list[scoring.Row] = []
        self.notes: list[str] = []
        self.base = self._base()

    def run(self) -> Found:
        """Design, refine, slice."""
        self.look(self._design(), "first places")
        best, settled = self.best(), False
        for _ in range(ROUNDS):
            wanted = self._wanted(best)
            self.look(wanted, "near the best")
            new = self.best()
            settled = bool(np.max(np.abs(new - best)) < STAYS)
            best = new
            if settled:
                break
        trends = tuple(self._trend(k, best) for k in range(len(self.spans)))
        return self._found(trends, settled)

    def values(self, x: np.ndarray) -> dict[str, float]:
        """A place in the spans' units, to seven digits and inside the range."""
        return {s.key: min(max(float(f"{s.low + float(u) * (s.high - s.low):.7g}"), s.low), s.high)
                for s, u in zip(self.spans, x, strict=True)}

    def look(self, places: Sequence[np.ndarray], stage: str) -> None:
        """Compute engines at places; a place where the cards do not fit together has no goal."""
        engines, at = [], []
        for x in places:
            try:
                engines.append(self.shortlist.engine_at(self.values(x)))
                at.append(x)
            except CardError as error:
                self.notes.append(f"{self.values(x)}: {error.problems[0]}")
        if not engines:
            return
        rows, warnings = scoring.compute(engines, self.speeds, self.fidelity, self.means, stage, self.shortlist)
        self.notes += warnings
        self.x = np.vstack([self.x, np.array(at)])
        self.y = np.concatenate([self.y, scoring.scores(self.shortlist, self.speeds, rows) / self.base - 1.0])
        self.rows += rows

    def kept(self, row: scoring.Row) -> bool:
        """Whether a computed place has a curve and keeps every limit that is known."""
        return not row.trouble and all(x.kept for x in self.limits(row))

    def limits(self, row: scoring.Row) -> tuple[Limit, ...]:
        """The limits of a computed place."""
        return tuple(Limit(c.name, c.kind.title, v := row.limits.get(c.name), c.value, c.kind.at_least,
                           v is None or c.kept(v)) for c in self.shortlist.constraints)

    def best(self) -> np.ndarray:
        """The computed place with the highest goal that keeps the limits."""
        good = np.array([self.kept(r) for r in self.rows]) & np.isfinite(self.y)
        if not good.any():
            broken = sorted({x.title for r in self.rows for x in self.limits(r) if not x.kept})
            msg = f"no place looked at in the ranges of {self.shortlist.name} keeps the limits: " + (
                ", ".join(broken) or next(r.trouble for r in self.rows if r.trouble))
            raise InputError(msg)
        return self.x[int(np.argmax(np.where(good, self.y, -np.inf)))]

    def _base(self) -> float:
        rows, warnings = scoring.compute([self.shortlist.base], self.speeds, self.fidelity, self.means, "base",
                                         self.shortlist)
        self.notes += warnings
        score = float(scoring.scores(self.shortlist, self.speeds, rows)[0])
        if not score > 0.0:
            msg = f"the base engine gives no {self.shortlist.goal} to compare with: {rows[0].trouble or score}"
            raise SolveError(msg, rpm=self.speeds[0], angle_deg=0.0, component="the whole network")
        return score

    def _design(self) -> list[np.ndarray]:
        d = len(self.spans)
        if d == 1:
            return list(np.linspace(0.0, 1.0, FIRST)[:, None])
        from scipy.stats import qmc

        count = 2 ** math.ceil(math.log2(6 * (d + 1)))
        inner = qmc.Sobol(d, scramble=True, rng=np.random.default_rng(self.seed)).random(count)
        return [np.full(d, 0.5), *inner]

    def surface(self) -> Callable[[np.ndarray], np.ndarray]:
        """A smooth surface through what was found, (n, d) places to (n,) gains."""
        from scipy.interpolate import CubicSpline, RBFInterpolator

        good = np.isfinite(self.y)
        x, first = np.unique(self.x[good], axis=0, return_index=True)
        y = self.y[good][first]
        if x.shape[1] == 1:
            curve = CubicSpline(x[:, 0], y)
            return lambda at: curve(at[:, 0])
        return RBFInterpolator(x, y, kernel="thin_plate_spline", smoothing=1e-6)

    def _wanted(self, best: np.ndarray) -> list[np.ndarray]:
        """Where to look next: the surface's maximum, and both sides of it when it is where was looked already."""
        from scipy.optimize import differential_evolution, minimize_scalar

        surface, d = self.surface(), len(self.spans)
        if d == 1:
            near = self._neighbours(best[0])
            found = minimize_scalar(lambda u: -float(surface(np.array([[u]]))[0]), bounds=near, method="bounded")
            top = np.array([found.x])
        else:
            found = differential_evolution(lambda u: -float(surface(u[None])[0]), [(0.0, 1.0)] * d, seed=self.seed,
                                           tol=1e-6, maxiter=60)
            top = np.clip(found.x, 0.0, 1.0)
        wanted = [top]
        if d > 1:
            step = 0.08
            wanted += [np.clip(best + s * step * axis, 0.0, 1.0) for axis in np.eye(d) for s in (-1.0, 1.0)]
        else:
            wanted += [np.array([(best[0] + u) / 2.0]) for u in near if abs(u - best[0]) > 2.0 * STAYS]
        return [w for i, w in enumerate(wanted) if self._new(w) and all(np.abs(w - v).max() > 2e-3
                                                                       for v in wanted[:i])]

    def _neighbours(self, u: float) -> tuple[float, float]:
        x = np.unique(self.x[:, 0])
        below, above = x[x < u - 1e-9], x[x > u + 1e-9]
        return (float(below[-1]) if below.size else 0.0), (float(above[0]) if above.size else 1.0)

    def _new(self, x: np.ndarray) -> bool:
        return bool(np.min(np.abs(self.x - x).max(axis=1)) > 2e-3)

    def _trend(self, k: int, best: np.ndarray) -> Trend:
        """The curve of one variable through the best place."""
        others = [j for j in range(len(self.spans)) if j != k]
        if others:
            places = [np.where(np.arange(len(best)) == k, u, best) for u in np.linspace(0.0, 1.0, SLICE)]
            self.look([p for p in places if self._new(p)], f"slice of {self.spans[k].key}")
        on = np.all(np.abs(self.x[:, others] - best[others]) < 3e-3, axis=1) & np.isfinite(self.y)
        order = np.argsort(self.x[on, k])
        u, gain = self.x[on, k][order], self.y[on][order]
        kept = np.array([self.kept(r) for r, is_on in zip(self.rows, on, strict=True) if is_on])[order]
        return trend_of(self.spans[k], u, gain, kept)

    def _found(self, trends: tuple[Trend, ...], settled: bool) -> Found:
        from pullcast import __version__

        best = self.best()
        k = int(np.argmin(np.abs(self.x - best).max(axis=1)))
        notes = list(dict.fromkeys(self.notes))
        if self.fidelity == "lumped":
            notes.append("The lumped model sees no waves and misjudges what lengths do: search by waves")
        return Found(self.shortlist.name, self.shortlist.goal, (self.shortlist.band.low, self.shortlist.band.high),
                     self.fidelity, self.values(best), float(self.y[k]), float(self.base * (1.0 + self.y[k])),
                     self.base, trends, self.limits(self.rows[k]), len(self.rows), settled, tuple(notes), __version__,
                     self.shortlist.base.name)


def trend_of(span: Span, u: np.ndarray, gain: np.ndarray, kept: np.ndarray) -> Trend:
    """The trend through ``gain`` (n,) at ``u`` (n,) rising from 0 to 1 over ``span``.

    The curve between the points is monotone piecewise cubic (Fritsch and Carlson 1980), which makes no hump of its
    own. A stretch between a kept and a broken place counts as broken.
    """
    from scipy.interpolate import PchipInterpolator

    u, first = np.unique(u, return_index=True)
    gain, kept = gain[first], kept[first]
    fine = np.linspace(0.0, 1.0, 2001)
    fine = fine[(fine >= u[0]) & (fine <= u[-1])]
    curve = PchipInterpolator(u, gain)(fine)
    right = np.clip(np.searchsorted(u, fine, side="left"), 0, u.size - 1)
    left = np.clip(np.searchsorted(u, fine, side="right") - 1, 0, u.size - 1)
    inside = kept[left] & kept[right]
    if not inside.any():  # one kept place between broken ones
        inside = np.arange(fine.size) == np.argmin(np.abs(fine - u[int(np.argmax(np.where(kept, gain, -np.inf)))]))
    usable = np.where(inside, curve, -np.inf)
    top = int(np.argmax(usable))
    flat = usable >= (1.0 + usable[top]) * (1.0 - FLAT) - 1.0
    low = high = top
    while low > 0 and flat[low - 1]:
        low -= 1
    while high < flat.size - 1 and flat[high + 1]:
        high += 1

    def number(x: float) -> float:
        return float(span.low + x * (span.high - span.low))

    return Trend(span, tuple(number(x) for x in u), tuple(gain.tolist()), tuple(bool(k) for k in kept),
                 number(fine[top]), (number(fine[low]), number(fine[high])), bool(low == 0),
                 bool(high == flat.size - 1))
