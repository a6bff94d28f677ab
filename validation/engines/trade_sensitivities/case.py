"""What one change does to full-load torque: common practice, no source.

Compression ratio 10 to 11: +2.5 to 3 %; lambda 1.0 against the best: about -3 %; +10 deg C: -2 %; spark 5 deg off the
best: about -1 %, 10 deg: -4 %; 1 % of torque for 1 kPa of plenum depression.
"""

from __future__ import annotations

import numpy as np
from validation.engines.runs import CONFIGS, TRADE, run
from validation.harness import Check, absolute

CARD = CONFIGS / "engines" / "hillclimb_v8.toml"
RPM = (4400.0,)
DRY = {"day.humidity": 0.0}


def checks() -> list[Check]:
    """Each change on the shipped V8 near its torque peak."""
    base = _row({})
    low, high = (_row({"block.compression_ratio": r})["torque"] for r in (10.0, 11.0))
    out = [absolute("torque, compression ratio 10 to 11", TRADE, 2.75, 100 * (high / low - 1), 0.75, "%")]
    lean = {x: _row({"mixture.lambda": x})["torque"] for x in (0.84, 0.88, 0.92, 0.96, 1.0)}
    stoichiometric = 100 * (lean[1.0] / max(lean.values()) - 1)
    warm = 100 * (_row({"day.temperature": "27 C"})["torque"] / base["torque"] - 1)
    out += [absolute("torque, lambda 1.0 against the best", TRADE, -3.0, stoichiometric, 2.0, "%"),
            absolute("torque, +10 deg C, dry", TRADE, -2.0, warm, 1.5, "%")]
    out += _spark()
    tight = _row({"intake.throttle.rating": "500 cfm"})
    drop = (base["plenum_pressure"] - tight["plenum_pressure"]) / 1e3
    lost = 100 * (1 - tight["torque"] / base["torque"])
    out.append(absolute("torque lost by 1 kPa of plenum depression", TRADE, 1.0, lost / drop, 0.5, "%"))
    return out


def _spark() -> list[Check]:
    """Torque at 5 and 10 deg on the late side of the best spark (parabola through seven)."""
    angles = np.arange(20.0, 51.0, 5.0)
    torque = [_row({"burn.spark": f"{a} deg"})["torque"] for a in angles]
    fit = np.polynomial.Polynomial.fit(angles, torque, 4)
    fine = np.linspace(angles[0] + 5, angles[-1], 500)
    best = float(fine[np.argmax(fit(fine))])
    lost = {off: 100 * (1 - fit(best - off) / fit(best)) for off in (5, 10)}
    note = f"best at {best:.0f} deg"
    return [absolute("torque, spark 5 deg later than the best", TRADE, -1.0, -lost[5], 0.8, "%", note),
            absolute("torque, spark 10 deg later than the best", TRADE, -4.0, -lost[10], 3.0, "%", note),
            absolute("loss at 10 deg over loss at 5 deg", TRADE, 4.0, lost[10] / lost[5], 1.5)]


def _row(changes: dict) -> dict[str, float]:
    d = run(CARD, RPM, DRY | changes)
    return {name: float(d[name].values[0]) for name in ("torque", "plenum_pressure")}
