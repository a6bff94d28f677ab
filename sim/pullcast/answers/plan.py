"""Plan: from a ranking to a day on the dyno that can tell whether it was right.

The number of pulls comes from ``pulls_needed`` (the judge's own rule) and the finished day is checked by drawing
sessions with noise, refit scatter and drift, and judging them: ``checked``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers import plan_days, wrench
from pullcast.answers.plan_days import PULL_MINUTES, Stop
from pullcast.answers.pulls_needed import MOST, PullPlan, best_plan, drawn_refits, held_before, pulls_needed
from pullcast.answers.ranking import Place, Ranking
from pullcast.answers.refit_doubt import resolves
from pullcast.answers.session_returns import came_back
from pullcast.answers.session_stats import design
from pullcast.answers.session_stats import difference as effect
from pullcast.errors import InputError
from pullcast.results.html import answer_html

NOISE, DRIFT = 0.005, 0.01  # pull to pull and over a day, fractions (common practice, no source)
DAY_HOURS = 8.0
RESOLUTION = (0.005, 0.02)  # the wanted resolution is the expected gain, within these
SESSIONS = 1200  # drawn to check a plan
MOST_ROUNDS = 3
FEWEST = 2  # pulls each that are worth a day
FALLBACK = 6  # pulls per fit where no number resolves what is wanted


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
    """A day, or several: ``stops`` in order, ``expected`` per candidate, how it was planned. Fractions and minutes.

    ``hours`` are those of a day; where the stops are more they are cut into days (``Stop.day``), each from base to
    base.
    """

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
    hours: float = DAY_HOURS

    @property
    def minutes(self) -> float:
        """All days together."""
        return plan_days.minutes(self.stops)

    @property
    def days(self) -> list[list[Stop]]:
        """The stops of each day."""
        return plan_days.days(self.stops)

    @property
    def total_pulls(self) -> int:
        """Pulls of all days."""
        return sum(s.pulls for s in self.stops)

    def __repr__(self) -> str:
        """The day in two sentences."""
        each = ", ".join(f"{e.letter} {e.place.name}" for e in self.expected)
        over = f" over {len(self.days)} days" if len(self.days) > 1 else ""
        return (f"{self.sequence} with {self.stops[0].pulls} pulls each ({self.total_pulls}), "
                f"{self.minutes / 60:.1f} hours{over}: {each} against the base. {self.pulls!r}")

    def _repr_html_(self) -> str:
        rows = [(s.letter, s.name, "; ".join(s.change), f"{s.wrench_minutes:.0f}", f"{s.pulls}") for s in self.stops]
        return answer_html([repr(self)], ("part", "name", "change", "wrench min", "pulls"), rows, self.notes)


def plan(ranking: Ranking, *, parts: int = 2, names: Sequence[str] | None = None, resolution: float | None = None,
         noise: float = NOISE, refit: float | None = None, drift: float = DRIFT, power: float = 0.8,
         returns: bool | None = None, rounds: int | None = None, hours: float = DAY_HOURS) -> DayPlan:
    """A dyno day for the best candidates of a ranking; several days where they do not fit one.

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
    hours
        Of a day. What takes longer is cut into days, each from base to base and judged by itself.

    Raises InputError for a name that is not ranked or numbers that cannot be.

    """
    chosen = _chosen(ranking, parts, names)
    wanted = resolution if resolution is not None else _resolution(chosen)
    if not 1.0 <= hours <= 24.0:
        msg = f"a day of {hours:g} hours: between 1 and 24"
        raise InputError(msg)
    how = {"noise": noise, "refit": refit, "drift": drift}
    tries = [(n, each) for n in ([rounds] if rounds else range(1, MOST_ROUNDS + 1))
             for each in ([bool(returns)] if returns is not None or len(chosen) == 1 else [True, False])]
    line, letters, needed = _best_day(ranking, chosen, tries, wanted, power, how, 60.0 * hours)
    if returns is None and _minutes(ranking, line, letters, needed.per_fit) > 60.0 * hours:
        line, letters, needed = _apart(ranking, chosen, rounds, wanted, power, how, 60.0 * hours)
    else:
        needed = _enough(letters, len(line), needed, wanted, noise, refit, drift, power)
    if not needed.enough:
        other = best_plan(wanted, power=power, refit_given=refit is not None, **how)
        needed = replace(needed, instead=other if other.enough else None)
    stops = plan_days.cut(_stops(ranking, line, letters, needed.per_fit), 60.0 * hours)
    powers, false, at_gain = (by_day(stops, gains, **how) for gains in (
        [wanted] * len(line), [0.0] * len(line), [p.gain for p in line]))
    expected = tuple(_expected(ranking, p, chr(66 + k), wanted, powers[k], at_gain[k]) for k, p in enumerate(line))
    notes = [*_long_days(stops, line, hours, how), *_notes(ranking, line, needed, wanted)]
    return DayPlan(f"Dyno day: {ranking.name}", ranking, plan_days.sequence(stops), tuple(stops), expected, needed,
                   noise, refit, drift, max(false), tuple(notes), hours)


def _apart(ranking, chosen, rounds, wanted, power, how, most) -> tuple[list[Place], list[str], PullPlan]:
    """Candidates, letters and pulls where they are too much for one day: each candidate from base to base, as often
    as resolves what is wanted within a day of its own, else once."""
    line = [chosen[i] for i in wrench.least_order([p.swaps for p in chosen], True)]
    fitting = None
    for n in [rounds] if rounds else range(1, MOST_ROUNDS + 1):
        needed = pulls_needed(wanted, sequence="-".join(_sequence(1, True, n)), power=power,
                              refit_given=how["refit"] is not None, others=False, **how)
        pulls = needed.per_fit if needed.enough else FALLBACK
        letters = ["A", *[x for k in range(len(line)) for x in (chr(66 + k), "A") * n]]
        if fitting is None:
            fitting = line, letters, replace(needed, per_fit=pulls, total=pulls * len(letters))
        own = max(_minutes(ranking, [p], _sequence(1, True, n), pulls) for p in line)
        if needed.enough and own <= most:
            return line, letters, replace(needed, total=pulls * len(letters))
    return fitting


def _best_day(ranking, chosen, tries, wanted, power, how, most) -> tuple[list[Place], list[str], PullPlan]:
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
        if bare(rounds, returns) > most and (rounds, returns) != least:
            continue  # the wrenching alone is too much
        needed = pulls_needed(wanted, sequence="-".join(letters), power=power,
                              refit_given=how["refit"] is not None, others=False, **how)
        fits = _minutes(ranking, line, letters, needed.per_fit) <= most
        if needed.enough and fits:
            return line, letters, needed
        if fitting is None:
            n = needed.per_fit if needed.enough else FALLBACK
            fitting = line, letters, replace(needed, per_fit=n, total=n * len(letters))
    return fitting


def _minutes(ranking: Ranking, line: Sequence[Place], letters: Sequence[str], pulls: int) -> float:
    return plan_days.minutes(_stops(ranking, line, letters, pulls))


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


def _enough(letters, count, needed, wanted, noise, refit, drift, power) -> PullPlan:
    """The plan with pulls added until drawn days resolve every candidate often enough."""
    n, start = needed.per_fit, needed.per_fit
    powers = checked(letters, n, [wanted] * count, noise=noise, refit=refit, drift=drift)
    while needed.enough and min(powers) < power - 0.02 and n < min(MOST, start + 4):
        n += 1
        powers = checked(letters, n, [wanted] * count, noise=noise, refit=refit, drift=drift)
    if n == start:
        return needed
    return replace(needed, per_fit=n, total=n * len(letters), power=min(powers))


def by_day(stops: Sequence[Stop], differences: Sequence[float], **how) -> list[float]:
    """`checked` for stops over several days, each day judged by itself; of a candidate of several days the best."""
    found = [0.0] * len(differences)
    for day in plan_days.days(stops):
        mine = sorted({s.letter for s in day} - {"A"})
        short = {"A": "A"} | {letter: chr(66 + k) for k, letter in enumerate(mine)}
        true = [differences[ord(x) - 66] for x in mine]
        shares = checked([short[s.letter] for s in day], day[0].pulls, true, **how)
        for letter, share in zip(mine, shares, strict=True):
            found[ord(letter) - 66] = max(found[ord(letter) - 66], share)
    return found


def checked(letters: Sequence[str], per_fit: int, differences: Sequence[float], *, noise: float,
            refit: float | None = None, drift: float = DRIFT, level: float = 0.95, sessions: int = SESSIONS,
            seed: int = 7) -> list[float]:
    """Share of drawn days in which the judge resolves each candidate, the returns good.

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
        post, good = effect(y, layout, held), came_back(y, layout, held)
        for k in range(len(differences)):
            hits[k] += (resolves(post, k + 1, level) & good).sum()
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


def _long_days(stops: Sequence[Stop], line: Sequence[Place], hours: float, how: dict) -> list[str]:
    """That the plan is more than a day, and of each day that is still too long what would fit."""
    found = plan_days.days(stops)
    notes = []
    if len(found) > 1:
        notes.append(f"More than a day of {hours:g} hours ({plan_days.minutes(stops) / 60:.1f} in all), so cut into "
                     f"{len(found)} days, each from base to base and judged by itself.")
    for k, day in enumerate(found, 1):
        total = plan_days.minutes(day)
        if total <= 60.0 * hours:
            continue
        which = f"Day {k} ({', '.join(dict.fromkeys(s.name for s in day if s.letter != 'A'))})" if len(found) > 1 \
            else "This"
        pulls = plan_days.fitting_pulls(day, 60.0 * hours)
        fits = f"wrenching and warming up alone are {(total - PULL_MINUTES * sum(s.pulls for s in day)) / 60:.1f}"
        if pulls >= FEWEST:
            less = [replace(s, pulls=pulls) for s in day]
            share = [by_day(less, [p.gain for p in line], **how)[ord(x) - 66] for x in sorted({
                s.letter for s in day} - {"A"})]
            fits = (f"with {pulls} pulls each it would fit, and the forecast gain be resolved on "
                    f"{100 * min(share):.0f} % of such days")
        notes.append(f"{which} takes {total / 60:.1f} hours, more than {hours:g}, and cannot be cut: {fits}. Wrench "
                     "the first change or the last the evening before or after, or plan a longer day (--hours).")
    return notes


def _notes(ranking: Ranking, line: Sequence[Place], needed: PullPlan, wanted: float) -> list[str]:
    notes = []
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
