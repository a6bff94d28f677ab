"""Full-load torque of a 1.9 L four with fixed cams, as a blind band.

Reilly et al. 1991, SAE 910676, figure 4, as read by the U.S. National Renewable Energy Laboratory for an openly
released file of engine data: full-load mean effective pressures of 8.6, 9.4, 10.15, 10.6, 10.4, 10.2, 10.25, 10.6,
10.55, 10.3, 9.7 bar from 1000 to 6000 rpm by 500, turned into torque there by 15.6 N m a bar, so that they meet the
two numbers of the paper's text: 165 N m at 4800 rpm, 95 kW at 6000 rpm. Bore, stroke and ratio from memory.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from validation.engines.sampling import FLOW, band, draws
from validation.harness import Check, at_least, at_most

SLOW = True
SOURCE = "Reilly et al. 1991, SAE 910676, fig. 4 (third-party reading)"
CARD = Path(__file__).parent / "card.toml"
SPEEDS = tuple(float(s) for s in range(1000, 6001, 500))
TORQUE = 15.6 * np.array([8.6, 9.4, 10.15, 10.6, 10.4, 10.2, 10.25, 10.6, 10.55, 10.3, 9.7])  # N m
COUNT = 32
LATE = 5.0  # deg, range of CA50 about the card's schedule
SCHEDULE = (15.0, 12.0, 10.0, 9.0)


def checks() -> list[Check]:
    """Share of points inside the 90 % band; how wide the band is; how many engines ran; level of the median."""
    values, lost = torques()
    low, middle, high = np.quantile(values, (0.05, 0.5, 0.95), axis=0)
    inside = (low <= TORQUE) & (high >= TORQUE)
    points = "; ".join(f"{s:.0f} rpm {b:.0f} in {a:.0f} to {c:.0f} (median {m:.0f})"
                       for s, b, a, c, m in zip(SPEEDS, TORQUE, low, high, middle, strict=True))
    width = float(np.mean((high - low) / (2 * middle)))
    return [at_least("measured torque inside the 90 % band", SOURCE, 0.8, float(inside.mean()),
                     note=points),
            at_most("half width of the band over its median", "a band of a third would say nothing", 0.33, width),
            at_least("drawn engines that ran", f"of {COUNT}; first lost: {lost[0] if lost else 'none'}", 0.9 * COUNT,
                     float(len(values)))]


def torques() -> tuple[np.ndarray, list[str]]:
    """Torque (N m) of every drawn engine at every speed, and why others did not run."""
    sets = []
    for s in draws(CARD, COUNT, more={"late": (-LATE, 0.0, LATE, ""), "flow": FLOW}):
        late = s.pop("late")
        sets.append(s | {"burn.ca50_at_speeds": " ".join(f"{b + late:.3f}" for b in SCHEDULE) + " deg"})
    return band(CARD, SPEEDS, sets, lambda d: d["torque"].values)
