"""A finished calibration: what the pulls of one part said of the unknowns, and from which pulls."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers.unknowns import Prior, put_all, unknown
from pullcast.card.engine import Assumed, Engine
from pullcast.errors import InputError
from pullcast.results.html import answer_html

LEARNT, PARTLY = 0.5, 0.85  # posterior over prior sd below which an unknown counts as learnt, partly learnt
NORMAL95 = 1.959964
CORRELATED = 0.7  # from which two unknowns are said to be told apart badly


@dataclass(frozen=True)
class Found:
    """One unknown: its prior, value and sd after the pulls (internal units), 95 % range within its bounds."""

    prior: Prior
    value: float
    sd: float
    low: float
    high: float
    at_bound: str = ""

    @property
    def key(self) -> str:
        """Key of the unknown."""
        return self.prior.key

    @property
    def narrowed(self) -> float:
        """Sd after the pulls over sd before."""
        return self.sd / self.prior.sd

    def digits(self, value: float) -> str:
        """A value of this unknown with as many decimals as its sd bears: two figures of that."""
        return f"{value:.{decimals(self.sd)}f}"

    @property
    def told(self) -> str:
        """"learnt", "partly learnt" or "not learnt"."""
        return "learnt" if self.narrowed < LEARNT else "partly learnt" if self.narrowed < PARTLY else "not learnt"


def chance_text(chance: float) -> str:
    """A chance to two figures; a very small one as a bound.

    >>> chance_text(0.2345), chance_text(1e-7)
    ('0.23', 'below 0.001')
    """
    return "below 0.001" if chance < 0.001 else f"{chance:.2g}"


def decimals(sd: float) -> int:
    """Decimals that a number known to ``sd`` is told with: down to the second figure of the sd, at most six.

    >>> decimals(0.034), decimals(2.7), decimals(41.0)
    (3, 1, 0)
    """
    return min(max(1 - math.floor(math.log10(sd)), 0), 6) if sd > 0.0 else 6


@dataclass(frozen=True)
class UsedPull:
    """A pull that was fitted to, by the SHA-256 of its file: it can never score the forecast made from it."""

    session: str
    number: int
    part: str
    sha256: str


@dataclass(frozen=True)
class Facts:
    """What must be the same on an engine the calibration is put on."""

    bore: float
    stroke: float
    cylinders: int
    friction_model: str
    wall_model: str
    burn_law: str
    head: str


@dataclass(frozen=True, repr=False)
class Calibration:
    """Unknowns of ``engine`` fitted to pulls.

    ``correlation`` (p, p) after the pulls; ``speeds`` (rpm) with ``measured``, ``before`` and ``after`` torque (N m,
    on ``basis``); ``errors`` relative sds the fit assumed ("own", "level", "model"); ``misfit`` and the chance of a
    larger one; ``settled`` False when the fit stopped before it settled.
    """

    engine: str
    facts: Facts
    found: tuple[Found, ...]
    correlation: np.ndarray
    speeds: np.ndarray
    measured: np.ndarray
    before: np.ndarray
    after: np.ndarray
    errors: dict[str, float]
    misfit: float
    chance: float
    basis: str
    pulls: tuple[UsedPull, ...]
    fidelity: str
    version: str
    made_utc: str
    settled: bool = True
    notes: tuple[str, ...] = ()

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of the unknowns."""
        return tuple(f.key for f in self.found)

    @property
    def covariance(self) -> np.ndarray:
        """Covariance (p, p) after the pulls, internal units."""
        sd = np.array([f.sd for f in self.found])
        return self.correlation * np.outer(sd, sd)

    @property
    def digests(self) -> frozenset[str]:
        """SHA-256 of every pull that was fitted to."""
        return frozenset(p.sha256 for p in self.pulls)

    @property
    def alike(self) -> tuple[tuple[str, str, float], ...]:
        """Pairs of unknowns that the pulls tell apart badly, with their correlation."""
        n = len(self.found)
        return tuple((self.keys[i], self.keys[j], float(self.correlation[i, j])) for i in range(n)
                     for j in range(i + 1, n) if abs(self.correlation[i, j]) >= CORRELATED)

    def rms(self, torque: np.ndarray) -> float:
        """Root mean square of modelled ``torque`` (m,) against the measured one, relative."""
        return float(np.sqrt(np.mean((torque / self.measured - 1.0) ** 2)))

    def carries(self, engine: Engine) -> dict[str, Found]:
        """What holds for an engine: all, less the flow factor when its head is another than the one calibrated.

        Raises InputError for an engine that is another below the head, or computed with other correlations.
        """
        here = facts_of(engine)
        for name, what in (("cylinders", "number of cylinders"), ("bore", "bore"), ("stroke", "stroke"),
                           ("friction_model", "friction model"), ("wall_model", "wall heat model"),
                           ("burn_law", "burn law")):
            was, now = getattr(self.facts, name), getattr(here, name)
            if was != now and not (isinstance(was, float) and abs(was / now - 1.0) < 1e-6):
                msg = (f"the calibration of {self.engine} does not fit {engine.name}: its {what} is {was}, here "
                       f"{now}. Calibrate on pulls of this engine.")
                raise InputError(msg)
        other_head = here.head != self.facts.head
        return {f.key: f for f in self.found if not (other_head and f.key == "head.flow_factor")}

    def apply(self, engine: Engine, values: Mapping[str, float] | None = None) -> Engine:
        """The engine with calibrated values in place (or those of ``values`` by key, as `draws` gives them).

        The ranges of its assumed values become the calibrated ones (two standard deviations either side); the flow
        factor is no key of a card and has no range there.
        """
        held = self.carries(engine)
        if values is not None:
            held = {k: f for k, f in held.items() if k in values}
        chosen = {k: f.value if values is None else values[k] for k, f in held.items()}
        ranges = {k: self.range_of(f) for k, f in held.items() if unknown(k).on_card}
        others = tuple(a for a in engine.assumed if a.key not in ranges)
        lines = [f"# {k} = {v:.6g}" for k, v in chosen.items()]
        text = f"{engine.text}\n# ---- calibration\n" + "\n".join(lines) + "\n"
        return replace(put_all(engine, chosen), assumed=(*others, *ranges.values()), text=text)

    def range_of(self, f: Found) -> Assumed:
        """The range of a calibrated value, two standard deviations either side within its bounds."""
        low, high = max(f.value - 2.0 * f.sd, f.prior.low), min(f.value + 2.0 * f.sd, f.prior.high)
        return Assumed(f.key, f.value, low, high, _unit(f.key),
                       f"calibrated on {len(self.pulls)} pulls, {self.made_utc[:10]}")

    def draws(self, count: int, seed: int = 0) -> list[dict[str, float]]:
        """``count`` sets of values by key, drawn from what the pulls left open, correlation and bounds kept."""
        rng = np.random.default_rng(seed)
        middle = np.array([f.value for f in self.found])
        rows = middle + rng.standard_normal((count, middle.size)) @ np.linalg.cholesky(self.covariance).T
        low, high = (np.array([getattr(f.prior, name) for f in self.found]) for name in ("low", "high"))
        return [dict(zip(self.keys, map(float, row), strict=True)) for row in np.clip(rows, low, high)]

    def __repr__(self) -> str:
        """Every unknown before and after, the fit, and what to mind, one per line."""
        before, after = (100.0 * self.rms(t) for t in (self.before, self.after))
        head = (f"{self.engine}: {len(self.pulls)} pulls, torque off by {before:.2f} % rms before, {after:.2f} % "
                "after")
        rows = [f"  {unknown(f.key).label}: {f.prior.value:.4g} ± {f.prior.sd:.2g} before, {f.value:.4g} ± "
                f"{f.sd:.2g} after: {f.told}{', on its ' + f.at_bound + ' bound' if f.at_bound else ''}"
                for f in self.found]
        return "\n".join([head, *rows, *(f"note: {n}" for n in self.notes)])

    def _repr_html_(self) -> str:
        rows = [(unknown(f.key).label, f"{f.prior.value:.3g} ± {f.prior.sd:.2g}", f"{f.value:.4g} ± {f.sd:.2g}",
                 f"{f.low:.3g} to {f.high:.3g}", f"on its {f.at_bound} bound" if f.at_bound else f.told)
                for f in self.found]
        heads = ("unknown", "before", "after", "95 % range", "")
        return answer_html([repr(self).split("\n")[0]], heads, rows, self.notes)


def facts_of(engine: Engine) -> Facts:
    """The `Facts` of an engine."""
    b = engine.block
    return Facts(b.bore, b.stroke, b.cylinders, engine.friction.model, engine.walls.model, engine.burn.law,
                 engine.head.name)


def _unit(key: str) -> str:
    from pullcast import units

    return units.internal_unit(unknown(key).kind)
