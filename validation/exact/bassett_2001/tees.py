"""Tees and wyes: the model's loss coefficients, and the published formulas for them.

The run has the area of the common pipe, the branch that area over ``psi``; it leaves the run's continuation by the
angle. q is the share of the flow in the leg the coefficient is about (K4, K5, K6, K9, K11, K12 as in Bassett et al.).
"""

from __future__ import annotations

import math
from functools import cache

import fluids.fittings as crane
from validation.exact.meeting import Leg, loss, steady

A = 1e-3  # m2


@cache
def model(which: str, angle: float, psi: float, q: float) -> tuple[float, float]:
    """The share that flowed and the loss coefficient the junction made."""
    q = min(max(q, 0.01), 0.99)
    branch = A / psi
    if which in ("K5", "K6"):  # common pipe divides into run and branch
        out = q if which == "K6" else 1 - q
        legs = {"common": Leg(A, 180.0, 1.0), "run": Leg(A, 0.0, out - 1), "branch": Leg(branch, angle, -out)}
        leg, way = ("branch", ("common", "branch")) if which == "K6" else ("run", ("common", "run"))
    elif which in ("K11", "K12"):  # run and branch join
        into = q if which == "K12" else 1 - q
        legs = {"common": Leg(A, 0.0, -1.0), "run": Leg(A, 180.0, 1 - into),
                "branch": Leg(branch, 180.0 - angle, into)}
        leg, way = ("branch", ("branch", "common")) if which == "K12" else ("run", ("run", "common"))
    else:  # the branch is the common pipe: K4 divides into the two runs, K9 joins them head on
        sign = 1.0 if which == "K4" else -1.0
        legs = {"common": Leg(branch, 180.0 - angle, sign), "run": Leg(A, 0.0, -sign * q),
                "other": Leg(A, 180.0, -sign * (1 - q))}
        leg, way = "run", (("common", "run") if which == "K4" else ("run", "common"))
    met = steady(legs, min(A, branch) if which in ("K4", "K9") else A)
    return abs(met[leg].flow / met["common"].flow), loss(met, *way, "common")


def bassett(which: str, angle: float, psi: float, q: float) -> float:
    """Bassett, Winterbone & Pearson 2001, table 2 with the angle of eqs 33 and 35."""
    c = math.cos(0.75 * math.radians(angle))
    if which == "K5":
        return q**2 - 1.5 * q + 0.5
    if which == "K6":
        return 1 + (q * psi) ** 2 - 2 * q * psi * c
    if which == "K4":
        return 1 + (q / psi) ** 2 - 2 * q / psi * c
    if which == "K9":
        away = math.cos(0.75 * (math.pi - math.radians(angle)))
        return 1 + (q / psi) ** 2 - 2 / psi * (away * q**2 + c * (1 - q) ** 2)
    into = q if which == "K12" else 1 - q
    run = 1 - into
    balance = 2 * psi / (psi + 0.5 * c) * (1 - run**2 - into**2 * psi * c)
    return balance + ((into * psi) ** 2 if which == "K12" else run**2) - 1


def handbook(which: str, angle: float, psi: float, q: float) -> list[float]:
    """Other published values: Crane TP-410 (2009) as the library ``fluids`` has it; Idelchik 2006, section 7.

    Idelchik's equations by a third party's reading (pp. 416-418): branch A (1 + (q psi)^2 - 2 (1-q)^2 -
    2 psi q^2 cos), A = 1 to an area ratio of .35, else .9 (1-q) to q .4, then .55.
    """
    if which in ("K4", "K9"):
        return []
    branch = q if which in ("K6", "K12") else 1 - q
    given = (1.0, psi**-0.5, 1 - branch, branch)
    name = {"K6": "branch_diverging", "K5": "run_diverging", "K12": "branch_converging",
            "K11": "run_converging"}[which]
    values = [getattr(crane, f"K_{name}_Crane")(*given, angle=angle)]
    if which == "K12":
        A_ = 1.0 if psi**-1 <= 0.35 else 0.9 * (1 - q) if q <= 0.4 else 0.55
        values.append(A_ * (1 + (q * psi) ** 2 - 2 * (1 - q) ** 2
                            - 2 * psi * q**2 * math.cos(math.radians(angle))))
    return values


def momentum(which: str, angle: float, psi: float, q: float) -> float:
    """Joining flow by the plain momentum theorem (Favre 1937, Vazsonyi 1944, from memory): the angle of the pipes."""
    into = q if which == "K12" else 1 - q
    along = (1 - into) ** 2 + psi * into**2 * math.cos(math.radians(angle))
    return 1 - 2 * along + ((into * psi) ** 2 if which == "K12" else (1 - into) ** 2)
