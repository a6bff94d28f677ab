"""What about its geometry makes the poor intake of a quoted V8 poor: common practice, no source.

421 hp and 409 lb-ft against 479 and 463 with the better intake. The family over plausible ranges (assumptions) by the
lumped model; what each single change does over speed, at the end of its range, by waves.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from validation.harness import Check, absolute, at_least, at_most

from pullcast.answers.geometry_family import CLEAR, Range, geometry_family
from pullcast.answers.performance import performance
from pullcast.card.reading import read_engine, with_changes
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics

SLOW = True
POWER, TORQUE = 421.0 / 479.0, 409.0 / 463.0
SOURCE = "common practice, no source"
CARD = Path(__file__).parents[1] / "trade_v8" / "card.toml"
SPEEDS = (3000, 3600, 4300, 5000, 5600, 6200, 6800)
RANGES = (
    Range("intake.runner.length", 90, 250, "mm", 165.0), Range("intake.runner.area", 10.5, 17.0, "cm2", 14.2),
    Range("intake.runner.entry_loss", 0.05, 0.6, "", 0.2), Range("intake.runner.bend_loss", 0.0, 2.5, "", 0.15),
    Range("intake.throttle.diameter", 32, 46, "mm", 44.0), Range("day.temperature", 15, 45, "degC", 25.0),
)
SHORT, SMALL, HOT = "intake.runner.length=90 mm", "intake.runner.area=10.5 cm2", "day.temperature=45 degC"
PURE = (SHORT, SMALL, "intake.runner.length=250 mm", "intake.runner.entry_loss=0.6", "intake.runner.bend_loss=2.5",
        "intake.throttle.diameter=32 mm")


def _torque(engine) -> np.ndarray:
    """Torque (m,) N m at SPEEDS, by waves."""
    points = run([Job(engine, float(r), "wave", Numerics()) for r in SPEEDS], workers=1).results
    return np.array([performance(engine, p)["torque"] for p in points])


def _changed(change: str):
    """The engine with one change; warmed air keeps its water (relative humidity halves every 11 K)."""
    key, value = change.split("=")
    text = float(value) if " " not in value else value
    if change != HOT:
        return with_changes(CARD, {key: text})
    day = read_engine(CARD).day
    warm = float(value.split()[0]) + 273.15 - day.temperature
    return with_changes(CARD, {key: text, "day.humidity": f"{100 * day.humidity * 0.5 ** (warm / 11.0):.3f} %"})


def checks() -> list[Check]:
    """The family meets both ratios, a dead cylinder does not; single changes by waves lose where they should."""
    found = geometry_family(CARD, RANGES, POWER, TORQUE, samples=128, speeds=SPEEDS[1:], fidelity="lumped")
    told = "; ".join(line.strip() for line in repr(found).splitlines()[1:7])
    dead = next(a for a in found.alone if a.cause == "a dead cylinder")
    base = _torque(read_engine(CARD))
    ratio = {c: _torque(_changed(c)) / base for c in (*PURE, HOT)}
    rpm = np.array(SPEEDS) * math.pi / 30
    power = {c: (r * base * rpm).max() / (base * rpm).max() for c, r in ratio.items()}
    torque = {c: (r * base).max() / base.max() for c, r in ratio.items()}
    low = {c: 100 * (1 - r[0]) for c, r in ratio.items()}
    worst = max(PURE, key=low.get)
    hot = ratio[HOT]
    flat = {c: (1.0 - r[0]) / (1.0 - r.mean()) for c, r in ratio.items() if r.mean() < 0.99}
    flattest = max((c for c in flat if c != HOT), key=flat.get)
    return [
        absolute("peak power ratio of the family", SOURCE, POWER, found.explained[0], 0.015, note=told),
        absolute("peak torque ratio of the family", SOURCE, TORQUE, found.explained[1], 0.015),
        at_least("a dead cylinder alone: standard deviations off", SOURCE, CLEAR, dead.off,
                 note=f"{100 * (dead.power - 1):+.1f} % flat"),
        at_least("runner shortened alone (90 mm): power ratio stays above the quoted one by", SOURCE, 0.02,
                 power[SHORT] - POWER, note=_both(power[SHORT], torque[SHORT])),
        at_least("section alone (10.5 cm2): torque ratio stays above the quoted one by", SOURCE, 0.02,
                 torque[SMALL] - TORQUE, note=_both(power[SMALL], torque[SMALL])),
        absolute(f"hotter air alone (+20 K): ratio at {SPEEDS[0]} rpm and at {SPEEDS[-1]} rpm", SOURCE, hot[0],
                 hot[-1], 0.015,
                 note=f"over all speeds {100 * (hot.min() - 1):+.1f} to {100 * (hot.max() - 1):+.1f} %"),
        at_least(f"the same: loss at {SPEEDS[0]} rpm over the mean loss, less that of any pure geometry that loses "
                 "1 % or more on average", SOURCE, 0.5, flat[HOT] - flat[flattest],
                 note=f"{flat[HOT]:.2f} against {flat[flattest]:.2f} ({flattest})"),
        at_most(f"largest loss of any pure geometry at {SPEEDS[0]} rpm, half the quoted torque loss", SOURCE,
                50.0 * (1.0 - TORQUE), low[worst], "%", note=f"{worst}; at {SPEEDS[-1]} rpm "
                f"{100 * (1 - ratio[worst][-1]):.1f} %"),
    ]


def _both(power: float, torque: float) -> str:
    return f"power {100 * (power - 1):+.1f} %, torque {100 * (torque - 1):+.1f} %"
