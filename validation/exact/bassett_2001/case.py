"""Loss coefficients of tees, wyes, mitres and a collector in steady slow flow.

Bassett, Winterbone & Pearson 2001, *Calculation of steady flow pressure loss coefficients for pipe junctions*, Proc.
IMechE C 215, 861-881: measured points of figs 7, 8, 10, 11 and 14 (the last by Ito & Imai 1973) and the formulas of
table 2; Crane TP-410 (2009) by the library ``fluids``; Idelchik 2006, section 7; Hager 1984; Mynard & Valen-Sendstad
2015 for five pipes.
"""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from pathlib import Path

import numpy as np
from fluids.fittings import bend_miter
from validation.exact.bassett_2001.tees import A, bassett, handbook, model, momentum
from validation.exact.meeting import Leg, loss, steady
from validation.harness import Check, absolute, at_most

SLOW = True
BASSETT = "Bassett, Winterbone & Pearson 2001"
SERIES = {"K4": "fed by the branch, to one run", "K5": "dividing, to the run", "K6": "dividing, to the branch",
          "K9": "two runs head on, into the branch", "K11": "joining, from the run",
          "K12": "joining, from the branch"}
GATE, OF_THEIRS = 0.15, 1.25  # see README
OF_FORMULA = ("K5", "K6")  # whose control volume is the model's


def checks() -> list[Check]:
    """Measured points, published formulas, the spread of handbooks; two pipes; five pipes."""
    return [*measured(), *formulas(), *spread(), *mitres(), *collector()]


def measured() -> list[Check]:
    """Root mean square miss of every measured series, over the largest of 1 and K."""
    series = defaultdict(list)
    with (Path(__file__).parent / "measured.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            series[row["coefficient"], float(row["angle_deg"]), float(row["psi"])].append(
                (float(row["q"]), float(row["K"])))
    rows = []
    for (which, angle, psi), points in sorted(series.items()):
        misses, theirs = [], []
        for q, k in points:
            share, got = model(which, angle, psi, round(q, 1))
            want = np.interp(share, *zip(*sorted(points), strict=True))
            misses.append((got - want) / max(1.0, abs(want)))
            theirs.append((bassett(which, angle, psi, q) - k) / max(1.0, abs(k)))
        rms, own = (float(np.sqrt(np.mean(np.square(m)))) for m in (misses, theirs))
        rows.append(at_most(f"{which} ({SERIES[which]}), {angle:g} deg, area ratio {psi:g}: rms miss of measured K",
                            f"{BASSETT}, measured points", max(GATE, OF_THEIRS * own), rms,
                            note=f"their own formula misses by {own:.3f}"))
    return rows


def formulas() -> list[Check]:
    """Where the published control volume is the model's, the numbers are to be the same."""
    rows = []
    for which in OF_FORMULA:
        for angle in (45.0, 90.0):
            worst = 0.0
            for q in (0.2, 0.5, 0.8):
                share, got = model(which, angle, 1.0, q)
                worst = max(worst, abs(got - bassett(which, angle, 1.0, share)))
            rows.append(at_most(f"{which} ({SERIES[which]}), {angle:g} deg: worst distance from the formula",
                                f"{BASSETT}, table 2", 0.03, worst))
    return rows


def spread() -> list[Check]:
    """How far outside of everything published the model lies, at worst."""
    rows = []
    for which in ("K5", "K6", "K11", "K12"):
        for angle, psi in ((45.0, 1.0), (90.0, 1.0), (45.0, 3.0)):
            outside, wide = 0.0, []
            for q in (0.2, 0.5, 0.8):
                share, got = model(which, angle, psi, q)
                known = [bassett(which, angle, psi, share), *handbook(which, angle, psi, share)]
                if which in ("K11", "K12"):
                    known.append(momentum(which, angle, psi, share))
                scale = max(1.0, max(abs(k) for k in known))
                outside = max(outside, (min(known) - got) / scale, (got - max(known)) / scale)
                wide.append((max(known) - min(known)) / scale)
            rows.append(at_most(f"{which} ({SERIES[which]}), {angle:g} deg, area ratio {psi:g}: outside what is "
                                "published, at worst", "Bassett et al., Crane, Idelchik, momentum theorem", 0.1,
                                outside, note=f"the published values differ by {max(wide):.2f}"))
    return rows


def mitres() -> list[Check]:
    """Two pipes at an angle: the sharp-cornered bend."""
    rows = []
    for angle in (30.0, 45.0, 60.0, 90.0):
        got = loss(steady({"in": Leg(A, 180.0, 1.0), "out": Leg(A, angle, -1.0)}, A), "in", "out", "in")
        known = [float(bend_miter(angle, Di=0.036, Re=1e5, method=m)) for m in ("Rennels", "Crane", "Blevins")]
        rows.append(absolute(f"two pipes at {angle:g} deg", "mean of Rennels, Crane and Blevins, by fluids",
                             float(np.mean(known)), got, 0.1 + float(np.ptp(known)) / 2,
                             note=", ".join(f"{k:.2f}" for k in known)))
    return rows


def collector() -> list[Check]:
    """Four into one of twice the area at 10 deg half angle: one, two and all four flowing."""
    fan = (-10.0, -10.0 / 3, 10.0 / 3, 10.0)
    rows = []
    for flowing in ((0,), (0, 3), (1, 2)):
        legs = {f"primary {i}": Leg(A, 180.0 + g, 1.0 / len(flowing) if i in flowing else 0.0)
                for i, g in enumerate(fan)}
        met = steady(legs | {"collector": Leg(2 * A, 0.0, -1.0)}, A)
        got = loss(met, f"primary {flowing[0]}", "collector", "collector")
        u = 2.0 / len(flowing)  # of a jet over that of the collector
        cosine = math.cos(0.75 * math.radians(abs(fan[flowing[0]])))
        rows.append(absolute(f"five pipes, primaries {' and '.join(str(i + 1) for i in flowing)} blow: K to the "
                             "collector", "Mynard & Valen-Sendstad 2015, eqs 16 and 30", u**2 - 2 * u * cosine + 1,
                             got, 0.05))
    legs = {f"primary {i}": Leg(A, 180.0 + g, 0.25) for i, g in enumerate(fan)}
    met = steady(legs | {"collector": Leg(2 * A, 0.0, -1.0)}, A)
    got = float(np.mean([loss(met, f"primary {i}", "collector", "collector") for i in range(4)]))
    rows.append(absolute("five pipes, all blow: K to the collector",
                         "conical contraction of that slope and area ratio, Crane TP-410 (2009)",
                         0.8 * math.sin(math.radians(10.0)) * (1 - 0.5), got, 0.05))
    return rows
