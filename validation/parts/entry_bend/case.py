"""Bend and entry losses against the handbooks as gathered in the `fluids` package.

Rennels & Hudson 2012; Miller 1990; Crane TP-410; Ito 1960; Idelchik; all as implemented by fluids (Bell, C.).
"""

from __future__ import annotations

import fluids.fittings as handbook
from validation.harness import Check, relative

from pullcast.network import losses

FD, D = 0.02, 0.04


def between(name: str, values: list[float], got: float, slack: float) -> list[Check]:
    """Two checks: not below the least and not above the largest of the handbooks, with a factor of ``slack``."""
    source = "fluids: least and largest of the handbooks"
    return [Check(f"{name}, not below", source, min(values) / slack, got, 0.0, "K", "", "min"),
            Check(f"{name}, not above", source, max(values) * slack, got, 0.0, "K", "", "max")]


def checks():
    out = []
    for angle in (30.0, 45.0, 90.0, 120.0):
        for r in (1.0, 1.5, 3.0):
            common = {"Di": D, "angle": angle, "bend_diameters": r, "fd": FD, "Re": 1e5, "roughness": 4e-6}
            books = [handbook.bend_rounded(**common, method=m) for m in ("Miller", "Crane", "Ito")]
            name = f"bend {angle:g} deg, r/d {r:g}"
            ours = losses.bend_loss(angle, r, FD)
            out.extend(between(name, books, ours, 1.1))
            same = handbook.bend_rounded(**common, method="Rennels")
            out.append(relative(name, "fluids: Rennels & Hudson 2012", same, ours, 1e-9, "K"))
    for angle in (30.0, 60.0, 90.0):
        books = [handbook.bend_miter(angle=angle, Di=D, Re=1e5, roughness=4e-6, method=m)
                 for m in ("Miller", "Crane")]
        out.extend(between(f"miter {angle:g} deg", books, losses.miter_loss(angle), 1.1))
    for r in (0.0, 0.02, 0.05, 0.1, 0.2, 0.5):
        books = [handbook.entrance_rounded(Di=D, rc=r * D, method=m)
                 for m in ("Rennels", "Crane", "Miller", "Swamee")]
        for name, function in (("entry", losses.entry_loss), ("entry by its jet", losses.entry_loss_jet)):
            out.extend(between(f"{name}, r/d {r:g}", books, function(r), 1.1))
    return out
