"""Compare: hold forecasts against measured pulls, on the same basis and in the same weather.

Absolute numbers first (error over speed, over the band, of the peaks), then what matters more: the differences
between parts, predicted and measured, each with its interval, and the order of several parts. A pull that a
forecast was fitted to never scores it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from pullcast.answers import measured_parts as measured
from pullcast.answers.calibrate import DYNO
from pullcast.answers.compare_differences import difference_scores, rank_of
from pullcast.answers.compare_finish import finish
from pullcast.answers.compare_peaks import compare_peaks
from pullcast.answers.comparison import Comparison, ErrorCurve, PartScore, PeakScore, Scored
from pullcast.answers.forecast import Forecast, of_curve, of_lock, predicted
from pullcast.answers.judge import judge
from pullcast.answers.lock import Lock
from pullcast.answers.session_curves import band_mean
from pullcast.answers.session_engine import Setting, part_name, setting_of
from pullcast.card.engine import Day
from pullcast.errors import InputError
from pullcast.pulls.session import Session
from pullcast.pulls.session_card import read_session
from pullcast.results.curve import Curve

FINE = 10.0  # rpm between samples of a forecast when its peak is looked for


def compare(session: Session | str | Path, forecasts: Mapping[str, Forecast | Curve] | Lock | None = None, *,
            names: Mapping[str, str] | None = None, dyno: float = DYNO, **how) -> Comparison:
    """Hold forecasts against the pulls of a session.

    Parameters
    ----------
    session
        A `Session` or the path of its card.
    forecasts
        By part letter, or a sealed `Lock` (``names`` says which of its curves is which part). None: made now from the
        session's engine card with each part on it, in the weather of the pulls, which is no blind forecast.
    dyno
        Relative sd of the dynamometer's own level, which absolute errors contain and differences do not.
    how
        For forecasts made now, as ``pullcast.answers.forecast.predicted`` takes them: ``calibration`` (whose pulls
        are not scored), ``interval``, ``fidelity``, ``cell``, ``workers``, ``executor``, ``store``, ``on_point``.

    Returns
    -------
    Comparison
        Parts with no forecast are left out, with a note.

    Raises InputError when nothing can be held against each other, and what reading, judging and predicting raise.

    """
    session = session if isinstance(session, Session) else read_session(session)
    used = measured.usable(session)
    if forecasts is not None and how:
        msg = f"{', '.join(how)} shape forecasts made now; the ones given are held against the pulls as they are"
        raise InputError(msg)
    setting = setting_of(session, _day(session, forecasts))
    if any(r.file is None for r in used):
        return compare_peaks(session, _given(session, forecasts, names, setting, how), setting, dyno)
    band, parts = measured.measured_parts(session)
    given = _given(session, forecasts, names, setting, how | {"speeds": _cover(band, parts)})
    judged = judge(session, plan=False) if len(parts) > 1 else None
    scores = tuple(_part(session, p, given[p.part], setting, band, dyno) for p in parts if p.part in given)
    if not scores:
        msg = f"{session.path}: none of its parts ({', '.join(p.part for p in parts)}) has a forecast"
        raise InputError(msg)
    differences = () if judged is None else difference_scores(judged, given, setting, band, _fitted(given, parts))
    return finish(session, setting, band, scores, differences, rank_of(session, differences), judged, given,
                  tuple((p.part, d) for p in parts for d in p.digests), _left_out(session, parts, given))


def _day(session: Session, forecasts) -> Day | None:
    """The engine card's day, or a given forecast's: for observed numbers without weather."""
    if session.engine is not None:
        from pullcast.card import read_engine

        return read_engine(session.engine).day
    for item in (forecasts or {}).values() if isinstance(forecasts, Mapping) else ():
        a = (item.curve if isinstance(item, Forecast) else item).dataset.attrs
        return Day(a["pressure"], a["temperature"], a["humidity"])
    if isinstance(forecasts, Lock):
        a = forecasts.curve(forecasts.names[0]).dataset.attrs
        return Day(a["pressure"], a["temperature"], a["humidity"])
    return None


def _given(session: Session, forecasts, names, setting: Setting, how: dict) -> dict[str, Forecast]:
    order = list(dict.fromkeys(r.part for r in measured.usable(session)))
    if isinstance(forecasts, Lock):
        return {p: f for p, f in of_lock(forecasts, session, names).items() if p in order}
    if forecasts is not None:
        wrong = [p for p in forecasts if p not in order]
        if wrong:
            msg = f"{session.path}: no used run has the part {wrong[0]!r}; parts run: {', '.join(order)}"
            raise InputError(msg)
        return {p: f if isinstance(f, Forecast) else of_curve(part_name(session, p), f) for p, f in forecasts.items()}
    return {p: predicted(session, p, setting, **how) for p in order}


def _cover(band: tuple[float, float], parts) -> tuple[float, float]:
    rpm = parts[0].rpm
    return min(band[0], float(rpm[0])), max(band[1], float(rpm[-1]))


def _part(session: Session, p: measured.MeasuredPart, f: Forecast, setting: Setting, band: tuple[float, float],
          dyno: float) -> PartScore:
    covers(f, band)
    torque = f.torque(p.rpm, setting)
    here = np.isfinite(torque)
    rpm, torque = p.rpm[here], torque[here]
    omega = rpm * math.pi / 30.0 if session.rules.metric == "power" else np.ones(rpm.size)
    inside = ((rpm >= band[0] - 1e-6) & (rpm <= band[1] + 1e-6)) * omega * torque
    value = float(band_mean(rpm, torque * omega, band))
    level_sd = math.hypot(p.level_sd, dyno)
    spread = f.spread
    score = Scored(value, p.level, None if spread is None else value * spread.mean_sd(rpm, inside),
                   p.level * level_sd)
    curve = ErrorCurve(rpm, torque, p.torque[here], None if spread is None else spread.sd(rpm),
                       np.hypot(p.sd[here], dyno))
    what = f"mean {session.rules.metric} {band[0]:.0f} to {band[1]:.0f} rpm"
    return PartScore(p.part, part_name(session, p.part), f.name, what,
                     "W" if session.rules.metric == "power" else "N m", score, curve,
                     _peaks(p, f, setting, rpm), _refusal(session, p.digests, f), p.runs)


def covers(f: Forecast, band: tuple[float, float]) -> None:
    """Refuse a forecast that does not reach over the band."""
    low, high = f.span
    if low > band[0] + 1e-6 or high < band[1] - 1e-6:
        msg = (f"the forecast {f.name} covers {low:.0f} to {high:.0f} rpm, not the band {band[0]:.0f} to "
               f"{band[1]:.0f} rpm: predict over the whole band, or narrow it on the session card")
        raise InputError(msg)


def _refusal(session: Session, digests: tuple[str, ...], f: Forecast) -> str:
    fitted = f.fitted & set(digests)
    if fitted:
        return f"the forecast was fitted to {len(fitted)} of these {len(digests)} pulls"
    return measured.absolute(session)


def _fitted(given: Mapping[str, Forecast], parts) -> dict[str, str]:
    """Part -> why its difference must not be scored: a forecast that was fitted to the candidate's own pulls."""
    return {p.part: "the forecast was fitted to these pulls" for p in parts
            if p.part in given and given[p.part].fitted & set(p.digests)}


def _left_out(session: Session, parts, given: Mapping[str, Forecast]) -> tuple[str, ...]:
    return tuple(f"part {p.part} ({part_name(session, p.part)}) has no forecast" for p in parts
                 if p.part not in given)


def _peaks(p: measured.MeasuredPart, f: Forecast, setting: Setting, rpm: np.ndarray) -> tuple[PeakScore, ...]:
    """Peaks of torque and power where both curves have one inside what was measured."""
    fine = np.arange(rpm[0], rpm[-1] + 0.5 * FINE, FINE)
    forecast = f.torque(fine, setting)
    found = []
    for metric in ("torque", "power"):
        def scale(at: np.ndarray, metric: str = metric) -> np.ndarray:
            return at * math.pi / 30.0 if metric == "power" else np.ones(at.size)

        said = measured.peak_of(fine, forecast * scale(fine))
        seen = measured.peak_of(p.rpm, p.torque * scale(p.rpm))
        if not all(map(math.isfinite, (*said, *seen))):
            continue
        each = p.peaks[:, 0] if metric == "torque" else np.array([])
        each = each[np.isfinite(each)]
        step = float(p.rpm[1] - p.rpm[0])
        sd = math.hypot(float(np.std(each, ddof=1) / math.sqrt(each.size)) if each.size > 1 else step, step / 3.46)
        found.append(PeakScore(metric, said[0], seen[0], sd, said[1], seen[1]))
    return tuple(found)
