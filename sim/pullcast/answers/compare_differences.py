"""Predicted and measured differences between parts, and the order they make."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from pullcast.answers.comparison import DifferenceScore, RankScore, Scored, reach
from pullcast.answers.forecast import Forecast
from pullcast.answers.judgement import Difference, Judgement
from pullcast.answers.rank_agreement import rank_agreement
from pullcast.answers.session_engine import Setting
from pullcast.pulls.session import Session


def difference_scores(judged: Judgement, given: Mapping[str, Forecast], setting: Setting, band: tuple[float, float],
                      refused: Mapping[str, str]) -> tuple[DifferenceScore, ...]:
    """One score for every judged difference whose two parts have forecasts; ``refused`` reasons by part."""
    return tuple(_score(judged, d, given, setting, band, refused.get(d.part, "")) for d in judged.differences
                 if d.part in given and d.baseline in given)


def _score(judged: Judgement, d: Difference, given: Mapping[str, Forecast], setting: Setting,
           band: tuple[float, float], refused: str) -> DifferenceScore:
    part, base = given[d.part], given[d.baseline]
    rpm = judged.grid
    ours, theirs = part.torque(rpm, setting), base.torque(rpm, setting)
    here = np.isfinite(ours) & np.isfinite(theirs)
    rpm, ours, theirs = rpm[here], ours[here], theirs[here]
    omega = rpm * math.pi / 30.0 if judged.metric == "power" else 1.0
    inside = (rpm >= band[0] - 1e-6) & (rpm <= band[1] + 1e-6)
    weight = inside * omega * theirs
    percent = 100.0 * (float((inside * omega * ours).sum() / weight.sum()) - 1.0)
    known = part.spread is not None and base.spread is not None
    sd = 100.0 * part.spread.mean_difference_sd(base.spread, rpm, weight) if known else None
    sds = 100.0 * part.spread.difference_sd(base.spread, rpm) if known else None
    c = d.curve
    return DifferenceScore(
        d.part, d.baseline, d.metric, Scored(percent, d.effect.percent, sd, _measured_sd(judged, d)), d.resolved,
        d.verdict, rpm, 100.0 * (ours / theirs - 1.0), sds, c.mean[here], c.low[here], c.high[here],
        _why_not(refused, d.verdict))


def _measured_sd(judged: Judgement, d: Difference) -> float:
    """Sd of a judged difference as its interval implies: its tails are wide, so a little more than its own."""
    return (d.effect.high - d.effect.low) / (2.0 * reach(judged.session.rules.level))


def _why_not(refused: str, verdict: str) -> str:
    return refused or (verdict if verdict.startswith("void") else "")


def rank_of(session: Session, differences: tuple[DifferenceScore, ...]) -> RankScore | None:
    """Agreement of order over the baseline (at zero) and every scored difference; None for fewer than three parts.

    A part's uncertainty is that of its difference to the baseline, whose own is none here.
    """
    good = [d for d in differences if not d.refused]
    return rank_agreement([session.baseline, *(d.part for d in good)], [0.0, *(d.value.predicted for d in good)],
                          [0.0, *(d.value.measured for d in good)], [0.0, *(d.value.measured_sd for d in good)],
                          session.rules.level)
