"""Order of accuracy of every end condition: a smooth pulse reflects, and the grid is halved thrice.

Gustafsson 1975, Math. Comput. 29, 396-406 (from memory): a boundary closed one order lower than the interior keeps
the order of the interior. Self-convergence after Roache 1998, Verification and Validation in Computational Science
and Engineering, ch. 5 (from memory): order = log2 of the ratio of successive differences.
"""

from itertools import pairwise

import numpy as np
from validation.exact.rig import End, Junction, Rig, Volume, pipe
from validation.harness import Check, at_least, at_most

SOURCE = "self-convergence (Roache 1998, from memory); boundary closures, Gustafsson 1975 (from memory)"
P0, T0, AREA, LENGTH, HIGH = 101325.0, 293.15, 1e-3, 2.0, 0.05
GRIDS = (100, 200, 400, 800)
T_END = 4.2e-3  # s: the pulse has left the end again


def rig_of(kind: str, cells: int) -> Rig:
    """A pipe whose start is the end under test; its far end is closed and not reached."""
    straight = pipe("in", LENGTH, AREA, "closed", "closed")
    more, extra = (), {}
    if kind == "open":
        straight = pipe("in", LENGTH, AREA, "ambient", "closed")
    elif kind == "orifice":
        straight = pipe("in", LENGTH, AREA, End("ambient", area=0.5 * AREA), "closed")
    elif kind == "volume":
        straight = pipe("in", LENGTH, AREA, "box", "closed")
        extra["volumes"] = (Volume("box", 2e-3, wall_area=0.0),)
    elif kind == "junction":
        straight = pipe("in", LENGTH, AREA, End("j"), "closed")
        more = tuple(pipe(f"out {i}", LENGTH, AREA, End("j", angle_deg=120.0 * i), "closed") for i in (1, 2))
        extra["junctions"] = (Junction("j", 1e-4),)
    return Rig(straight, *more, cell=LENGTH / cells, outside=None, **extra)


def reflected(kind: str, cells: int, sign: float) -> np.ndarray:
    """Pressure (in the mean of the coarsest grid's cells) after a pulse of compression or suction met the end."""
    rig = rig_of(kind, cells)
    x, dx = rig.x("in"), rig.names.dx[0]
    a0 = np.sqrt(1.4 * 287.05 * T0)
    # cell means of a simple wave running towards the start: three Gauss points a cell
    nodes, weights = np.polynomial.legendre.leggauss(3)
    total = np.zeros((3, len(x)))
    for s, w in zip(nodes, weights, strict=True):
        X = 1.0 + sign * HIGH / 7.0 * np.exp(-(((x + 0.5 * dx * s - 0.8) / 0.16) ** 2))
        rho, u, p = P0 / (287.05 * T0) * X**5, -5.0 * a0 * (X - 1.0), P0 * X**7
        total += 0.5 * w * np.array([rho, rho * u, p / 0.4 + 0.5 * rho * u**2])
    rho, m, e = total
    rig.fill_rho("in", rho, m / rho, 0.4 * (e - 0.5 * m**2 / rho))
    rig.march(T_END)
    return rig.state("in")[2].reshape(GRIDS[0], -1).mean(axis=1)


def checks() -> list[Check]:
    """Observed orders over the two finest pairs of grids, and the error on the coarsest."""
    rows = []
    for kind, order in (("closed", 1.7), ("open", 1.7), ("orifice", 1.7), ("volume", 1.7), ("junction", 1.7)):
        for sign, word in ((1.0, "compression"), (-1.0, "suction")):
            p = [reflected(kind, n, sign) for n in GRIDS]
            d = [np.abs(b - a).mean() for a, b in pairwise(p)]
            fine = f"{1e3 * LENGTH / GRIDS[1]:g} to {1e3 * LENGTH / GRIDS[3]:g} mm cells"
            coarse = f"{1e3 * LENGTH / GRIDS[0]:g} mm cells"
            name = f"{word} at end '{kind}'"
            rows += [at_least(f"{name}: observed order, {fine}", SOURCE, order, np.log2(d[1] / d[2])),
                     at_most(f"{name}: mean error over the pulse's height, {coarse}", SOURCE, 0.01,
                             np.abs(p[0] - p[-1]).mean() / (HIGH * P0))]
    return rows
