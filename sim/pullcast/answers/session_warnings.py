"""What a careful operator would point at before believing a session."""

from __future__ import annotations

import numpy as np

from pullcast.answers.refit_doubt import REFIT_TOP
from pullcast.answers.session_stats import SEEN, Design, Priors, reckoned
from pullcast.pulls.measured import Measured
from pullcast.pulls.session import Run, Session

STATES = {"oil_temperature": (10.0, "K"), "coolant_temperature": (8.0, "K"), "spark": (0.5, "deg"),
          "lambda": (0.02, "")}
WARM = 0.01  # two pulls agree within 1 % (common practice, no source)


def warnings(session: Session, used: list[Run], layout: Design, value: np.ndarray,
             pulls: list[Measured]) -> tuple[str, ...]:
    """Sentences on the session's order, warm-up, conditions and correction; ``value`` (n,) of the judged metric."""
    out: list[str] = []
    if not layout.returned:
        out.append("no measured return to the baseline: drift is not removed, an allowance of 1 % is in the interval")
    if np.bincount(layout.fit).max() == 1:
        out.append("one pull per fit: pull noise is not measured but taken as usual (.6 %, wide)")
    if session.rules.refit is None and layout.fit_freedom < SEEN:
        out.append(f"refit scatter is not stated and hardly shows in so few fits: anything up to "
                   f"{reckoned(layout, Priors()).refit_most:g} % is reckoned with, which makes the interval wide, "
                   f"and what is resolved is so at {REFIT_TOP:g} % too; a stated one (refit) narrows it")
    first = value[layout.fit == layout.fit[0]]
    if first.size > 1 and abs(first[-1] / first[-2] - 1.0) > WARM:
        out.append(f"the last two pulls of the first fit differ by {100 * (first[-1] / first[-2] - 1):+.1f} %: "
                   "was the engine warm?")
    out += _conditions(used)
    if session.recorded == "unknown":
        out.append("recorded on an unknown basis: absolute values are not compared, only ratios within the session")
    elif session.basis == "observed" and session.recorded == "observed":
        out.append("not corrected for weather")
    bad = [p for p in pulls if p.correction is not None and not p.correction.in_range]
    if bad:
        out.append(f"correction {bad[0].correction.basis} is out of its range for run"
                   f"{'s' * (len(bad) > 1)} {', '.join(str(p.run.number) for p in bad)}: {bad[0].correction.note}")
    gone = [r for r in session.runs if r.excluded]
    out += [f"run {r.number} excluded: {r.excluded}" for r in gone]
    return tuple(out)


def _conditions(used: list[Run]) -> list[str]:
    out = []
    for name, (limit, unit) in STATES.items():
        means = {}
        for part in dict.fromkeys(r.part for r in used):
            seen = [r.state[name] for r in used if r.part == part and name in r.state]
            if seen:
                means[part] = float(np.mean(seen))
        if len(means) > 1 and max(means.values()) - min(means.values()) > limit:
            spread = max(means.values()) - min(means.values())
            what = name.replace("_", " ")
            tune = "; say so if each part was tuned anew" if name in ("spark", "lambda") else ""
            out.append(f"{what} differs between the parts by {spread:.3g} {unit}".rstrip() + tune)
    return out
