"""Lax's shock tube: Lax 1954, Comm. Pure Appl. Math. 7, 159-193; exact solution by Toro ch. 4."""

from validation.exact.tubes import tube_checks
from validation.harness import Check
from validation.reference.riemann import LAX


def checks() -> list[Check]:
    return tube_checks("Lax", "Lax 1954; exact: Toro ch. 4", LAX, cells=200, within=0.005, mean=0.015, order=0.7)
