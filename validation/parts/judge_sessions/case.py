"""The judge against closed forms of statistics and against sessions whose truth is known.

Noncentral t distribution for the power of an A-B-A session (Johnson, Kotz & Balakrishnan, Continuous Univariate
Distributions 2 (1995), ch. 31, from memory); the variance of a difference with refit scatter in closed form; a case
of the trade (common practice, no source).
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from validation.harness import Check, absolute, at_least, at_most

from pullcast.answers.judge import judge
from pullcast.answers.pulls_needed import drawn_refits, held_before, power_of, pulls_needed
from pullcast.answers.refit_doubt import resolves
from pullcast.answers.session_returns import ALLOWED, came_back
from pullcast.answers.session_stats import Design, Priors, design, difference

SLOW = True
PEAKS = Path(__file__).parents[3] / "configs" / "sessions" / "peaks_only.toml"
SIZES = (3, 4, 5, 6)  # pulls per fit
CHUNK = 500  # sessions judged at once
ROOMS = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)  # refit sd, percent
PLANS = ((0.01, 0.005, 0.0, "A-B-A"), (0.02, 0.005, 0.004, "A-B-A"), (0.015, 0.008, 0.003, "A-B-A-B-A"),
         (0.03, 0.005, None, "A-B-A"), (0.03, 0.008, None, "A-B-A"), (0.02, 0.005, None, "A-B-A-B-A"),
         (0.01, 0.005, 0.004, "A-B-A"), (0.015, 0.005, None, "A-B-A"), (0.02, 0.01, None, "A-B-A"))


def checks() -> list[Check]:
    """Power against the noncentral t, the refit floor, simulated sessions, kept plans, the case of the trade."""
    return [*_power(), _floor(), *_sessions(), *_rooms(), *_more_returns(), _drift(), *map(_plan, PLANS), *_trade()]


def _power() -> list[Check]:
    from scipy.stats import nct
    from scipy.stats import t as student

    out = []
    good = math.erf(ALLOWED / math.sqrt(2.0))  # of sound returns; their gap tells nothing of the difference
    for noise, n in ((0.5, 4), (1.0, 13), (0.8, 8)):
        freedom, shift = 3 * n - 3, 1.0 / (noise * math.sqrt(1.5 / n))
        limit = student.ppf(0.975, freedom)
        exact = good * (nct.sf(limit, freedom, shift) + nct.cdf(-limit, freedom, shift))
        got = power_of("A-B-A", n, 0.01, noise=noise / 100.0, refit=0.0)
        out.append(absolute(f"power, 1 %, sd {noise} %, {n}-{n}-{n}", "noncentral t, return found good", exact, got,
                            0.04, note="1200 drawn sessions (sd .011), a prior on the noise that a t test has not"))
    return out


def _floor() -> Check:
    plan = pulls_needed(0.01, noise=0.005, refit=0.004, others=False)
    return absolute("standard error left by .4 % refit sd, one return", "closed form sqrt(3/2) sd",
                    math.sqrt(1.5) * 0.4, 100.0 * plan.refit_error, 1e-3, "%")


def _told(rng: np.random.Generator, order: str, scatter: tuple[float, float], effect: float,
          chunks: int) -> np.ndarray:
    """Shares of intervals that hold the truth and of verdicts "resolved", over `SIZES` times ``chunks`` times
    `CHUNK` drawn sessions."""
    found = []
    for n in SIZES:
        for _ in range(chunks):
            layout, y = _draw(rng, order, n, effect, scatter)
            post = difference(y, layout, Priors())
            share = post.below(1, effect)
            found.append([np.mean((share > 0.025) & (share < 0.975)),
                          np.mean(resolves(post, 1, 0.95) & came_back(y, layout, Priors()))])
    return np.mean(found, axis=0)


def _sessions() -> list[Check]:
    """Rooms of the whole range, .2 to 1 %."""
    rng = np.random.default_rng(2)
    equal, other = _told(rng, "ABA", (0.2, 1.0), 0.0, 6), _told(rng, "ABA", (0.2, 1.0), 1.5, 6)
    flagged = []
    for n in SIZES:
        layout, y = _draw(rng, "ABA", n, 1.0, (0.2, 1.0))
        flagged.append(np.mean(~came_back(y + 4.5 * (layout.fit == 2)[:, None], layout, Priors())))
    source = f"{12 * CHUNK * len(SIZES)} drawn A-B-A sessions, the judge knowing the pulls only"
    cover = float(0.5 * (equal[0] + other[0]))
    return [at_least("coverage of the 95 % interval", source, 0.92, cover),
            at_most("coverage of the 95 % interval", source, 0.98, cover),
            at_most("false 'resolved' of identical parts", source, 0.05, float(equal[1])),
            at_least("bad return (4.5 %) flagged", source, 0.90, float(np.mean(flagged)))]


def _rooms() -> list[Check]:
    """Engine rooms of one refit scatter each, from the best to the worst of the range: intervals and verdicts."""
    out = []
    source = f"{6 * CHUNK * len(SIZES)} drawn A-B-A sessions"
    for refit in ROOMS:
        cover, false = _told(np.random.default_rng(3), "ABA", (refit, refit), 0.0, 6)
        out += [at_least(f"coverage of the 95 % interval where refits scatter by {refit} %", source, 0.92,
                         float(cover), note="a good room gets wider intervals than it needs"),
                at_most(f"false 'resolved' of identical parts where refits scatter by {refit} %", source, 0.05,
                        float(false))]
    return out


def _more_returns() -> list[Check]:
    """The worst room with two and three returns."""
    out = []
    for order in ("ABABA", "ABABABA"):
        cover, false = _told(np.random.default_rng(4), order, (1.0, 1.0), 0.0, 4)
        source = f"{4 * CHUNK * len(SIZES)} drawn {'-'.join(order)} sessions"
        out += [at_least(f"coverage where refits scatter by 1 %, {'-'.join(order)}", source, 0.92, float(cover)),
                at_most(f"false 'resolved' where refits scatter by 1 %, {'-'.join(order)}", source, 0.05,
                        float(false))]
    return out


def _drift() -> Check:
    layout, y = _draw(np.random.default_rng(5), "ABA", 4, 1.0, (0.2, 1.0))
    there, drifted = difference(y, layout, Priors()), difference(y + 6.0 * layout.x[:, None], layout, Priors())
    return absolute("linear drift of 6 % of the day: difference moves by", "must cancel", 0.0,
                    float(np.abs(drifted.centre(1) - there.centre(1)).max()), 1e-8, "%")


def _plan(case: tuple[float, float, float | None, str]) -> Check:
    """Fresh sessions as planned, judged as a session is: the verdict, and the return good."""
    effect, noise, refit, sequence = case
    plan = pulls_needed(effect, noise=noise, refit=refit, sequence=sequence)
    scatter = "not known" if refit is None else f"{100 * refit:g} %"
    asked = f"{100 * effect:g} %, sd {100 * noise:g} %, refit {scatter}, {sequence}" + " cannot" * (not plan.enough)
    plan = plan if plan.enough else plan.instead
    order = plan.sequence.replace("-", "")
    part = np.repeat(["AB".index(c) for c in order], plan.per_fit)
    fit = np.repeat(np.arange(len(order)), plan.per_fit)
    layout, rng, held, share = design(part, fit), np.random.default_rng(99), held_before(refit), []
    for _ in range(8):
        y = 100.0 + 100.0 * effect * part[:, None] + rng.uniform(-1.5, 1.5, CHUNK) * layout.x[:, None]
        y = y + 100.0 * noise * rng.normal(size=(part.size, CHUNK))
        y = y + drawn_refits(rng, refit, CHUNK) * rng.normal(size=(len(order), CHUNK))[fit]
        share.append(np.mean(resolves(difference(y, layout, held), 1, 0.95) & came_back(y, layout, held)))
    return absolute(f"planned power kept: {asked}", f"{8 * CHUNK} drawn {plan.sequence} of {plan.per_fit} pulls each",
                    plan.power, float(np.mean(share)), 0.05)


def _draw(rng: np.random.Generator, order: str, n: int, effect: float,
          scatter: tuple[float, float]) -> tuple[Design, np.ndarray]:
    """Pull noise .3 to 1 %, refit scatter evenly from ``scatter`` %, drift -1.5 to 1.5 % over the session."""
    part, fit = np.repeat(["AB".index(c) for c in order], n), np.repeat(np.arange(len(order)), n)
    layout = design(part, fit)
    y = 100.0 + effect * part[:, None] + rng.uniform(-1.5, 1.5, CHUNK) * layout.x[:, None]
    y = y + rng.uniform(0.3, 1.0, CHUNK) * rng.normal(size=(part.size, CHUNK))
    return layout, y + rng.uniform(*scatter, CHUNK) * rng.normal(size=(len(order), CHUNK))[fit]


def _trade() -> list[Check]:
    power, torque = judge(PEAKS).differences
    source = "common practice, no source"
    return [absolute("other intake, peak power", source, -12.0, power.effect.percent, 0.5, "%"),
            absolute("other intake, peak torque", source, -12.0, torque.effect.percent, 0.5, "%"),
            absolute("other intake, BMEP at the torque peak", source, -1.6, torque.perspective.bmep / 1e5, 0.05,
                     "bar"),
            at_least("other intake: resolved", source, 1.0, float(power.resolved and torque.resolved))]
