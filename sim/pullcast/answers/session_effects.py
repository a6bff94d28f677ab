"""From values per pull to finished differences: the return test, extremes, perspective, what more would take."""

from __future__ import annotations

import math

import numpy as np

from pullcast.answers.judgement import Curve, Difference, Effect, Extreme, Perspective, Return
from pullcast.answers.pulls_needed import held_before, pulls_needed
from pullcast.answers.refit_doubt import stands, stands_to
from pullcast.answers.session_returns import returned
from pullcast.answers.session_stats import Design, Posterior, design
from pullcast.pulls.session import Rules, Run, Session


def layout_of(session: Session, used: list[Run]) -> tuple[Design, list[str]]:
    """The `Design` of the used runs and the parts' letters, the baseline first; timed when every run has its time."""
    letters = [session.baseline, *dict.fromkeys(r.part for r in used if r.part != session.baseline)]
    at = [r.at for r in used]
    timed = None if any(a is None for a in at) else np.array(at, float)
    return design(np.array([letters.index(r.part) for r in used]), np.array([r.fit for r in used]), timed), letters


def displacement(session: Session) -> float | None:
    """Swept volume of the session's engine in m3: the session card's, else its engine card's, else None."""
    if session.displacement is not None:
        return session.displacement
    if session.engine is None:
        return None
    from pullcast.card import read_engine

    return read_engine(session.engine).block.displacement


def interval(post: Posterior, k: int, level: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean and two-sided limits (m,) of coefficient ``k`` at ``level``."""
    tail = 0.5 * (1.0 - level)
    return post.centre(k), post.quantile(k, tail), post.quantile(k, 1.0 - tail)


def make_difference(session: Session, layout: Design, post: Posterior, k: int, column: int, letter: str, first: str,
                    where: str, base: float, metric: str, litre: float | None, returns: tuple[Return, ...],
                    torque: float | None, plan: bool, curve: Curve | None = None) -> Difference:
    """One `Difference`: coefficient ``k`` of ``post`` in ``column``; ``base`` the baseline's value (SI)."""
    rules = session.rules
    percent, low, high = (float(v[column]) for v in interval(post, k, rules.level))
    ratio_only = session.recorded == "unknown"
    scaled = [None] * 3 if ratio_only else [float(base * v / 100.0) for v in (percent, low, high)]
    effect = Effect(percent, low, high, *scaled, unit="W" if metric == "power" else "N m", level=rules.level)
    void = any(not r.good for r in returns)
    sure = bool(stands(post, k, rules.level)[column])
    resolved = effect.clear and sure and not void
    doubt = None if sure or not effect.clear else float(stands_to(post, k, rules.level)[column])
    noise, refit = float(post.noise[column]), float(post.refit[column])
    more, extra = (None, None) if resolved or void or not plan else _more(session, layout, k, percent, noise, refit)
    extremes = _extremes(post, k, curve, rules, ratio_only) if curve is not None else (None, None)
    return Difference(letter, first, where, effect, resolved, _verdict(effect, void, resolved, rules.worth, doubt),
                      _perspective(effect, metric, litre, None if ratio_only else torque, session.strokes), noise,
                      refit, curve, *extremes, more, extra)


def returns_to_baseline(value: np.ndarray, layout: Design, session: Session, used: list[Run]) -> tuple[Return, ...]:
    """Each return to the baseline in the values (n,) in percent: how far off, what is allowed."""
    out = []
    for fit, far, most in returned(value[:, None], layout, held_before(session.rules.refit)):
        off, allowance = float(far[0]), float(most[0])
        number = used[int(np.flatnonzero(layout.fit == fit)[0])].fit
        out.append(Return(number, off, allowance, abs(off) <= allowance))
    if not out and session.stated_return:
        out.append(Return(0, math.nan, math.nan, session.stated_return == "good", True))
    return tuple(out)


def _extremes(post: Posterior, k: int, curve: Curve, rules: Rules,
               ratio_only: bool) -> tuple[Extreme | None, Extreme | None]:
    """Largest loss and gain in the band; picked among about span / window independent speeds, each has its share."""
    inside = np.ones(curve.rpm.size, bool) if rules.band is None else \
        (curve.rpm >= rules.band[0] - 1e-6) & (curve.rpm <= rules.band[1] + 1e-6)
    mean = np.where(inside, curve.mean, np.nan)
    tries = max(1.0, np.ptp(curve.rpm[inside]) / rules.window)
    tail = 0.5 * (1.0 - rules.level) / tries
    low, high = post.quantile(k, tail)[1:], post.quantile(k, 1.0 - tail)[1:]
    out = []
    for i, sign in ((int(np.nanargmin(mean)), -1.0), (int(np.nanargmax(mean)), 1.0)):
        scale = float(curve.base[i]) / 100.0
        values = [float(v[i]) for v in (curve.mean, low, high)]
        effect = Effect(*values, *([None] * 3 if ratio_only else [scale * v for v in values]), unit="N m",
                        level=rules.level)
        out.append(Extreme(float(curve.rpm[i]), effect) if sign * mean[i] > 0.0 else None)
    return out[0], out[1]


def _verdict(effect: Effect, void: bool, resolved: bool, worth: float, doubt: float | None) -> str:
    if void:
        return "void: the return to the baseline is bad"
    if resolved:
        small = f", smaller than {100 * worth:.1f} %" if abs(effect.percent) < 100.0 * worth else ""
        return f"resolved {'gain' if effect.percent > 0.0 else 'loss'}{small}"
    if doubt is not None:
        return ("not resolved: it is only where refits scatter by less than "
                f"{max(doubt, 0.05):.1f} %, which is not known here")
    if max(abs(effect.low), abs(effect.high)) <= 100.0 * worth:
        return f"no difference: less than {100 * worth:.1f} % either way"
    return "not resolved"


def _perspective(effect: Effect, metric: str, litre: float | None, torque: float | None, strokes: int) -> Perspective:
    unit = "kW/L" if metric == "power" else "N m/L"
    if litre is None or effect.absolute is None:
        return Perspective(effect.percent, None, unit, None)
    bmep = None if torque is None else torque * 2.0 * math.pi * (strokes / 2) / litre
    scale = litre * 1e3 * (1e3 if metric == "power" else 1.0)
    return Perspective(effect.percent, float(effect.absolute / scale), unit, bmep)


def _more(session: Session, layout: Design, k: int, percent: float, noise: float, refit: float):
    """The plan that would resolve the difference seen (or the one worth knowing, if that is larger)."""
    rules = session.rules
    wanted = max(abs(percent) / 100.0, rules.worth)
    owner = dict(zip(layout.fit.tolist(), layout.part.tolist(), strict=True))
    order = [owner[f] for f in sorted(owner) if owner[f] in (0, k)]
    sequence = "-".join("A" if p == 0 else "B" for i, p in enumerate(order) if i == 0 or p != order[i - 1])
    how = {"noise": noise / 100.0, "refit": rules.refit, "level": rules.level}
    plan = pulls_needed(wanted, sequence=sequence, **how)
    plan = plan.instead or plan
    have = int(np.isin(layout.part, (0, k)).sum())
    return plan, max(plan.total - have, 1) if plan.enough else None
