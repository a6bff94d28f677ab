"""Darcy friction factor against `fluids` and against the Colebrook equation itself.

Colebrook 1939; Haaland 1983; Churchill 1977; exact Colebrook by the Clamond 2009 solution, as implemented by fluids.
"""

from __future__ import annotations

import fluids.friction as reference
from validation.harness import relative

from pullcast.network import losses

CASES = ((1e5, 1e-4), (2e4, 0.002), (1e6, 1e-5), (5e3, 0.01), (1e7, 0.0))


def checks():
    out = []
    for re, rough in CASES:
        name = f"Re {re:g}, e/D {rough:g}"
        exact = reference.friction_factor(Re=re, eD=rough, Method="Clamond")
        out.append(relative(f"Colebrook, {name}", "fluids: Clamond 2009", exact, losses.colebrook(re, rough), 1e-9))
        out.append(relative(f"Haaland, {name}", "fluids: Clamond 2009", exact, losses.haaland(re, rough), 0.02))
        wave = float(losses.churchill(re, rough))
        out.append(relative(f"Churchill, {name}", "fluids: Clamond 2009", exact, wave, 0.04))
    for re in (500.0, 1500.0):
        out.append(relative(f"laminar, Re {re:g}", "64/Re", 64 / re, float(losses.churchill(re, 1e-3)), 1e-3))
    return out
