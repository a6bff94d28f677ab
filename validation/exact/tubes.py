"""Shock tubes on the solver: scaled runs of Riemann problems, errors and plateaus."""

from __future__ import annotations

import numpy as np
from validation.exact.rig import Rig, pipe
from validation.harness import Check, at_least, at_most, relative
from validation.reference import riemann

RHO = 1.0  # kg/m3, scale of density


def run(case: tuple, cells: int, pressure: float = 1e5,
        half: float = 0.5) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """x, solver and exact (3, n) rho, u, p of a Riemann problem at its time, all in the problem's own units.

    Both halves are prolonged by one unit so that nothing returns from the closed ends.
    """
    left, right, t = case
    speed = np.sqrt(pressure / RHO)
    rig = Rig(pipe("tube", 2 * half + 2, 1e-3), cell=2 * half / cells)
    x = rig.x("tube") - half - 1
    s = np.where(x < 0, np.array(left)[:, None], np.array(right)[:, None])
    rig.fill_rho("tube", s[0] * RHO, s[1] * speed, s[2] * pressure)
    rig.march(t / speed)
    got = rig.state("tube") / np.array([[RHO], [speed], [pressure]])
    keep = np.abs(x) < half
    return x[keep], got[:, keep], riemann.sample(left, right, x[keep] / t)


def mean_errors(got: np.ndarray, exact: np.ndarray) -> np.ndarray:
    """Mean absolute error of rho, u, p over the largest exact magnitude."""
    return np.abs(got - exact).mean(axis=1) / np.abs(exact).max(axis=1)


def _edges(case: tuple) -> tuple[float, float, float]:
    """Positions of the inner edge of the left wave, the contact and the inner edge of the right wave."""
    left, right, t = case
    s = riemann.star(left, right)
    edges = []
    for state, side in ((left, -1), (right, 1)):
        if s.p > state.p:
            edges.append(riemann.shock_speed(s.p, state, side))
        else:
            edges.append(s.u + side * state.sound(1.4) * (s.p / state.p) ** (1 / 7))
    return edges[0] * t, s.u * t, edges[1] * t


def plateaus(case: tuple, x: np.ndarray, got: np.ndarray) -> tuple[float, float, float, float]:
    """p*, u*, rho*L, rho*R as medians over the middle third of each plateau."""
    a, c, b = _edges(case)
    inside = [(x > p + (q - p) / 3) & (x < p + 2 * (q - p) / 3) for p, q in ((a, c), (c, b))]
    both = inside[0] | inside[1]
    return (float(np.median(got[2][both])), float(np.median(got[1][both])), float(np.median(got[0][inside[0]])),
            float(np.median(got[0][inside[1]])))


def tube_checks(name: str, source: str, case: tuple, cells: int, within: float, mean: float, order: float,
                half: float = 0.5) -> list[Check]:
    """Plateaus within a fraction, mean errors at most ``mean``, order over two halvings at least ``order``."""
    x, got, exact = run(case, cells, half=half)
    star = riemann.star(case[0], case[1])
    labels = ("p*", "u*", "rho*L", "rho*R")
    rows = [relative(f"{name}: {label}, {cells} cells", source, e, g, within)
            for label, e, g in zip(labels, star, plateaus(case, x, got), strict=True)]
    errors = mean_errors(got, exact)
    rows += [at_most(f"{name}: mean error of {q} over its largest value, {cells} cells", source, mean, e)
             for q, e in zip(("density", "velocity", "pressure"), errors, strict=True)]
    coarse = mean_errors(*run(case, cells // 2, half=half)[1:])[0]
    fine = mean_errors(*run(case, cells * 2, half=half)[1:])[0]
    note = "shocks are first order, contacts about 0.7 in any second-order scheme"
    return [*rows, at_least(f"{name}: observed order of the density error", source, order, np.log2(coarse / fine) / 2,
                            note=note)]
