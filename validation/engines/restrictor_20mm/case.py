"""A four of 600 cc behind a 20 mm restrictor: the choked ceiling and the plenum.

Ceiling: choked isentropic flow of air (Heywood 1988, app. C), computed here. Trend: tests at the U.S. Naval Academy
(abstract): plenum from 1.2 to 6 L raised power from 54 to 63 kW, most of it beyond 4.8 L.
"""

from __future__ import annotations

import math
from pathlib import Path

from validation.engines.runs import run
from validation.harness import Check, absolute, at_least, at_most

CARD = Path(__file__).parent / "card.toml"
SPEEDS = (8000.0, 9000.0, 10000.0, 11000.0)
ABSTRACT = "U.S. Naval Academy tests, abstract"


def checks() -> list[Check]:
    """Ceiling of air flow; gain of mean power from the small to the large plenum."""
    runs = {v: run(CARD, SPEEDS, {"intake.plenum.volume": f"{v} L"}) for v in (1.2, 4.8, 6.0)}
    ceiling = choked(0.020, 101325.0, 298.15)
    most = max(float(d["airflow"].values.max()) for d in runs.values())
    small, large = (float(runs[v]["power"].values.mean()) for v in (1.2, 6.0))
    return [absolute("choked flow of 20 mm", "Heywood 1988, app. C", 0.07451, ceiling, 1e-5, "kg/s"),
            at_most("air flow, any plenum, 8000 to 11000 rpm", "choked flow", ceiling, most, "kg/s"),
            at_least("air flow at the best speed over the ceiling", "restrictor rules the power: 0.85", 0.85,
                     most / ceiling),
            at_least("mean power gained from 1.2 to 6 L", ABSTRACT, 0.0, 100 * (large / small - 1), "%",
                     note="measured +17 % at a speed that is not stated"),
            absolute("peak power with 6 L", ABSTRACT, 63.0, float(runs[6.0]["power"].values.max()) / 1e3, 8.0, "kW")]


def choked(diameter: float, pressure: float, temperature: float) -> float:
    """Choked flow, kg/s, of air (gamma 1.4, R 287.05) through a throat of ``diameter`` (m)."""
    g = 1.4
    return (math.pi / 4 * diameter**2 * pressure * math.sqrt(g / (287.05 * temperature))
            * (2 / (g + 1)) ** ((g + 1) / (2 * (g - 1))))
