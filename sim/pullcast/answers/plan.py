"""Plan: from a ranking to a day on the dyno that can tell whether it was right.

The number of pulls comes from ``pulls_needed`` (the judge's own rule) and the finished day is checked by drawing
sessions with noise, refit scatter and drift, and judging them: ``checked``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers import wrench
from pullcast.answers.pulls_needed import MOST, PullPlan, drawn_refits, held_before, pulls_needed
from pullcast.answers.ranking import Place, Ranking
from pullcast.answers.refit_doubt import resolves
from pullcast.answers.session_stats import design
from pullcast.answers.session_stats import difference as effect
from pullcast.errors import InputError
from pullcast.results.html import answer_html

NOISE, DRIFT = 0.005, 0.01  # pull to pull and over a day, fractions (common practice, no source)
PULL_MINUTES, WARM_MINUTES = 5.0, 25.0  # a pull with its cooling down; warming up after each wrenching
DAY_MINUTES = 480.0
RESOLUTION = (0.005, 0.02)  # the wanted resolution is the expected gain, within these
SESSIONS = 1200  # drawn to check a plan
MOST_ROUNDS = 3
FALLBACK = 6  # pulls per fit where no number resolves what is wanted


@dataclass(frozen=True)
class Stop:
    """One time an engine is on: its letter and name, what is changed before it, minutes of wrenching and pulls."""

    letter: str
    name: str
    change: tuple[str, ...]
    wrench_minutes: float
    pulls: int

    @property
    def minutes(self) -> float:
        """Wrenching, warming up and pulls."""
        return self.wrench_minutes + WARM_MINUTES + self.pulls * PULL_MINUTES


@dataclass(frozen=True)
class Expected:
    """What to look for from one candidate: its gain (fractions) with band, and the change over rpm.

    ``change`` (n,) at ``rpm`` relative to the base, ``low`` and ``high`` (n,) its 80 % band or (); ``crossing`` rpm
    where it goes from loss to gain or back; ``power`` the checked chance that the day resolves ``resolution``.
    """

    letter: str
    place: Place
    rpm: tuple[float, ...]
    change: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    crossing: tuple[float, ...]
    resolution: float
    power: float
    power_at_gain: float


@dataclass(frozen=True, repr=False)
class DayPlan:
    """A day: ``stops`` in order, ``expected`` per candidate, and how it was planned. Fractions and minutes."""

    title: str
    ranking: Ranking
    sequence: str
    stops: tuple[Stop, ...]
    expected: tuple[Expected, ...]
    pulls: PullPlan
    noise: float
    refit: float | None
    drift: float
    false_resolved: float
    notes: tuple[str, ...]

    @property
    def minutes(self) -> float:
        """The whole day."""
        return sum(s.minutes for s in self.stops)

    @property
    def total_pulls(self) -> int:
        """Pulls of the whole day."""
        return sum(s.pulls for s in self.stops)

    def __repr__(self) -> str:
        """The day in two sentences."""
        each = ", ".join(f"{e.letter} {e.place.name}" for e in self.expected)
        return (f"{self.sequence} with {self.stops[0].pulls} pulls each ({self.total_pulls}), "
                f"{self.minutes / 60:.1f} hours: {each} against the base. {self.pulls!r}")

    def _repr_html_(self) -> str:
        rows = [(s.letter, s.name, "; ".join(s.change), f"{s.wrench_minutes:.0f}", f"{s.pulls}") for s in self.stops]
        return answer_html([repr(self)], ("part", "name", "change", "wrench min", "pulls"), rows, self.notes)


def plan(ranking: Ranking, *, parts: int = 2, names: Sequence[str] | None = None, resolution: float | None = None,
         noise: float = NOISE, refit: float | None = None, drift: float = DRIFT, power: float = 0.8,
         returns: bool | None = None, rounds: int | None = None) -> DayPlan:
    """A dyno day for the best candidates of a ranking.

    Parameters
    ----------
    ranking
        From ``pullcast.answers.rank.rank`` or ``read_ranking``.
    parts, names
        How many candidates from the top, or which by name.
    resolution
        Difference to be resolved (fraction); default: the smallest expected gain, within 0.5 to 2 %.
    noise, refit, drift
        Pull-to-pull and refit standard deviation (None: not known to the judge, truly about
        .4 %) and drift over the day (fractions).
    power
        Wanted chance to resolve.
    returns
        Whether the base comes back after every candidate (A-B-A-C-A) or once at the end (A-B-C-A); default: the first
        when it fits the day.
    rounds
        How often every candidate is put on; default: the fewest that resolve what is wanted within the day, else 1.

    Raises InputError for a name that is not ranked or numbers that cannot be.

    """
    chosen = _chosen(ranking, parts, names)
    wanted = resolution if resolution is not None else _resolution(chosen)
    how = {"noise": noise, "refit": refit, "drift": drift}
    tries = [(n, each) for n in ([rounds] if rounds else range(1, MOST_ROUNDS + 1))
             for each in ([bool(returns)] if returns is not None or len(chosen) == 1 else [True, False])]
    line, letters, needed = _best_day(ranking, chosen, tries, wanted, power, how)
    needed, powers = _enough(letters, len(line), needed, wanted, noise, refit, drift, power)
    stops = _stops(ranking, line, letters, needed.per_fit)
    false = checked(letters, needed.per_fit, [0.0] * len(line), noise=noise, refit=refit, drift=drift)
    at_gain = checked(letters, needed.per_fit, [p.gain for p in line], noise=noise, refit=refit, drift=drift)
    expected = tuple(_expected(ranking, p, chr(66 + k), wanted, powers[k], at_gain[k]) for k, p in enumerate(line))
    notes = _notes(ranking, line, stops, needed, wanted)
    return DayPlan(f"Dyno day: {ranking.name}", ranking, "-".join(letters), tuple(stops), expected, needed, noise,
                   refit, drift, max(false), tuple(notes))


def _best_day(ranking, chosen, tries, wanted, power, how) -> tuple[list[Place], list[str], PullPlan]:
    """Candidates in order, letters and pulls of the first way to run the day that resolves what is wanted within it;
    else of the first that could be run within it, else of that with the least wrenching."""
    fitting = None

    def bare(rounds: int, returns: bool) -> float:
        line = [chosen[i] for i in wrench.least_order([p.swaps for p in chosen], returns)]
        return _minutes(ranking, line, _sequence(len(line), returns, rounds), 2)

    least = min(tries, key=lambda way: bare(*way))
    for rounds, returns in tries:
        line = [chosen[i] for i in wrench.least_order([p.swaps for p in chosen], returns)]
        letters = _sequence(len(line), returns, rounds)
        if bare(rounds, returns) > DAY_MINUTES and (rounds, returns) != least:
            continue  # the wrenching alone is too much
        needed = pulls_needed(wanted, sequence="-".join(letters), power=power,
                              refit_given=how["refit"] is not None, **how)
        fits = _minutes(ranking, line, letters, needed.per_fit) <= DAY_MINUTES
        if needed.enough and fits:
            return line, letters, needed
        if fitting is None:
            n = needed.per_fit if needed.enough else FALLBACK
            fitting = line, letters, replace(needed, per_fit=n, total=n * len(letters))
    return fitting


def _minutes(ranking: Ranking, line: Sequence[Place], letters: Sequence[str], pulls: int) -> float:
    return sum(s.minutes for s in _stops(ranking, line, letters, pulls))


def _chosen(ranking: Ranking, parts: int, names: Sequence[str] | None) -> list[Place]:
    if names:
        known = [p.name for p in ranking.places]
        for name in names:
            if name not in known:
                msg = f"{name!r} is not a candidate of {ranking.name}; there are: {', '.join(known)}"
                raise InputError(msg)
        found = [ranking.place(n) for n in dict.fromkeys(names)]
    else:
        found = [p for p in ranking.places if p.kept][:parts]
    found = [p for p in found if not p.trouble]
    if not found or not 1 <= len(found) <= 8:
        msg = (f"{len(found)} candidates to put on the dyno: between one and eight that could be computed and keep "
               "the limits are needed; name them to plan for one that breaks a limit")
        raise InputError(msg)
    return found


def _resolution(chosen: Sequence[Place]) -> float:
    return float(np.clip(min(abs(p.gain) for p in chosen), *RESOLUTION))


def _sequence(count: int, returns: bool, rounds: int) -> list[str]:
    parts = [chr(66 + k) for k in range(count)]
    once = [x for part in parts for x in (part, "A")] if returns else [*parts, "A"]
    return ["A", *once * rounds]


def _enough(letters, count, needed, wanted, noise, refit, drift, power) -> tuple[PullPlan, list[float]]:
    """The plan with pulls added until drawn days resolve every candidate often enough, and those chances."""
    n, start = needed.per_fit, needed.per_fit
    powers = checked(letters, n, [wanted] * count, noise=noise, refit=refit, drift=drift)
    while needed.enough and min(powers) < power - 0.02 and n < min(MOST, start + 4):
        n += 1
        powers = checked(letters, n, [wanted] * count, noise=noise, refit=refit, drift=drift)
    if n == start:
        return needed, powers
    return replace(needed, per_fit=n, total=n * len(letters), power=min(powers)), powers


def checked(letters: Sequence[str], per_fit: int, differences: Sequence[float], *, noise: float,
            refit: float | None = None, drift: float = DRIFT, level: float = 0.95, sessions: int = SESSIONS,
            seed: int = 7) -> list[float]:
    """Share of drawn days in which the judge resolves each candidate.

    ``letters`` the parts in the order run, "A" the base; ``differences`` (fractions) of "B", "C" ... true to the day.
    ``noise``, ``refit`` (None: drawn about .4 %, not told to the judge) and a linear ``drift`` (sd over the day).
    """
    rng = np.random.default_rng(seed)
    owner = np.array([ord(c) - 65 for c in letters])
    part, fit = np.repeat(owner, per_fit), np.repeat(np.arange(len(letters)), per_fit)
    layout, held = design(part, fit), held_before(refit, drift)
    truth = 100.0 * np.array([0.0, *differences])
    hits = np.zeros(len(differences))
    chunk = 200
    for _ in range(sessions // chunk):
        scatter = drawn_refits(rng, refit, chunk)
        y = 100.0 + truth[part][:, None] + 100.0 * noise * rng.normal(size=(part.size, chunk))
        y += scatter * rng.normal(size=(len(letters), chunk))[fit]
        y += 100.0 * drift * rng.normal(size=chunk) * layout.x[:, None]
        post = effect(y, layout, held)
        for k in range(len(differences)):
            hits[k] += resolves(post, k + 1, level).sum()
    return (hits / (sessions // chunk * chunk)).tolist()


def _stops(ranking: Ranking, line: Sequence[Place], letters: Sequence[str], pulls: int) -> list[Stop]:
    by_letter = {"A": ("base", {})} | {chr(66 + k): (p.name, p.swaps) for k, p in enumerate(line)}
    here, stops = {}, []
    for i, letter in enumerate(letters):
        name, swaps = by_letter[letter]
        keys = wrench.change(here, swaps)
        texts = tuple(f"{k}: {swaps[k]}" if k in swaps else f"{k}: back to the base's" for k in keys)
        stops.append(Stop(letter, name, texts, wrench.minutes(keys) if i else 0.0, pulls))
        here = swaps
    return stops


def _expected(ranking: Ranking, p: Place, letter: str, wanted: float, power: float, at_gain: float) -> Expected:
    rpm = np.array(ranking.speeds)
    change = np.array(p.torque) / np.array(ranking.base.torque) - 1.0
    cross = tuple(float(rpm[i] + (rpm[i + 1] - rpm[i]) * change[i] / (change[i] - change[i + 1]))
                  for i in range(len(rpm) - 1) if change[i] * change[i + 1] < 0.0)
    low = high = ()
    if p.change_low:
        low, high = p.change_low, p.change_high
    return Expected(letter, p, ranking.speeds, tuple(change.tolist()), low, high, cross, wanted, power, at_gain)


def _notes(ranking: Ranking, line: Sequence[Place], stops: Sequence[Stop], needed: PullPlan,
           wanted: float) -> list[str]:
    notes, total = [], sum(s.minutes for s in stops)
    if total > DAY_MINUTES:
        notes.append(f"This takes {total / 60:.1f} hours, more than a day of {DAY_MINUTES / 60:.0f}: spread it over "
                     f"{int(np.ceil(total / DAY_MINUTES))} days, each beginning and ending with the base, or plan "
                     "fewer parts.")
    if not needed.enough:
        notes.append(f"{needed!r}. {needed.per_fit} pulls each are planned all the same and show what is grosser.")
    for p in line:
        if abs(p.gain) < wanted:
            notes.append(f"{p.name} is expected to gain {100 * p.gain:+.1f} %, less than the {100 * wanted:.1f} % "
                         "this day is planned to resolve.")
        notes += [f"{p.name} breaks a limit of the shortlist: {x.title}." for x in p.limits if not x.kept]
    if ranking.influence is not None:
        notes.append(f"Before the day: {ranking.influence!r}")
    return notes
