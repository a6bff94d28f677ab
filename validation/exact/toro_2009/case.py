"""Toro's tests 2, 3 and 5: near vacuum, strong shock, colliding shocks (Toro 2009, table 4.1)."""

import numpy as np
from validation.exact.tubes import mean_errors, run, tube_checks
from validation.harness import Check, absolute, at_least, at_most
from validation.reference.riemann import TORO_2, TORO_3, TORO_5, star

SOURCE = "Toro 2009, table 4.1; exact: Toro ch. 4"


def near_vacuum() -> list[Check]:
    _, got, exact = run(TORO_2, 200, pressure=1e6)
    s = star(*TORO_2[:2])
    middle = got.shape[1] // 2
    errors = mean_errors(got, exact)
    rows = [
        absolute("Toro 2: p* over the initial 0.4", SOURCE, s.p / 0.4, got[2, middle - 1 : middle + 1].mean() / 0.4,
                 0.01),
        absolute("Toro 2: rho* over the initial 1", SOURCE, s.rho_left, got[0, middle - 1 : middle + 1].mean(), 0.02),
        at_least("Toro 2: lowest pressure stays positive", SOURCE, 0.0, got[2].min()),
        at_least("Toro 2: lowest density stays positive", SOURCE, 0.0, got[0].min()),
    ]
    rows += [at_most(f"Toro 2: mean error of {q} over its largest value, 200 cells", SOURCE, 0.02, e)
             for q, e in zip(("density", "velocity", "pressure"), errors, strict=True)]
    coarse = mean_errors(*run(TORO_2, 100, pressure=1e6)[1:])[0]
    fine = mean_errors(*run(TORO_2, 400, pressure=1e6)[1:])[0]
    return [*rows, at_least("Toro 2: observed order of the density error", SOURCE, 0.6, np.log2(coarse / fine) / 2)]


def checks() -> list[Check]:
    strong = tube_checks("Toro 3", SOURCE, TORO_3, cells=400, within=0.01, mean=0.015, order=0.7)
    collide = tube_checks("Toro 5", SOURCE, TORO_5, cells=400, within=0.01, mean=0.015, order=0.6)
    return [*near_vacuum(), *strong, *collide]
