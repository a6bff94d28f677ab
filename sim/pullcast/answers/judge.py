"""Judge a measured session: is B really better than A, and where.

1. every pull is read, completed and corrected (pullcast.pulls);
2. smoothed by the stated window, put on one speed grid, averaged over the declared band;
3. differences to the baseline by generalised least squares, drift removed by the returns, refit scatter included;
4. the return to the baseline is tested; a bad one voids the comparison;
5. what is not resolved says how many pulls would do.

Best-of-N is never used: all pulls count, and each exclusion stands on the page with its reason.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from pullcast.answers import session_peaks
from pullcast.answers.judgement import Curve, Judgement, PullRow
from pullcast.answers.pulls_needed import held_before
from pullcast.answers.session_curves import band_mean, common_grid, smooth
from pullcast.answers.session_effects import displacement, interval, layout_of, make_difference, returns_to_baseline
from pullcast.answers.session_stats import difference
from pullcast.answers.session_warnings import warnings
from pullcast.errors import InputError, PullcastError
from pullcast.pulls.measured import Measured, measure
from pullcast.pulls.session import Run, Session
from pullcast.pulls.session_card import read_session


def judge(session: Session | str | Path, *, plan: bool = True) -> Judgement:
    """Judge ``session`` (a `Session` or the path of its card).

    Raises `CardError` or `InputError` for cards and files that cannot be used, naming line and remedy. ``plan`` False
    leaves out the pulls that an unresolved difference would need (a second or so of computing).
    """
    session = session if isinstance(session, Session) else read_session(session)
    used = [r for r in session.runs if not r.excluded]
    _check_parts(session, used)
    if any(r.file is None for r in used):
        return session_peaks.judge_peaks(session, used, plan)
    pulls = [measure(session, r) for r in used]
    grid, band = common_grid(pulls, session.rules)
    curves = np.array([smooth(p.rpm, p.corrected, grid, session.rules.window) for p in pulls])
    held = np.isfinite(curves).all(axis=0)
    grid, curves = grid[held], curves[:, held]
    layout, letters = layout_of(session, used)
    omega = grid * math.pi / 30.0
    metric = session.rules.metric
    value = band_mean(grid, curves * omega if metric == "power" else curves, band)
    columns = np.column_stack([value, curves])
    base = columns[layout.part == 0].mean(axis=0)
    post = difference(100.0 * columns / base, layout, held_before(session.rules.refit))
    returns = returns_to_baseline(100.0 * value / base[0], layout, session, used)
    litre = displacement(session)
    found = []
    for k, letter in enumerate(letters[1:], 1):
        curve = Curve(grid, *[v[1:] for v in interval(post, k, session.rules.level)], base[1:])
        where = f"mean {metric} {band[0]:.0f} to {band[1]:.0f} rpm"
        torque = band_mean(grid, curves[layout.part == 0].mean(axis=0) * (curve.mean / 100.0), band)
        found.append(make_difference(session, layout, post, k, 0, letter, letters[0], where, base[0], metric, litre,
                                     returns, float(torque), plan, curve))
    rows = _rows(session, pulls, grid, band, metric)
    return Judgement(session, metric, band, rows, tuple(found), returns,
                     warnings(session, used, layout, value, pulls), grid, curves,
                     tuple(r.number for r in used), layout.x)



def _check_parts(session: Session, used: list[Run]) -> None:
    left = {r.part for r in used}
    if session.baseline not in left or len(left) < 2:
        msg = (f"{session.path}: after exclusions the parts left are {', '.join(sorted(left)) or 'none'}; a "
               f"comparison needs the baseline {session.baseline!r} and another.")
        raise InputError(msg)


def _rows(session: Session, pulls: list[Measured], grid: np.ndarray, band, metric: str) -> tuple[PullRow, ...]:
    by_number = {p.run.number: p for p in pulls}
    rows = []
    for run in session.runs:
        p = by_number.get(run.number)
        if p is None:
            try:
                p = measure(session, run) if run.file is not None else None
            except PullcastError as fault:
                rows.append(PullRow(run.number, run.part, run.fit, str(run.file), None, None, None, None,
                                    run.excluded, (str(fault),)))
                continue
        rows.append(_row(run, p, grid, band, metric, session.rules.window))
    return tuple(rows)


def _row(run: Run, p: Measured | None, grid: np.ndarray, band, metric: str, window: float) -> PullRow:
    def mean(torque: np.ndarray | None) -> float | None:
        if p is None or torque is None:
            return None
        at = smooth(p.rpm, torque, grid, window) * (grid * math.pi / 30.0 if metric == "power" else 1.0)
        got = float(band_mean(grid, at, band))
        return got if math.isfinite(got) else None

    left = (f"lines {', '.join(map(str, run.leave_out))} left out: {run.leave_out_reason}",) if run.leave_out else ()
    fix = p.correction if p is not None else None
    return PullRow(run.number, run.part, run.fit, run.file.name if run.file else "", mean(p and p.observed),
                   mean(p and p.corrected), fix.factor if fix else None, fix.dry_pressure if fix else None,
                   run.excluded, (*left, *(p.notes if p else ()), *((run.note,) if run.note else ())))
