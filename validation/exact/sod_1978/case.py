"""Sod's shock tube: Sod 1978, J. Comput. Phys. 27, 1-31; exact solution by Toro ch. 4."""

from validation.exact.tubes import tube_checks
from validation.harness import Check
from validation.reference.riemann import SOD


def checks() -> list[Check]:
    return tube_checks("Sod", "Sod 1978; exact: Toro ch. 4", SOD, cells=200, within=0.005, mean=0.01, order=0.7)
