"""Full-load torque of a 2.0 L four published by the U.S. EPA, as a blind band.

1501 rpm 164.92, 2000 187.87, 2700 201.40, 3401 197.40, 4100 200.10 N m (third-party copy of public-domain data);
83.5 x 91.2 mm, ratio 13.0 (from memory), 4-2-1 header, both cams phased. Ports, runners, cam lift, spark, mixture and
weather are not given: they are drawn from their ranges. The cams' schedule is not given either: the intake cam stands
at every speed where, of three positions, it gives the most torque.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from validation.engines.sampling import FLOW, band, draws
from validation.harness import Check, at_least, at_most

SLOW = True
SOURCE = "EPA full-load torque, 2.0 L four (third-party copy)"
CARD = Path(__file__).parent / "card.toml"
SPEEDS = (1501.0, 2000.0, 2700.0, 3401.0, 4100.0)
TORQUE = np.array([164.92, 187.87, 201.40, 197.40, 200.10])
COUNT = 32
MOST_LATE = 8.0  # deg, range of CA50 about the card's schedule
TURNED = (-12.0, 0.0, 12.0)  # deg crank, of the intake cam's centreline from where it was drawn


def checks() -> list[Check]:
    """Share of points inside the 90 % band; how wide the band is; how many engines ran."""
    values, lost = torques()
    low, middle, high = np.quantile(values, (0.05, 0.5, 0.95), axis=0)
    inside = (low <= TORQUE) & (high >= TORQUE)
    points = "; ".join(f"{s:.0f} rpm {t:.0f} in {a:.0f} to {b:.0f} (median {m:.0f})"
                       for s, t, a, b, m in zip(SPEEDS, TORQUE, low, high, middle, strict=True))
    width = float(np.mean((high - low) / (2 * middle)))
    return [at_least("measured torque inside the 90 % band", SOURCE, 0.8, float(inside.mean()), note=points),
            at_most("half width of the band over its median", "a band of a third would say nothing", 0.33, width),
            at_least("drawn engines that ran", f"of {COUNT}; first lost: {lost[0] if lost else 'none'}", 0.9 * COUNT,
                     float(len(values)))]


def torques() -> tuple[np.ndarray, list[str]]:
    """Torque (N m) of every drawn engine at every speed, and why others did not run."""
    got, lost = [], []
    for s in draws(CARD, COUNT, more={"late": (-MOST_LATE, 0.0, MOST_LATE, ""), "flow": FLOW}):
        late = s.pop("late")
        base = (20.0, 17.0, 14.0, 12.0, 11.0)
        s["burn.ca50_at_speeds"] = " ".join(f"{b + late:.3f}" for b in base) + " deg"
        values, why = band(CARD, SPEEDS, [s | turned(s, by) for by in TURNED], lambda d: d["torque"].values)
        lost += why
        if len(values):
            got.append(values.max(axis=0))
    return np.array(got), lost


def turned(cam: dict, by: float) -> dict[str, str]:
    """Changes that move the intake centreline by so many degrees and leave the exhaust's."""
    separation, advance = (float(cam[k].split()[0]) for k in ("cam.lobe_separation", "cam.advance"))
    return {"cam.lobe_separation": f"{separation + by / 2:.6g} deg", "cam.advance": f"{advance - by / 2:.6g} deg"}
