"""How many pulls resolve a difference: planned with the same model and the same rule as the judge decides by."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from pullcast.answers.refit_doubt import LEFT_OUT, REFIT_TOP, resolves
from pullcast.answers.session_returns import ALLOWED, came_back
from pullcast.answers.session_stats import Priors, design
from pullcast.answers.session_stats import difference as effect
from pullcast.errors import InputError

MOST = 60  # pulls per fit looked at
SIMULATED = 150  # sessions of up to this many pulls are planned by judging drawn ones
SCANNED = 2  # times 200 sessions drawn to find where to begin
USUAL_REFIT, WITHIN = 0.4, 0.35  # percent and log-spread: a factor of two either way (common practice, no source)
CHANGE = 15  # pulls that could be run while a part is changed and the engine warmed (common practice, no source)
MOST_ROUNDS = 6  # times that a part is put on, at most, when another sequence is looked for


@dataclass(frozen=True)
class PullPlan:
    """A plan: ``sequence`` such as "A-B-A", ``per_fit`` pulls each time a part is on, ``total`` pulls.

    ``power`` the chance to resolve ``difference`` (fraction) with ``per_fit`` pulls, the returns good;
    ``standard_error`` (fraction); ``refit_error`` what refit scatter alone leaves (fraction); ``enough`` False when
    even `MOST` pulls per fit (of an unknown refit scatter: `SIMULATED` pulls in all) fail; ``told`` whether the judge
    knows the refit scatter; ``instead`` where not enough: the sequence with more returns that is, or None.
    """

    sequence: str
    difference: float
    noise: float
    refit: float
    per_fit: int
    total: int
    power: float
    standard_error: float
    refit_error: float
    enough: bool
    told: bool = True
    instead: PullPlan | None = None

    def __repr__(self) -> str:
        """The plan in one sentence, or why it cannot be and what can."""
        if self.enough:
            return (f"{self.sequence}, {self._each} pulls ({self.total}) resolve {100 * self.difference:.1f} % in "
                    f"{100 * self.power:.0f} % of sessions; standard error {100 * self.standard_error:.2f} %")
        why = (f": refit scatter alone leaves a standard error of {100 * self.refit_error:.2f} %" if self.told else
               " while the refit scatter is not known")
        return (f"{self.sequence} does not resolve {100 * self.difference:.1f} % with any number of pulls{why}; "
                f"{self._remedy}")

    @property
    def _each(self) -> str:
        return "-".join([str(self.per_fit)] * len(self.sequence.split("-")))

    @property
    def _remedy(self) -> str:
        measure = ": refits have to scatter less" if self.told else ": measure the scatter and state it (refit)"
        if self.instead is None:
            return f"nor do {MOST_ROUNDS} turns of the part with a return after each{measure}"
        other = self.instead
        turns = len(other.sequence.split("-")) // 2
        return (f"put the part on {turns} times with a return after each: {other.sequence}, {other._each} pulls "
                f"({other.total}), resolve it in {100 * other.power:.0f} % of sessions"
                + ("" if self.told else "; or measure the scatter and state it (refit)"))


def power_of(sequence: str, per_fit: int, difference: float, *, noise: float, refit: float | None = None,
             refit_given: bool = True, level: float = 0.95, drift: float = 0.01) -> float:
    """Chance (0 to 1) that a session resolves ``difference``, its returns found good.

    ``sequence`` "A-B-A"; ``per_fit`` pulls each; ``difference``, ``noise`` (pull to pull) and ``refit`` (sd)
    fractions. ``refit`` None: not known to the judge, truly about .4 %; ``refit_given`` False: true here, not told
    to the judge. ``drift`` is the judge's allowance where the sequence has no return. Up to `SIMULATED` pulls by
    judging 1200 drawn sessions (same draws every time), above by the normal and t approximation.
    """
    parts = _letters(sequence)
    told = refit if refit_given else None
    if per_fit * len(parts) <= SIMULATED:
        return _judged(parts, per_fit, 100.0 * difference, 100.0 * noise, refit, told, level, drift)
    return _approximate(parts, per_fit, 100.0 * difference, 100.0 * noise, refit, told, level, drift)


def pulls_needed(difference: float, *, noise: float, refit: float | None = None, sequence: str = "A-B-A",
                 power: float = 0.8, level: float = 0.95, refit_given: bool = True, drift: float = 0.01,
                 others: bool = True) -> PullPlan:
    """Fewest pulls per fit that resolve ``difference`` with probability ``power``.

    ``difference``, ``noise`` and ``refit`` are fractions of the baseline (0.01 is 1 %): what is to be resolved, the
    pull-to-pull sd, and the sd of putting a part back on (0: nothing is taken off; None: not known
    to the judge, truly about .4 %).
    ``refit_given`` and ``drift`` as in `power_of`. Where no number of pulls is enough, ``instead`` is the `best_plan`
    (``others`` False: not looked for). Raises `InputError` for values outside 0 to 50 %, a power outside .05 to .99,
    or a sequence without a second part.

    >>> pulls_needed(0.01, noise=0.005, refit=0.0).per_fit
    5
    """
    _check(difference, noise, refit, power)
    parts = _letters(sequence)
    how = {"noise": noise, "refit": refit, "level": level, "refit_given": refit_given, "drift": drift}
    told = refit if refit_given else None
    rough = _rough(parts, 100.0 * difference, 100.0 * noise, refit, told, level, drift, power)
    most = _most(parts, told)
    n = rough or most
    share = power_of(sequence, n, difference, **how)
    while share < power and n < most and rough:
        n += 1
        share = power_of(sequence, n, difference, **how)
    while n > 1 and (less := power_of(sequence, n - 1, difference, **how)) >= power:
        n, share = n - 1, less
    middle = 100.0 * refit if refit is not None else USUAL_REFIT
    plan = PullPlan(sequence, difference, noise, middle / 100.0, n, n * len(parts), share,
                    _error(parts, n, 100.0 * noise, middle, drift)[0] / 100.0,
                    _error(parts, 1, 1e-6, middle, drift)[0] / 100.0 if middle else 0.0, share >= power,
                    told is not None)
    if plan.enough or not others:
        return plan
    other = best_plan(difference, power=power, **(how | {"drift": max(drift, 0.01)}))
    return replace(plan, instead=other if other.enough else None)


def best_plan(difference: float, *, noise: float, refit: float | None = None, power: float = 0.8,
              level: float = 0.95, refit_given: bool = True, drift: float = 0.01,
              most_rounds: int = MOST_ROUNDS) -> PullPlan:
    """The plan of least time over A-B-A, A-B-A-B-A, and so on up to ``most_rounds`` fits of B.

    A change of parts counts as `CHANGE` pulls. If none is enough, that of ``most_rounds`` with ``enough`` False.
    """
    told = refit if refit_given else None
    how = {"noise": noise, "refit": refit, "power": power, "level": level, "refit_given": refit_given, "drift": drift,
           "others": False}
    best, plan = math.inf, None
    for rounds in range(1, most_rounds + 1):
        fits = 2 * rounds + 1
        if fits * (1 + CHANGE) >= best:
            break  # one pull each would take as long
        sequence = "-".join(["A", "B"] * rounds + ["A"])
        if _rough(_letters(sequence), 100.0 * difference, 100.0 * noise, refit, told, level, drift, power) is None:
            continue
        tried = pulls_needed(difference, sequence=sequence, **how)
        if tried.enough and tried.total + CHANGE * fits < best:
            best, plan = tried.total + CHANGE * fits, tried
    return plan or pulls_needed(difference, sequence="-".join(["A", "B"] * most_rounds + ["A"]), **how)


def _check(difference: float, noise: float, refit: float | None, power: float) -> None:
    for name, value in (("difference", difference), ("noise", noise), ("refit", refit or 0.0)):
        if not 0.0 <= value <= 0.5 or (value == 0.0 and name != "refit"):
            msg = f"{name} {value:g} is outside 0 to 0.5: give it as a fraction of the baseline (1 % is 0.01)."
            raise InputError(msg)
    if not 0.05 <= power <= 0.99:
        msg = f"power {power:g} is outside 0.05 to 0.99: it is the wanted chance to resolve the difference."
        raise InputError(msg)


def held_before(refit: float | None, drift: float = 0.01) -> Priors:
    """`Priors` with the refit scatter (fraction) as given, or not known when None."""
    if refit is None:
        return Priors(drift=100.0 * drift)
    return Priors(refit=max(100.0 * refit, 1e-6), drift=100.0 * drift)


def _rough(parts: tuple[int, ...], difference: float, noise: float, refit: float | None, told: float | None,
           level: float, drift: float, power: float) -> int | None:
    """Fewest pulls per fit by bisection; None when refit scatter alone is too much.

    By the approximation when the judge is told the refit scatter, else by a few drawn sessions: what repeated fits
    show of the scatter is left out of the approximation.
    """
    most = _most(parts, told)

    def reached(n: int, sd: float = noise) -> bool:
        if told is None:
            return _judged(parts, n, difference, sd, refit, told, level, drift, SCANNED) >= power
        return _approximate(parts, n, difference, sd, refit, told, level, drift) >= power

    if told is not None and not reached(2, 1e-3 * noise):
        return None
    low, high = 0, 1
    while not reached(high):
        if high == most:
            return None
        low, high = high, min(2 * high, most)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if reached(middle) else (middle, high)
    return high


def _most(parts: tuple[int, ...], told: float | None) -> int:
    """Pulls per fit looked at: `MOST`, or what can be drawn where the judge is not told the refit scatter."""
    return MOST if told is not None else max(SIMULATED // len(parts), 1)


@lru_cache(maxsize=512)
def _judged(parts: tuple[int, ...], per_fit: int, difference: float, noise: float, refit: float | None,
            told: float | None, level: float, drift: float, chunks: int = 6) -> float:
    """Share of 200 ``chunks`` drawn sessions (percent values) in which the judge itself resolves the difference."""
    returns = chunks > SCANNED  # a look for where to begin does without
    rng = np.random.default_rng(20)
    part, fit = np.repeat(parts, per_fit), np.repeat(np.arange(len(parts)), per_fit)
    layout, held = design(part, fit), held_before(told, drift)
    hits, chunk = 0, 200
    for _ in range(chunks):
        scatter = drawn_refits(rng, refit, chunk)
        y = 100.0 + difference * (part == 1)[:, None] + noise * rng.normal(size=(part.size, chunk))
        y += scatter * rng.normal(size=(len(parts), chunk))[fit]
        if layout.returned or drift > 0.0:
            y += 100.0 * drift * rng.normal(size=chunk) * layout.x[:, None]
        found = resolves(effect(y, layout, held), 1, level)
        hits += int((found & came_back(y, layout, held)).sum() if returns else found.sum())
    return hits / (chunks * chunk)


def _approximate(parts: tuple[int, ...], per_fit: int, difference: float, noise: float, refit: float | None,
                 told: float | None, level: float, drift: float) -> float:
    rule = REFIT_TOP if told is None else 100.0 * told
    error_rate = (1.0 - level) * (1.0 - LEFT_OUT) if told is None else 1.0 - level
    truth, share = _usual(refit)
    half = _half_width(*_error(parts, per_fit, noise, rule, drift), error_rate)
    true_error = np.array([_error(parts, per_fit, noise, r, drift)[0] for r in truth])
    good = math.erf(ALLOWED / math.sqrt(2.0)) if parts.count(0) > 1 else 1.0
    return float(good * (share @ _beyond(half, difference, true_error)))


def _letters(sequence: str) -> tuple[int, ...]:
    letters = [s.strip() for s in sequence.split("-") if s.strip()]
    order = list(dict.fromkeys(letters))
    if len(order) < 2:
        msg = f"sequence {sequence!r} has one part only: write the parts in order, such as A-B-A."
        raise InputError(msg)
    return tuple(order.index(s) for s in letters)


def drawn_refits(rng: np.random.Generator, refit: float | None, count: int) -> np.ndarray:
    """Refit sds (count,) in percent that sessions are drawn with: as given (fraction), else about the usual."""
    if refit is not None:
        return np.full(count, 100.0 * refit)
    return USUAL_REFIT * np.exp(WITHIN * rng.normal(size=count))


def _usual(refit: float | None) -> tuple[np.ndarray, np.ndarray]:
    """Refit sds in percent with weights: one point when given, else spread about the usual."""
    if refit is not None:
        return np.array([100.0 * refit]), np.ones(1)
    z = np.linspace(-2.6, 2.6, 13)
    weight = np.exp(-0.5 * z**2)
    return USUAL_REFIT * np.exp(WITHIN * z), weight / weight.sum()


@lru_cache(maxsize=4096)
def _error(parts: tuple[int, ...], per_fit: int, noise: float, refit: float,
           drift: float) -> tuple[float, float]:
    """Standard error of B - A in percent and its degrees of freedom (Satterthwaite 1946, from memory)."""
    part, fit = np.repeat(parts, per_fit), np.repeat(np.arange(len(parts)), per_fit)
    layout = design(part, fit)
    X = np.column_stack([np.ones(part.size), *[(part == k) * 1.0 for k in range(1, max(parts) + 1)]])
    V = noise**2 * np.eye(part.size) + refit**2 * (fit[:, None] == fit[None, :])
    if layout.returned:
        X = np.column_stack([X, layout.x])
    else:
        V = V + (100.0 * drift) ** 2 * np.outer(layout.x, layout.x)
    inverse = np.linalg.inv(V)
    covariance = np.linalg.inv(X.T @ inverse @ X)
    gain = (covariance @ X.T @ inverse)[1]
    P = inverse - inverse @ X @ covariance @ X.T @ inverse
    variance = covariance[1, 1]
    return float(np.sqrt(variance)), float(variance**2 * np.trace(P @ P) / (gain @ gain) ** 2)


def _half_width(error: float, freedom: float, error_rate: float) -> float:
    from scipy.special import stdtrit

    return float(error * stdtrit(max(freedom, 0.5), 1.0 - 0.5 * error_rate))


def _beyond(half: float, difference: float, error: np.ndarray) -> np.ndarray:
    from scipy.special import ndtr

    return ndtr((difference - half) / error) + ndtr((-difference - half) / error)
