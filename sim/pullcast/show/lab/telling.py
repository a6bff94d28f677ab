"""The page's sentences and captions, from curves and cycles."""

from __future__ import annotations

import numpy as np

from pullcast.card.engine import Engine
from pullcast.network.cylinders import lifts_at
from pullcast.results.variables import variable
from pullcast.show.lab.curve_figures import NOISE, SHOWN
from pullcast.show.lab.readings import Curve

MODELS = {"lumped": "the lumped model", "wave": "the wave model"}


def shown(name: str, value: float, units: str) -> str:
    """A value of a variable with its unit, as tables show it; a dash where there is none.

    >>> shown("torque", 201.26, "si"), shown("power", float("nan"), "si")
    ('201.3 N m', '–')
    """
    if not np.isfinite(value):
        return "–"
    v = variable(name)
    s = v.shown(units)
    return f"{float(v.convert(value, units)):.{s.digits}f} {s.label}".strip()


def sentence(now: Curve, base: Curve, model: str, units: str, changed: bool) -> str:
    """Peaks, and the mean difference from the base over the whole range."""
    torque, power = now.peak("torque"), now.peak("power")
    if torque is None:
        return "At no speed does this engine give a cycle that repeats. " + "; ".join(now.troubles[:2])
    told = (f"{shown('torque', torque[0], units)} at {torque[1]:.0f} rpm and {shown('power', power[0], units)} at "
            f"{power[1]:.0f} rpm by {MODELS[model]}.")
    if not changed:
        return told
    return f"{told} {difference(now, base)}"


def difference(now: Curve, base: Curve) -> str:
    """What a change does to torque over the whole range, and where most, in words."""
    b = np.interp(now.speeds, base.speeds, base.column("torque"))
    relative = now.column("torque") / b - 1.0
    good = np.isfinite(relative)
    if not good.any():
        return ""
    if (np.abs(relative[good]) < NOISE).all():
        return "Against the base: no difference that the model can tell."
    mean = float(np.mean(relative[good]))
    best, worst = (int(f(np.where(good, relative, np.nan))) for f in (np.nanargmax, np.nanargmin))
    ends = [f"{100 * relative[k]:+.1f} % at {now.speeds[k]:.0f} rpm" for k in (best, worst)
            if abs(relative[k]) >= NOISE]
    percent = round(100 * mean, 1) + 0.0
    return f"Against the base: {percent:+.1f} % of torque on average, {' and '.join(dict.fromkeys(ends))}."


def caption(name: str, model: str, complete: bool, weak: Curve | None, now: Curve) -> str:
    """Fig. 1 in words: what is drawn, by which model, and how far the models are apart."""
    told = f"Full-load {SHOWN[name]} by {MODELS[model]}"
    if not complete:
        return f"{told}, which sees restriction and inertia, no waves; dots are the wave model's points as they come."
    told += " (line and dots)."
    if weak is None:
        return told
    apart = 100 * (weak.column("torque") / now.column("torque") - 1.0)
    if not np.isfinite(apart).any():
        return told
    k = int(np.nanargmax(np.abs(apart)))
    return (f"{told} The lumped model (dotted) is {np.sqrt(np.nanmean(apart**2)):.1f} % away in torque (rms), most "
            f"at {now.speeds[k]:.0f} rpm: {apart[k]:+.1f} %.")


def events(engine: Engine, rpm: float) -> str:
    """Opening and closing of both valves at 1 mm of lift at a speed (cam phasing included), in words."""
    intake, exhaust = lifts_at(engine, rpm)
    if min(intake.max_lift, exhaust.max_lift) <= 1e-3:
        return ""
    (io, ic), (eo, ec) = intake.events_at(1e-3), exhaust.events_at(1e-3)
    return (f"At 1 mm of lift the intake is open from {_place(io)} to {_place(ic)}, the exhaust from {_place(eo)} to "
            f"{_place(ec)}.")


def _place(angle: float) -> str:
    """A crank angle (deg from overlap TDC) from its nearest dead centre.

    >>> _place(-12.0), _place(225.0), _place(-222.0)
    ('12° before TDC', '45° after BDC', '42° before BDC')
    """
    a = (angle + 360.0) % 720.0 - 360.0
    centre = 180.0 * round(a / 180.0)
    name = "TDC" if centre % 360 == 0 else "BDC"
    return f"{abs(a - centre):.0f}° {'before' if a < centre else 'after'} {name}"
