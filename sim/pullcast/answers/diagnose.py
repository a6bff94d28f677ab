"""Diagnose a loss: how likely each cause is, given the measured ratio of two torque curves.

Every cause predicts ln(torque of the part / torque of the baseline) over speed: the part as its card has it plus the
fault at a severity that is not known. Bayes' rule with the scatter of the pulls, of refitting, and of the model
itself (a share of the predicted effect, smooth over speed) gives the chances; severities are averaged over. Two
causes are always there: *measurement* (a constant factor and a torque offset) and *not explained* (any smooth curve
of usual size, about no difference or about what the card predicts). Marginal likelihoods as in Gelman et al.,
Bayesian Data Analysis (2013), ch. 7 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from pullcast.answers.check_next import Check, next_check
from pullcast.answers.fault_curves import Family, fault_curves
from pullcast.errors import InputError
from pullcast.pulls.session import Session
from pullcast.results.html import answer_html
from pullcast.solve.numerics import Numerics

MEASUREMENT, UNEXPLAINED, AS_DESIGNED = "measurement", "not explained", "the part as its card has it"
PRIORS = {MEASUREMENT: 1.5, UNEXPLAINED: 1.0, AS_DESIGNED: 1.5}  # beside ``Fault.prior``; judgement, no source
FACTOR, OFFSET = 0.03, 0.02  # sd of a measurement's factor, and of its torque offset over the mean torque
LOOSE = (0.06, 900.0, 0.02)  # sd, reach (rpm) and jaggedness of an effect that nobody thought of
# Model error: share of the effect, own sd, reach (rpm). By waves judgement, no source; the lumped model is as far off
# the waves as this on 775 fault curves of three small engines (largest likelihood).
MODEL = {"wave": (0.2, 0.003, 700.0), "lumped": (0.45, 0.007, 490.0)}
# Share of cases in which a model's curves say nothing of the cause, so that the prior odds stand (a contaminated
# distribution: Huber, Ann. Math. Stat. 35 (1964) 73, from memory). The lumped model has no tuning to see: largest
# likelihood over 297 simulated cases by waves; none of them is one of those in the validation.
BLIND = {"wave": 0.0, "lumped": 0.25}
SPEEDS = 7
RARE = 0.01  # a fit is poor when scatter alone would miss the curve by as much less often
MOSTLY, FAINT = 0.5, 0.05  # above the one unexplained and both named causes below the other no check is worth doing


@dataclass(frozen=True)
class Cause:
    """A cause with its ``chance``, best ``severity`` in words, the curve it predicts there (m,) as ln ratio, what
    checks would read, and its ``misfit``: root mean square miss of the measured curve in standard deviations of
    scatter and model together (nan: it predicts no curve)."""

    key: str
    name: str
    chance: float
    severity: str
    curve: np.ndarray
    readings: dict[str, float]
    misfit: float = float("nan")


@dataclass(frozen=True)
class Diagnosis:
    """Causes, most likely first; ``measured`` (m,) ln ratio with ``sd`` (m,) at ``speed`` (m,) rpm; the one ``check``
    that splits the top two (None: no check can, or neither is worth one; see ``instead``). ``part`` is its letter on
    the session card, ``name`` what that calls it."""

    engine: str
    part: str
    speed: np.ndarray
    measured: np.ndarray
    sd: np.ndarray
    causes: tuple[Cause, ...]
    check: Check | None
    fidelity: str = "wave"
    name: str = ""

    @property
    def who(self) -> str:
        """The part's letter with its name."""
        return f"{self.part} ({self.name})" if self.name else self.part

    @property
    def expected(self) -> np.ndarray:
        """The ln ratio (m,) that the part's card leads to expect."""
        return next(c.curve for c in self.causes if c.key == AS_DESIGNED)

    @property
    def chances(self) -> dict[str, float]:
        """Chance of each cause by its key."""
        return {c.key: c.chance for c in self.causes}

    @property
    def named(self) -> Cause:
        """The most likely cause that has a name, be it that nothing is wrong with the part."""
        return next(c for c in self.causes if c.key != UNEXPLAINED)

    @property
    def poor(self) -> bool:
        """Whether even that one misses the measured curve by more than scatter would once in a hundred times."""
        from scipy.special import chdtri

        m = len(self.speed)
        return self.named.misfit > float(np.sqrt(chdtri(m, RARE) / m))

    @property
    def instead(self) -> str:
        """What to do where no check is worth doing because no named cause is likely; else empty."""
        if self.check is not None or self.chances[UNEXPLAINED] <= MOSTLY:
            return ""
        told = "go back to the baseline and repeat its pulls"
        alone = next(c for c in self.causes if c.key == AS_DESIGNED)
        plenum = alone.readings.get("plenum pressure", float("nan"))
        if np.isfinite(plenum):
            told += (f"; with the part on, measure the plenum pressure at full throttle (as its card has it "
                     f"the model expects {plenum:.1f} kPa at {self.speed[-1]:.0f} rpm)")
        return told + "."

    @property
    def next_step(self) -> str:
        """What to do next, in one sentence; empty when there is nothing."""
        return self.check.sentence if self.check else self.instead

    def shown(self, n: int) -> list[Cause]:
        """The ``n`` most likely causes; the part alone, as its card has it, is always one of them."""
        rows = list(self.causes[:n])
        if all(c.key != AS_DESIGNED for c in rows):
            rows[-1:] = [c for c in self.causes if c.key == AS_DESIGNED]
        return rows

    def __repr__(self) -> str:
        """The five most likely causes and the next check."""
        rows = [f"{100 * c.chance:5.1f} %  {c.name}" + (f", {c.severity}" if c.severity else "")
                for c in self.shown(5)]
        tail = [f"Next: {self.next_step}"] if self.next_step else []
        return "\n".join([f"{self.who} on {self.engine}:", *rows, *tail])

    def _repr_html_(self) -> str:
        rows = [("<1" if c.chance < 0.01 else ">99" if c.chance > 0.99 else f"{100 * c.chance:.0f}", c.name,
                 c.severity) for c in self.shown(8)]
        told = [f"{self.who} on {self.engine}: what it may be ({self.fidelity} model)"]
        return answer_html(told, ("chance, %", "cause", "how much"), rows,
                           [f"Next: {self.next_step}"] if self.next_step else [])


def smooth(rpm: np.ndarray, sd: float, reach: float) -> np.ndarray:
    """Covariance (m, m) of a smooth random curve."""
    return sd**2 * np.exp(-0.5 * ((rpm[:, None] - rpm[None, :]) / reach) ** 2)


def misfit(miss: np.ndarray, covariance: np.ndarray) -> float:
    """Root mean square of ``miss`` (m,) in standard deviations of ``covariance`` (m, m): about 1 for a good fit."""
    return _rms(np.linalg.solve(np.linalg.cholesky(covariance), miss))


def log_normal(y: np.ndarray, covariance: np.ndarray) -> float:
    """Logarithm of the density of ``y`` (m,) for a normal of zero mean."""
    L = np.linalg.cholesky(covariance)
    z = np.linalg.solve(L, y)
    return float(-0.5 * z @ z - np.log(np.diagonal(L)).sum() - 0.5 * len(y) * np.log(2 * np.pi))


def weigh(measured: np.ndarray, own: np.ndarray, level: float, family: Family,
          designed: np.ndarray | None = None, part: str = "B", fidelity: str = "wave") -> Diagnosis:
    """The chances of all causes of a measured ln ratio (m,) at the speeds of ``family``.

    ``own`` (m,) is the standard deviation of each speed by itself, ``level`` that common to all (pulls, refit);
    ``designed`` (m,) the ln ratio that the part's own card predicts (default: none); ``fidelity`` names the model
    that made the family, whose error is reckoned with. Raises InputError for shapes.
    """
    rpm, m = family.speed, len(family.speed)
    designed = np.zeros(m) if designed is None else designed
    if not (measured.shape == own.shape == designed.shape == (m,)):
        msg = f"measured ratio of shape {measured.shape} against {m} speeds: give one value a speed"
        raise InputError(msg)
    share, least, reach = MODEL[fidelity]
    noise = np.diag(own**2) + level**2 + smooth(rpm, least, reach)
    noise += smooth(rpm, share * _rms(designed), reach)
    loose = noise + smooth(rpm, *LOOSE[:2]) + LOOSE[2] ** 2 * np.eye(m)
    offset = OFFSET * family.torque.mean() / family.torque
    projected = _projected(measured - designed, noise, offset)
    found = [
        (AS_DESIGNED, AS_DESIGNED, "", PRIORS[AS_DESIGNED], log_normal(measured - designed, noise), designed, {},
         misfit(measured - designed, noise)),
        (MEASUREMENT, "measurement: a factor (correction, cell zero, lucky baseline) or an offset (inertia)", "",
         PRIORS[MEASUREMENT], log_normal(measured - designed, noise + FACTOR**2 + np.outer(offset, offset)),
         projected + designed, {}, misfit(measured - designed - projected, noise)),
        (UNEXPLAINED, "not explained by anything on the list", "", PRIORS[UNEXPLAINED],
         _either(log_normal(measured - designed, loose), log_normal(measured, loose)), measured, {}, float("nan")),
    ]
    for c in family.curves:
        spreads = [noise + smooth(rpm, share * _rms(e), reach) for e in c.effect]
        scores = np.array([log_normal(measured - designed - e, v) for e, v in zip(c.effect, spreads, strict=True)])
        best = int(np.argmax(scores))
        evidence = float(np.logaddexp.reduce(scores) - np.log(len(scores)))
        severity = c.what.format(c.severity[best]).replace("%", " %")
        if 0 < best == len(scores) - 1:
            severity += ", the most that was tried"
        found.append((c.key, c.name, severity, c.prior, evidence, designed + c.effect[best], c.readings[best],
                      misfit(measured - designed - c.effect[best], spreads[best])))
    chance = _chances(np.array([c[3] for c in found]), np.array([c[4] for c in found]), BLIND[fidelity])
    causes = sorted((Cause(key, name, float(p), how, curve, family.readings | readings, off)
                     for (key, name, how, _, _, curve, readings, off), p in zip(found, chance, strict=True)),
                    key=lambda c: -c.chance)
    sd = np.sqrt(own**2 + level**2)
    named = [c for c in causes if c.key != UNEXPLAINED]  # what nobody thought of predicts no reading
    lost = 1.0 - sum(c.chance for c in named) > MOSTLY and all(c.chance < FAINT for c in named[:2])
    check = None if lost else next_check(named)
    return Diagnosis(family.engine, part, rpm, measured, sd, tuple(causes), check, fidelity)


def _chances(prior: np.ndarray, evidence: np.ndarray, blind: float) -> np.ndarray:
    """Chances by Bayes' rule from prior odds and log evidence; in the share ``blind`` of cases the odds stand."""
    score = np.log(prior) + evidence
    return (1.0 - blind) * np.exp(score - np.logaddexp.reduce(score)) + blind * prior / prior.sum()


def _either(a: float, b: float) -> float:
    """Logarithm of the mean of two densities given by their logarithms."""
    return float(np.logaddexp(a, b) - np.log(2.0))


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(values**2)))


def _projected(y: np.ndarray, noise: np.ndarray, offset: np.ndarray) -> np.ndarray:
    """The likeliest factor and offset in ``y``."""
    X = np.column_stack([np.ones_like(y), offset / OFFSET])
    prior = np.diag([FACTOR**2, OFFSET**2])
    gain = prior @ X.T @ np.linalg.inv(X @ prior @ X.T + noise)
    return X @ (gain @ y)


def diagnose(session: Session | str | Path, part: str | None = None, *, fidelity: str = "wave",
             numerics: Numerics | None = None, store=None, workers: int | None = None,
             on_tick: Callable | None = None, speeds: Sequence[float] | None = None) -> Diagnosis:
    """Diagnose the difference that a session measured between its baseline and ``part`` (default: the first other).

    The part's card is taken as it is described on the session card; faults are those of the engine with the part on.
    Raises InputError for a session without an engine or without curves, or an unknown part.
    """
    from pullcast.answers.judge import judge
    from pullcast.answers.session_engine import engine_of, on_day, part_name, setting_of

    judged = judge(session, plan=False)
    session = judged.session
    difference = next((d for d in judged.differences if part in (None, d.part)), None)
    if difference is None or difference.curve is None:
        others = ", ".join(d.part for d in judged.differences)
        msg = (f"{session.path}: no curve was measured of part {part or '?'}; parts are {others}. A loss is "
               "diagnosed from its shape over speed, which peaks alone do not show.")
        raise InputError(msg)
    base = engine_of(session, session.baseline)
    setting = setting_of(session, base.day)
    base, other = (on_day(e, setting) for e in (base, engine_of(session, difference.part)))
    c, band = difference.curve, judged.band
    rpm = np.array(speeds) if speeds is not None else np.linspace(max(band[0], c.rpm[0]), min(band[1], c.rpm[-1]),
                                                                  SPEEDS)
    how = {"fidelity": fidelity, "numerics": numerics, "store": store, "workers": workers, "on_tick": on_tick}
    family = fault_curves(other, rpm, **how)
    plain = fault_curves(base, rpm, faults=(), **how)
    ratio = np.log1p(np.interp(rpm, c.rpm, c.mean) / 100.0)
    half = np.interp(rpm, c.rpm, 0.5 * (c.high - c.low)) / 100.0 / _two_sided(session.rules.level)
    level = min(difference.refit / 100.0 * np.sqrt(1.5), 0.9 * float(half.min()))
    own = np.sqrt(np.maximum(half**2 - level**2, (0.1 * half) ** 2))
    made = weigh(ratio, own, level, family, np.log(family.torque / plain.torque), difference.part, fidelity)
    return replace(made, engine=base.name, name=part_name(session, difference.part))


def _two_sided(level: float) -> float:
    from scipy.special import ndtri

    return float(ndtri(0.5 + 0.5 * level))
