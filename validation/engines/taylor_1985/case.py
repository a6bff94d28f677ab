"""Volumetric efficiency against the inlet Mach index: Taylor 1985, vol. 1, ch. 6 (from memory).

C. F. Taylor, The Internal-Combustion Engine in Theory and Practice, vol. 1, 2nd ed. 1985, ch. 6: with short pipes the
volumetric efficiency of an engine depends on Z = piston area x mean piston speed / (mean effective inlet area x sound
speed) alone; it is flat to about Z = 0.5 and falls beyond about 0.6, whichever of speed, bore or valve makes Z.
"""

from __future__ import annotations

import numpy as np
from validation.engines.runs import TEST_SINGLE, run
from validation.harness import Check, absolute, at_least, at_most

SOURCE = "Taylor 1985, vol. 1, ch. 6 (from memory)"
SPEEDS = np.arange(800.0, 5001.0, 400.0)
LIFTS = ("6.05 mm", "4.2 mm")


def checks() -> list[Check]:
    """Flat, then falling; and the same for two valve lifts."""
    curves = [_over_z({"cam.intake.valve_lift": lift}) for lift in LIFTS]
    z = np.linspace(0.25, 0.5, 11)
    out = []
    for lift, (at, ve) in zip(LIFTS, curves, strict=True):
        flat = np.interp(z, at, ve)
        level = flat.mean()
        spread = 100 * (flat.max() - flat.min()) / level
        at_06, at_08, at_10 = (float(np.interp(x, at, ve) / level) for x in (0.6, 0.8, 1.0))
        out += [at_most(f"VE varies over Z 0.25 to 0.5, lift {lift}", SOURCE, 3.0, spread, "%"),
                at_least(f"VE at Z 0.6 over its flat level, lift {lift}", SOURCE, 0.95, at_06),
                at_most(f"VE at Z 0.8 over its flat level, lift {lift}", SOURCE, 0.95, at_08),
                at_most(f"VE at Z 1.0 over its flat level, lift {lift}", SOURCE, 0.88, at_10)]
    for value in (0.5, 0.8, 1.0):
        one, other = (float(np.interp(value, at, ve)) for at, ve in curves)
        out.append(absolute(f"VE at Z {value:g}: one curve for both lifts", SOURCE, one, other, 0.05))
    return out


def _over_z(changes: dict[str, str]) -> tuple[np.ndarray, np.ndarray]:
    """Inlet Mach index and volumetric efficiency over speed."""
    d = run(TEST_SINGLE, SPEEDS, changes)
    return d["inlet_mach_index"].values, d["volumetric_efficiency"].values
