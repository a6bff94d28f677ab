"""Cam timing identities, a flat tappet's limit, and the events of a standard octane-rating engine.

Identities of the trade (exact by definition); CFR engine geometry and timing of ASTM D2699/D2700 (from memory).
"""

from __future__ import annotations

import math

from validation.harness import absolute, relative

from pullcast.card.engine import Duration, Lobe
from pullcast.network.lift import flat_tappet_velocity_limit, valve_lift

INCH = 0.0254
IDENTITY = "definition of the cam card's terms"
CFR = "ASTM D2699/D2700 engine, events from memory"


def lobe(duration: float, centreline: float, seat: float) -> Lobe:
    """A hydraulic lobe at 1.6 rocker ratio."""
    return Lobe(0.500 * INCH, (Duration(0.006 * INCH, seat), Duration(0.050 * INCH, duration)), centreline, 1.6)


def checks():
    di, de, icl, ecl = 224.0, 231.0, 106.0, 114.0
    level = 0.050 * INCH * 1.6
    ivo, ivc = valve_lift(lobe(di, icl, 270.0), "intake").events_at(level)
    evo, evc = valve_lift(lobe(de, ecl, 280.0), "exhaust").events_at(level)
    before, after = 720.0 - ivo, ivc - 720.0 - 180.0  # IVO before TDC, IVC after BDC
    late, early = evc - 720.0, 540.0 - evo  # EVC after TDC, EVO before BDC
    out = [
        absolute("overlap at 0.050 in", IDENTITY, (di + de) / 2 - (icl + ecl), before + late, 0.2, "deg"),
        absolute("IVO + IVC + 180", IDENTITY, di, before + after + 180.0, 0.2, "deg"),
        absolute("EVO + EVC + 180", IDENTITY, de, early + late + 180.0, 0.2, "deg"),
        absolute("intake centreline D/2 - IVO", IDENTITY, icl, di / 2 - before, 0.2, "deg"),
        absolute("exhaust centreline D/2 - EVC", IDENTITY, ecl, de / 2 - late, 0.2, "deg"),
        relative("flat tappet of 0.842 in: velocity limit", "contact geometry, r pi/180", 0.842 / 2 * math.pi / 180,
                 flat_tappet_velocity_limit(0.842 * INCH) / INCH, 1e-12, "in/cam deg"),
    ]
    lift = 0.238 * INCH
    intake = valve_lift(Lobe(lift, (Duration(0.0, -10.0 + 34.0 + 180.0, "valve"),), 102.0 + 10.0), "intake")
    exhaust = valve_lift(Lobe(lift, (Duration(0.0, 40.0 + 15.0 + 180.0, "valve"),), 117.5 - 15.0), "exhaust")
    for name, expected, got in (("IVO", 10.0, intake.opening_deg), ("IVC", 180.0 + 34.0, intake.closing_deg),
                                ("EVO", 540.0 - 40.0, exhaust.opening_deg), ("EVC", 15.0, exhaust.closing_deg)):
        out.append(absolute(f"octane-rating engine, {name}", CFR, expected, got, 0.5, "deg after overlap TDC"))
    out.append(relative("octane-rating engine, lift", CFR, 0.238, intake.max_lift / INCH, 1e-6, "in"))
    return out
