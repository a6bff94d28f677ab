"""Exhaust to inlet flow capacity: Eppes, Livengood & Taylor 1947, NACA TN 1365.

J. V. D. Eppes, J. C. Livengood, C. F. Taylor, The effect of changing the ratio of exhaust-valve flow capacity to
inlet-valve flow capacity on volumetric efficiency and output of a single-cylinder engine, NACA TN 1365 (1947),
summary: with exhaust pressure equal to inlet pressure the engine did best at ratios near unity, within the range of
speeds used.
"""

from __future__ import annotations

import math

import numpy as np
from validation.engines.runs import TEST_SINGLE, run
from validation.harness import Check, absolute, at_most

SOURCE = "NACA TN 1365, summary"
DIAMETERS = 0.067  # m, sum of both valves
THROAT, LIFT, PORT_AREA = 0.875, 0.173, 0.79  # throat and lift over diameter; port over valve area
SPEEDS = (1800.0, 2400.0)
RATIOS = (0.75, 0.85, 0.95, 1.05, 1.15)  # exhaust over intake valve diameter


def checks() -> list[Check]:
    """Ratio of best net IMEP at two speeds; what unity costs."""
    flow, imep = zip(*(_at(k) for k in RATIOS), strict=True)
    out = []
    for i, rpm in enumerate(SPEEDS):
        fit = np.polynomial.Polynomial.fit(flow, [row[i] for row in imep], 3)
        fine = np.linspace(min(flow), max(flow), 400)
        best = float(fine[np.argmax(fit(fine))])
        out += [absolute(f"flow capacity ratio of best IMEP, {rpm:.0f} rpm", SOURCE, 1.0, best, 0.3),
                at_most(f"IMEP lost at ratio 1, {rpm:.0f} rpm", SOURCE, 2.0, 100 * (1 - fit(1.0) / fit(best)), "%")]
    return out


def _at(k: float) -> tuple[float, np.ndarray]:
    """Flow capacity ratio (mean effective areas while open) and net IMEP (Pa) at ``SPEEDS``."""
    from pullcast.card import with_changes
    from pullcast.network.cylinders import valve_areas

    changes: dict[str, str] = {}
    for side, d in (("intake", DIAMETERS / (1 + k)), ("exhaust", DIAMETERS * k / (1 + k))):
        changes |= {f"head.{side}.valve_diameter": f"{1e3 * d:.4f} mm",
                    f"head.{side}.throat_diameter": f"{1e3 * THROAT * d:.4f} mm",
                    f"head.{side}.port_area": f"{PORT_AREA * math.pi / 4 * d * d * 1e4:.5f} cm2",
                    f"cam.{side}.valve_lift": f"{1e3 * LIFT * d:.4f} mm"}
        pipe = "intake.pipe.0.diameter" if side == "intake" else "exhaust.primary.id"
        changes[pipe] = f"{1e3 * math.sqrt(PORT_AREA) * d:.4f} mm"
    areas = valve_areas(with_changes(TEST_SINGLE, changes), SPEEDS[0])[0]
    inlet, outlet = (a[a > 1e-8].mean() for a in areas)
    return float(outlet / inlet), run(TEST_SINGLE, SPEEDS, changes)["imep"].values
