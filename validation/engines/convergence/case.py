"""The error bar of the default settings, on every shipped engine.

Two-grid estimates after Richardson 1911; Roache 1998, Verification and Validation in Computational Science and
Engineering, ch. 5 (from memory). The limit, 0.3 % of torque, is what the project promises of its defaults.
"""

from __future__ import annotations

import numpy as np
from validation.engines.runs import CONFIGS
from validation.harness import Check, at_most

SLOW = True
SOURCE = "half cells, half steps, a tenth of the tolerance"
ENGINES = {"hillclimb_v8": (2000, 4500, 6250), "club_four": (2000, 4500, 7000), "touring_six": (2000, 4500, 6500),
           "rally_v6": (2500, 5000, 7500), "vintage_twin": (2000, 3500, 5500), "lab_single": (1500, 2500, 3500)}
PROMISED = (0.3, 0.3, 0.1)  # %: cells, steps, cycles


def checks() -> list[Check]:
    """Mean over speeds of each change of torque when one setting is made finer."""
    from pullcast.answers.convergence import error_bar
    from pullcast.card import read_engine

    out = []
    for name, speeds in ENGINES.items():
        bar = error_bar(read_engine(CONFIGS / "engines" / f"{name}.toml"), speeds, workers=1)
        plain = {"cells": bar.grid / 2, "steps": bar.time / 2, "cycles": bar.cycles}
        for (kind, change), limit in zip(plain.items(), PROMISED, strict=True):
            share = 100 * np.abs(change) / bar.torque
            note = "by speed " + ", ".join(f"{x:.2f}" for x in share)
            out.append(at_most(f"{name}: torque changed by finer {kind}", SOURCE, limit,
                               float(np.nanmean(share)), "%", note))
    return out
