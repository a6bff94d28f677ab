"""Calibrate: fit a few unknowns of an engine to the pulls of one part, and keep those pulls apart for good.

1. the pulls of the part become one mean curve with its uncertainty (``measured_parts``);
2. the model is marched at a few speeds in the weather of the pulls (``torque_model``);
3. the unknowns are fitted with their priors and bounds (``fit``);
4. what comes back says what was learnt, what was not, what stands on its bound, and which pulls were used.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from pullcast.answers import measured_parts as measured
from pullcast.answers.calibration import NORMAL95, Calibration, Found, UsedPull, chance_text, facts_of
from pullcast.answers.fit import MAX_STEPS, Errors, Fit, fit
from pullcast.answers.session_engine import Setting, engine_of, on_day, setting_of
from pullcast.answers.torque_model import TorqueModel, Unsettled, fine
from pullcast.answers.unknowns import Prior, priors_of, unknown
from pullcast.card.engine import Engine
from pullcast.errors import InputError
from pullcast.pulls.session import Session
from pullcast.pulls.session_card import read_session

DYNO = 0.01  # sd of a dynamometer's own level from day to day: 1 to 2 % (common practice, no source)
MODEL = 0.015  # sd of the model's own error at a speed with every input right (assumption, no source; see the record)
SPEEDS = 6
FEWEST = 3  # speeds that a fit is not thinned below
UNLIKELY = 0.01


def calibrate(session: Session | str | Path, *, part: str | None = None, engine: Engine | None = None,
              unknowns: Sequence[str] | None = None, priors: Mapping[str, tuple[float, float]] | None = None,
              speeds: Sequence[float] | int = SPEEDS, dyno: float = DYNO, model_error: float = MODEL,
              fidelity: str = "wave", cell: float = 0.025, store=None, workers: int | None = None, executor=None,
              on_tick: Callable | None = None, now: datetime | None = None) -> Calibration:
    """Fit unknowns of an engine to the pulls of one part of a session.

    Parameters
    ----------
    session
        A `Session` or the path of its card.
    part
        The part whose pulls are fitted to; default the baseline. No other part's pulls are looked at.
    engine
        The engine as it ran with that part; default: the session's engine card with the part on it.
    unknowns
        Keys out of ``pullcast.answers.unknowns.UNKNOWNS``; default: those the card leaves open, and the flow factor.
    priors
        (middle, standard deviation) by key, in internal units, in place of the card's range.
    speeds
        rpm, or how many, evenly over the band.
    dyno, model_error
        Relative sd of the dynamometer's own level, and of the model's own error.
    fidelity, cell, store, workers, executor, on_tick
        As ``pullcast.solve.jobs``; ``cell`` m.
    now
        Time to write in, default the clock's.

    Returns
    -------
    Calibration
        Whose ``pulls`` can never score a forecast made from it.

    Raises InputError for numbers on an unknown basis, a part that was not run or speeds outside the pulls;
    SolveError and NotConverged from the model.

    """
    session = session if isinstance(session, Session) else read_session(session)
    refused = measured.absolute(session)
    if refused:
        msg = f"{session.path}: {refused}; nothing can be calibrated on it"
        raise InputError(msg)
    band, parts = measured.measured_parts(session)
    mine = _part(session, parts, part or session.baseline)
    engine = engine or engine_of(session, mine.part)
    setting = setting_of(session, engine.day)
    rpm = _speeds(speeds, band, mine)
    model = TorqueModel(on_day(engine, setting), priors_of(engine, unknowns, priors), rpm, fidelity=fidelity,
                        numerics=fine(cell, fidelity), store=store, workers=workers, executor=executor,
                        on_tick=on_tick)
    level = float(np.hypot(mine.level_sd, dyno))
    model, got, torque, errors, left_out = _fitted(model, mine, level, model_error, setting.factor)
    setting = replace(setting, notes=(*setting.notes, *left_out))
    return finished(engine, model.priors, got, np.array(model.speeds), torque, errors, setting, fidelity,
                    tuple(UsedPull(session.title, n, mine.part, d)
                          for n, d in zip(mine.runs, mine.digests, strict=True)), now)


def _fitted(model: TorqueModel, mine: measured.MeasuredPart, level: float, model_error: float, factor: float):
    """The fit, less the speeds at which the model does not repeat for some value it tries; notes name them."""
    notes: list[str] = []
    while True:
        rpm = np.array(model.speeds)
        torque = np.interp(rpm, mine.rpm, mine.torque)
        errors = Errors(np.interp(rpm, mine.rpm, mine.own), level, model_error)
        try:
            return model, fit(model, torque, errors, factor), torque, errors, notes
        except Unsettled as fault:
            if rpm.size <= FEWEST:
                raise
            model = model.without(fault.rpm)
            why = str(fault).partition(": ")[2].removesuffix(". Choose other speeds.")
            notes.append(f"{fault.rpm:g} rpm left out of the fit: {why}")


def _part(session: Session, parts: Sequence[measured.MeasuredPart], letter: str) -> measured.MeasuredPart:
    for p in parts:
        if p.part == letter:
            return p
    msg = f"{session.path}: no used run has the part {letter!r}; parts run: {', '.join(p.part for p in parts)}"
    raise InputError(msg)


def _speeds(wanted: Sequence[float] | int, band: tuple[float, float], mine: measured.MeasuredPart) -> np.ndarray:
    if isinstance(wanted, int):
        if wanted < 2:
            msg = f"{wanted} speeds cannot tell friction from flow; give at least two, six are usual"
            raise InputError(msg)
        low, high = max(band[0], mine.rpm[0]), min(band[1], mine.rpm[-1])
        return np.linspace(low, high, wanted)
    rpm = np.array(sorted({float(s) for s in wanted}))
    if rpm.size < 2 or rpm[0] < mine.rpm[0] or rpm[-1] > mine.rpm[-1]:
        msg = (f"speeds {', '.join(f'{s:g}' for s in rpm)} rpm: give two or more within the pulls' "
               f"{mine.rpm[0]:g} to {mine.rpm[-1]:g} rpm")
        raise InputError(msg)
    return rpm


def finished(engine: Engine, priors: Sequence[Prior], got: Fit, rpm: np.ndarray, torque: np.ndarray,
             errors: Errors, setting: Setting, fidelity: str, pulls: tuple[UsedPull, ...],
             now: datetime | None = None) -> Calibration:
    """The `Calibration` of a fit, with its notes."""
    from scipy.stats import chi2

    from pullcast import __version__

    chance = float(chi2.sf(got.misfit, rpm.size))
    covariance, notes = _widened(priors, got, rpm.size, chance)
    sd = np.sqrt(np.diag(covariance))
    found = tuple(Found(p, float(v), float(s), max(p.low, float(v - NORMAL95 * s)),
                        min(p.high, float(v + NORMAL95 * s)), b)
                  for p, v, s, b in zip(priors, got.values, sd, got.at_bound, strict=True))
    made = Calibration(
        engine.name, facts_of(engine), found, covariance / np.outer(sd, sd), rpm, torque, got.before, got.after,
        {"own": float(np.mean(errors.own)), "level": errors.level, "model": errors.model}, got.misfit, chance,
        setting.basis, pulls, fidelity, __version__,
        (now or datetime.now(UTC)).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S+00:00"), got.steps < MAX_STEPS)
    return _with_notes(made, (*setting.notes, *notes))


def _widened(priors: Sequence[Prior], got: Fit, count: int, chance: float) -> tuple[np.ndarray, tuple[str, ...]]:
    """Covariance (p, p) to report, and a note if it was widened.

    A fit that misses by more than was assumed has assumed too little: its covariance is widened by the misfit over
    the ``count`` of speeds (Birge, Phys. Rev. 40 (1932) 207, from memory), no sd beyond its prior's.
    """
    if chance >= UNLIKELY:
        return got.covariance, ()
    wide = got.covariance * got.misfit / count
    cap = np.minimum(1.0, np.array([p.sd for p in priors]) / np.sqrt(np.diag(wide)))
    note = (f"the fit misses the pulls by more than noise and model error explain (chance {chance_text(chance)}): "
            f"ranges are widened {np.sqrt(got.misfit / count):.1f} times, to the prior's at most")
    return wide * np.outer(cap, cap), (note,)


def _with_notes(c: Calibration, notes: tuple[str, ...]) -> Calibration:
    said = list(notes)
    for f in c.found:
        if f.at_bound:
            said.append(f"{unknown(f.key).label} stands on its {f.at_bound} bound ({f.digits(f.value)}): something "
                        "else is wrong, with the card, the pulls or the model")
    for a, b, r in c.alike:
        said.append(f"{unknown(a).label} and {unknown(b).label} are told apart badly (correlation {r:+.2f}): their "
                    "sum of effects is known better than either")
    if not c.settled:
        said.append(f"the fit stopped after {MAX_STEPS} steps before it settled")
    return replace(c, notes=tuple(said))
