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
from pullcast.answers.pulls_needed import power_of, pulls_needed
from pullcast.answers.refit_doubt import resolves
from pullcast.answers.session_stats import Priors, design, difference, returned_part

PEAKS = Path(__file__).parents[3] / "configs" / "sessions" / "peaks_only.toml"
EACH = 500


def checks() -> list[Check]:
    """Power against the noncentral t, the refit floor, simulated sessions, the case of the trade."""
    return [*_power(), _floor(), *_sessions(), *_trade()]


def _power() -> list[Check]:
    from scipy.stats import nct
    from scipy.stats import t as student

    out = []
    for noise, n in ((0.5, 4), (1.0, 13), (0.8, 8)):
        freedom, shift = 3 * n - 3, 1.0 / (noise * math.sqrt(1.5 / n))
        limit = student.ppf(0.975, freedom)
        exact = nct.sf(limit, freedom, shift) + nct.cdf(-limit, freedom, shift)
        got = power_of("A-B-A", n, 0.01, noise=noise / 100.0, refit=0.0)
        out.append(absolute(f"power, 1 %, sd {noise} %, {n}-{n}-{n}", "noncentral t", exact, got, 0.04,
                            note="1200 drawn sessions (sd .011) and a prior on the noise that a t test has not"))
    return out


def _floor() -> Check:
    plan = pulls_needed(0.01, noise=0.005, refit=0.004)
    return absolute("standard error left by .4 % refit sd, one return", "closed form sqrt(3/2) sd",
                    math.sqrt(1.5) * 0.4, 100.0 * plan.refit_error, 1e-3, "%")


def _sessions() -> list[Check]:
    rng = np.random.default_rng(2)
    inside, false, flagged = [], [], []
    for n in (3, 4, 5, 6):
        for effect, bad in ((0.0, 0.0), (1.5, 0.0), (1.0, 4.5)):
            layout, y = _draw(rng, n, effect, bad, (0.2, 1.0))
            back = returned_part(y, layout, Priors(), 2)
            flag = np.abs(back.centre(2)) > 2.0 * back.spread(2)
            if bad:
                flagged.append(flag)
                continue
            post = difference(y, layout, Priors())
            low, high = post.quantile(1, 0.025), post.quantile(1, 0.975)
            inside.append((low <= effect) & (effect <= high))
            if effect == 0.0:
                false.append(resolves(post, 1, 0.95) & ~flag)
    source = f"{EACH * 8} drawn A-B-A sessions, the judge knowing the pulls only"
    cover = float(np.mean(inside))
    return [at_least("coverage of the 95 % interval", source, 0.92, cover),
            at_most("coverage of the 95 % interval", source, 0.98, cover),
            at_most("false 'resolved' of identical parts", source, 0.05, float(np.mean(false))),
            at_least("bad return (4.5 %) flagged", source, 0.90, float(np.mean(flagged))), *_worst(rng)]


def _worst(rng: np.random.Generator) -> list[Check]:
    """Engine rooms of one refit scatter each, from the best to the worst of the range: intervals and verdicts."""
    out = []
    for refit in (0.2, 0.4, 0.6, 0.8, 1.0):
        inside, false = [], []
        for n in (3, 4, 5, 6):
            layout, y = _draw(rng, n, 0.0, 0.0, (refit, refit))
            back, post = returned_part(y, layout, Priors(), 2), difference(y, layout, Priors())
            inside.append((post.quantile(1, 0.025) <= 0.0) & (post.quantile(1, 0.975) >= 0.0))
            false.append(resolves(post, 1, 0.95) & (np.abs(back.centre(2)) <= 2.0 * back.spread(2)))
        source = f"{EACH * 4} drawn A-B-A sessions"
        out += [at_least(f"coverage of the 95 % interval where refits scatter by {refit} %", source, 0.90,
                         float(np.mean(inside)), note="a good room gets wider intervals than it needs"),
                at_most(f"false 'resolved' of identical parts where refits scatter by {refit} %", source, 0.05,
                        float(np.mean(false)))]
    return out


def _draw(rng: np.random.Generator, n: int, effect: float, bad: float, scatter: tuple[float, float]):
    """Pull noise .3 to 1 %, refit scatter evenly from ``scatter`` %, drift -1.5 to 1.5 % over the session."""
    part, fit = np.repeat([0, 1, 0], n), np.repeat([0, 1, 2], n)
    layout = design(part, fit)
    y = 100.0 + effect * part[:, None] + bad * (fit == 2)[:, None] + rng.uniform(-1.5, 1.5, EACH) * layout.x[:, None]
    y = y + rng.uniform(0.3, 1.0, EACH) * rng.normal(size=(3 * n, EACH))
    return layout, y + rng.uniform(*scatter, EACH) * rng.normal(size=(3, EACH))[fit]


def _trade() -> list[Check]:
    power, torque = judge(PEAKS).differences
    source = "common practice, no source"
    return [absolute("other intake, peak power", source, -12.0, power.effect.percent, 0.5, "%"),
            absolute("other intake, peak torque", source, -12.0, torque.effect.percent, 0.5, "%"),
            absolute("other intake, BMEP at the torque peak", source, -1.6, torque.perspective.bmep / 1e5, 0.05,
                     "bar"),
            at_least("other intake: resolved", source, 1.0, float(power.resolved and torque.resolved))]
