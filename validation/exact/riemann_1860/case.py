"""A smooth pulse steepens as Riemann's simple wave: order of accuracy of the whole scheme (Riemann 1860)."""

import numpy as np
from validation.exact.rig import Rig, pipe
from validation.harness import Check, absolute, at_least, at_most
from validation.reference.waves import simple_wave

SOURCE = "Riemann 1860; Landau & Lifshitz, Fluid Mechanics, sec. 101"
P0, T0, LENGTH, T_END = 101325.0, 293.15, 3.0, 2.5e-3
RHO0 = P0 / (287.05 * T0)
A0 = np.sqrt(1.4 * 287.05 * T0)


def pulse(x: np.ndarray) -> np.ndarray:
    """Particle velocity at t = 0: 30 m/s, about 14 kPa, 0.5 m wide."""
    return 30.0 * np.exp(-(((x - 1.0) / 0.2) ** 2))


def average(x: np.ndarray, dx: float, t: float) -> np.ndarray:
    """Cell means of the exact conserved state, as primitive rho, u, p (3-point Gauss in each cell)."""
    nodes, weights = np.polynomial.legendre.leggauss(3)
    total = 0.0
    for s, w in zip(nodes, weights, strict=True):
        rho, u, p = simple_wave(pulse, x + 0.5 * dx * s, t, A0, P0, RHO0)
        total = total + 0.5 * w * np.array([rho, rho * u, p / 0.4 + 0.5 * rho * u**2])
    rho, m, e = total
    return np.array([rho, m / rho, 0.4 * (e - 0.5 * m**2 / rho)])


def run(cells: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """x, solver and exact (3, n), and the change of mass."""
    rig = Rig(pipe("tube", LENGTH, 1e-3), cell=LENGTH / cells)
    x, dx = rig.x("tube"), LENGTH / cells
    rig.fill_rho("tube", *average(x, dx, 0.0))
    before = rig.stored()[0]
    rig.march(T_END)
    return x, rig.state("tube"), average(x, dx, T_END), rig.stored()[0] / before - 1


def checks() -> list[Check]:
    grids = (100, 200, 400, 800)
    means, tops, drift = [], [], 0.0
    for n in grids:
        _, got, exact, change = run(n)
        means.append(np.abs(got - exact).mean(axis=1) / np.ptp(exact, axis=1))
        tops.append(np.max(np.abs(got[2] - exact[2])) / np.ptp(exact[2]))
        drift = max(drift, abs(change))
    orders = np.log2(np.array(means[1]) / np.array(means[3])) / 2
    rows = [at_least(f"smooth wave: observed order of {q} (mean error), 15 to 3.75 mm cells", SOURCE, 1.8, o)
            for q, o in zip(("density", "velocity", "pressure"), orders, strict=True)]
    return [
        *rows,
        at_most("smooth wave: mean pressure error over its height, 15 mm cells", SOURCE, 0.002, means[1][2]),
        at_most("smooth wave: largest pressure error over its height, 15 mm cells", SOURCE, 0.03, tops[1],
                note="the limiter clips the crest"),
        absolute("smooth wave: change of mass", SOURCE, 0.0, drift, 1e-12),
    ]
