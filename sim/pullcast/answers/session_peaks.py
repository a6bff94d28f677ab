"""Judge a session of which only the peaks are known: one number of power and torque per pull."""

from __future__ import annotations

import math

import numpy as np

from pullcast.answers.judgement import Judgement, PullRow
from pullcast.answers.pulls_needed import held_before
from pullcast.answers.session_curves import smooth
from pullcast.answers.session_effects import displacement, layout_of, make_difference, returns_to_baseline
from pullcast.answers.session_stats import difference
from pullcast.answers.session_warnings import warnings
from pullcast.errors import InputError
from pullcast.pulls.measured import measure, peaks
from pullcast.pulls.session import Run, Session

WARNING = ("only peaks are known: they say nothing of the rest of the band, and where a peak lies may differ from "
           "part to part")


def judge_peaks(session: Session, used: list[Run], plan: bool) -> Judgement:
    """A `Judgement` of peak power and peak torque, each on its own; pulls with files give the peaks of their curves.

    Raises `InputError` when neither peak is known for every used run.
    """
    found = [_peaks(session, r) for r in used]
    known = [m for m in ("power", "torque") if all(f[m] is not None for f in found)]
    if not known:
        msg = (f"{session.path}: neither peak_power nor peak_torque is given for every run: a comparison needs one "
               "of them throughout.")
        raise InputError(msg)
    layout, letters = layout_of(session, used)
    litre = displacement(session)
    differences, returns = [], []
    for metric in known:
        value = np.array([f[metric] for f in found])
        base = float(value[layout.part == 0].mean())
        post = difference(100.0 * value[:, None] / base, layout, held_before(session.rules.refit))
        back = returns_to_baseline(100.0 * value / base, layout, session, used)
        returns += [r for r in back if not (r.stated and r in returns)]
        for k, letter in enumerate(letters[1:], 1):
            torque = base * float(post.centre(k)[0]) / 100.0 if metric == "torque" else None
            where = f"peak {metric}"
            differences.append(make_difference(session, layout, post, k, 0, letter, letters[0], where, base,
                                               metric, litre, back, torque, plan))
    rows = tuple(_row(session, r, known[0]) for r in session.runs)
    told = (WARNING, *warnings(session, used, layout, np.array([f[known[0]] for f in found]), []))
    return Judgement(session, f"peak {known[0]}", None, rows, tuple(differences), _unique(returns), told,
                     used=tuple(r.number for r in used), places=layout.x)


def _unique(returns: list) -> tuple:
    stated = [r for r in returns if r.stated]
    return (*[r for r in returns if not r.stated], *stated[:1])


def _peaks(session: Session, run: Run) -> dict[str, float | None]:
    if run.file is None:
        scaled = peaks(session, run)[0]
        return {"power": scaled.peak_power, "torque": scaled.peak_torque}
    p = measure(session, run)
    step = session.rules.step
    grid = np.arange(math.ceil(p.rpm[0] / step) * step, p.rpm[-1] + 1.0, step)
    torque = smooth(p.rpm, p.corrected, grid, session.rules.window)
    return {"power": float(np.nanmax(torque * grid * math.pi / 30.0)), "torque": float(np.nanmax(torque))}


def _row(session: Session, run: Run, metric: str) -> PullRow:
    values = _peaks(session, run) if not run.excluded or run.file is None else {metric: None}
    fix = peaks(session, run)[1] if run.file is None else None
    raw = getattr(run, f"peak_{metric}")
    observed = raw if session.recorded == "observed" else None
    return PullRow(run.number, run.part, run.fit, run.file.name if run.file else "", observed, values[metric],
                   fix.factor if fix else None, fix.dry_pressure if fix else None, run.excluded,
                   (run.note,) if run.note else ())
