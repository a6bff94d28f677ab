"""Closed-throttle torque of a 2.0 L four as an upper bound of its friction.

Full-load and closed-throttle torque of a 2.0 L four (83.5 x 91.2 mm, ratio 13.0 (from memory)) published by the U.S.
Environmental Protection Agency, read in a third-party copy of public-domain data. What turns the engine with the
throttle closed is friction, pumping against the throttle and accessories: friction alone must be less.
"""

from __future__ import annotations

import math

from validation.harness import Check, at_least, at_most

SOURCE = "EPA closed-throttle torque, 2.0 L four (third-party copy)"
TORQUE = {1400.0: -20.65, 4448.0: -34.96, 6500.0: -42.71}  # rpm: N m
BORE, STROKE, RATIO = 0.0835, 0.0912, 13.0
MOTORED_PEAK = 9e5  # Pa: 0.3 bar in the manifold, compressed 13 to 1 at n 1.3
MANIFOLD = 0.3e5  # Pa


def checks() -> list[Check]:
    """FMEP of the correlations below the bound; not below a third of it (else pumping would be most of it)."""
    from pullcast.card.engine import Block
    from pullcast.network.friction import fmep

    block = Block(4, BORE, STROKE, 0.150, RATIO, (1, 3, 4, 2), (180.0,) * 4, ((1, 2, 3, 4),))
    out = []
    for rpm, torque in TORQUE.items():
        bound = -torque * 4 * math.pi / block.displacement / 1e5
        for model in ("chen_flynn", "patton"):
            got = fmep(model, block=block, rpm=rpm, p_max=MOTORED_PEAK, p_intake=MANIFOLD) / 1e5
            out += [at_most(f"FMEP by {model}, {rpm:.0f} rpm", SOURCE, bound, got, "bar"),
                    at_least(f"FMEP by {model}, {rpm:.0f} rpm, over the bound", SOURCE, 1 / 3, got / bound)]
    rpm, torque = next(iter(TORQUE.items()))
    bound = -torque * 4 * math.pi / block.displacement / 1e5
    got = fmep("barnes_moss", block=block, rpm=rpm, p_max=MOTORED_PEAK, p_intake=MANIFOLD) / 1e5
    out.append(at_most(f"FMEP by barnes_moss, {rpm:.0f} rpm", SOURCE, bound, got, "bar",
                       "beyond 3000 rpm this fit to engines of 1975, pumping included, is above the bound"))
    return out
