"""Hold forecasts against a session of which only the peaks are known."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from pullcast.answers import measured_parts as measured
from pullcast.answers.compare_finish import finish
from pullcast.answers.comparison import Comparison, DifferenceScore, PartScore, Scored, reach
from pullcast.answers.forecast import Forecast
from pullcast.answers.judge import judge
from pullcast.answers.session_engine import Setting, part_name
from pullcast.errors import InputError
from pullcast.pulls.session import Session

FINE = 10.0  # rpm


def compare_peaks(session: Session, given: Mapping[str, Forecast], setting: Setting, dyno: float) -> Comparison:
    """The `Comparison` of peak torque and peak power, values only: at which speeds they lay is not known."""
    seen = measured.measured_peaks(session)
    if not seen or not given:
        msg = f"{session.path}: no peak that is given for every run has a forecast beside it"
        raise InputError(msg)
    used = measured.usable(session)
    digests = tuple((r.part, measured.digest_of(session, r)) for r in used)
    said = {metric: {part: _peak(f, setting, metric) for part, f in given.items()} for metric in seen}
    scores = []
    for metric, values in seen.items():
        for part, (value, sd) in values.items():
            if part not in given:
                continue
            f, (peak, own) = given[part], said[metric][part]
            fitted = f.fitted & {d for p, d in digests if p == part}
            why = "the forecast was fitted to these pulls" if fitted else measured.absolute(session)
            scores.append(PartScore(part, part_name(session, part), f.name, f"peak {metric}",
                                    "W" if metric == "power" else "N m",
                                    Scored(peak, value, None if own is None else own * peak,
                                           value * math.hypot(sd, dyno)), refused=why,
                                    runs=tuple(r.number for r in used if r.part == part)))
    judged = judge(session, plan=False) if len({r.part for r in used}) > 1 else None
    differences = () if judged is None else tuple(
        _difference(session, d, given, said[d.metric.removeprefix("peak ")], setting) for d in judged.differences
        if d.part in given and d.baseline in given)
    return finish(session, setting, None, tuple(scores), differences, None, judged, given, digests,
                  ("only peaks are known: nothing is said of the rest of the band",))


def _peak(f: Forecast, setting: Setting, metric: str) -> tuple[float, float | None]:
    """Height of the forecast's peak (SI) and its relative sd."""
    rpm, value = _curve(f, setting, metric)
    k = int(np.argmax(value))
    return float(value[k]), None if f.spread is None else float(f.spread.sd(rpm[k:k + 1])[0])


def _curve(f: Forecast, setting: Setting, metric: str) -> tuple[np.ndarray, np.ndarray]:
    low, high = f.span
    rpm = np.linspace(low, high, int((high - low) / FINE) + 2)
    return rpm, f.torque(rpm, setting) * (rpm * math.pi / 30.0 if metric == "power" else 1.0)


def _difference(session: Session, d, given: Mapping[str, Forecast], said, setting: Setting) -> DifferenceScore:
    ours, theirs = given[d.part], given[d.baseline]
    sd = None
    if ours.spread is not None and theirs.spread is not None:
        rpm, value = _curve(ours, setting, d.metric.removeprefix("peak "))
        at = rpm[int(np.argmax(value))]
        sd = 100.0 * float(ours.spread.difference_sd(theirs.spread, np.array([at]))[0])
    percent = 100.0 * (said[d.part][0] / said[d.baseline][0] - 1.0)
    half = (d.effect.high - d.effect.low) / (2.0 * reach(session.rules.level))
    return DifferenceScore(d.part, d.baseline, d.metric, Scored(percent, d.effect.percent, sd, half), d.resolved,
                           d.verdict, refused=d.verdict if d.verdict.startswith("void") else "")
