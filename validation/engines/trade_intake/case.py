"""A poor intake on the quoted 5.7 L V8, peaks only: common practice, no source.

421 hp and 409 lb-ft against 479 and 463 with the better intake. Nothing of the poor intake's geometry is known:
plausible ranges (assumptions) give the family that explains both peaks; single causes stand beside it.
"""

from __future__ import annotations

from pathlib import Path

from validation.harness import Check, absolute, at_least

from pullcast.answers.geometry_family import Range, geometry_family

SLOW = True
POWER, TORQUE = 421.0 / 479.0, 409.0 / 463.0
SOURCE = "common practice, no source"
RANGES = (
    Range("intake.runner.length", 90, 250, "mm", 165.0), Range("intake.runner.area", 10.5, 17.0, "cm2", 14.2),
    Range("intake.runner.entry_loss", 0.05, 0.6, "", 0.2), Range("intake.runner.bend_loss", 0.0, 2.5, "", 0.15),
    Range("intake.throttle.diameter", 32, 46, "mm", 44.0), Range("day.temperature", 15, 45, "degC", 25.0),
)


def checks() -> list[Check]:
    """The family meets both ratios; no single cause does."""
    card = Path(__file__).parents[1] / "trade_v8" / "card.toml"
    found = geometry_family(card, RANGES, POWER, TORQUE, samples=128,
                            speeds=[3600, 4300, 5000, 5600, 6200, 6800])
    power, torque = found.explained
    note = "; ".join(line.strip() for line in repr(found).splitlines()[1:7])
    rows = [
        absolute("peak power ratio of the family", SOURCE, POWER, power, 0.02, note=note),
        absolute("peak torque ratio of the family", SOURCE, TORQUE, torque, 0.02),
    ]
    rows += [at_least(f"{a.cause} alone ({a.setting}): standard deviations off", SOURCE, 2.5, a.off,
                      note=f"power {100 * (a.power - 1):+.1f} %, torque {100 * (a.torque - 1):+.1f} %")
             for a in found.alone]
    return rows
