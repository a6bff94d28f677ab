"""Manufactured solution of unsteady flow in a cone with friction and heat: Roache 2002, J. Fluids Eng. 124, 4-10."""

import numpy as np
from validation.exact.rig import Rig, shaped
from validation.harness import Check, at_least, at_most
from validation.reference.manufactured import Manufactured

SOURCE = "method of manufactured solutions, Roache 2002"
T_END = 2.0e-3


def add(rig: Rig, m: Manufactured, x: np.ndarray, t: float, dt: float) -> None:
    """Give the cells their source over ``dt``: mass, momentum, energy, and the pressure that follows."""
    f, here = rig.model.flow, rig.cells("duct")
    ds = dt * m.source(x, t)
    before = f.p[here] / (m.gamma - 1) + 0.5 * f.mom[here] ** 2 / f.rho[here]
    cv = m.R / (m.gamma - 1)
    datum = -m.gamma * cv * 298.15  # the solver counts enthalpy from 298.15 K
    f.rho[here] += ds[0]
    f.mom[here] += ds[1]
    f.ene[here] += ds[2] + ds[0] * datum
    f.p[here] = (m.gamma - 1) * (before + ds[2] - 0.5 * f.mom[here] ** 2 / f.rho[here])


def run(m: Manufactured, cells: int) -> np.ndarray:
    """Mean errors of rho, u, p over their scales at the end: half a source, a step, half a source (Strang)."""
    def area(x):
        return float(m.area(x))

    duct = shaped("duct", m.length, area, "closed", "closed", 1, friction=m.friction, roughness=m.roughness,
                  heat_factor=m.heat, wall_temperature=m.wall)
    rig = Rig(duct, cell=m.length / cells)
    x = rig.x("duct")
    rig.fill_rho("duct", *m.fields(x, 0.0))
    steps = int(np.ceil(T_END / (0.5 * m.length / cells / 520.0)))
    dt = T_END / steps
    for k in range(steps):
        add(rig, m, x, (k + 0.25) * dt, 0.5 * dt)
        rig.march(dt)
        add(rig, m, x, (k + 0.75) * dt, 0.5 * dt)
    got, exact = rig.state("duct"), np.array(m.fields(x, T_END))
    scale = np.array([m.rho0, m.speed, m.p0])
    return np.abs(got - exact).mean(axis=1) / scale


def checks() -> list[Check]:
    rows = []
    for name, m, order in (("area change", Manufactured(), 1.8),
                           ("area change, friction and heat", Manufactured(friction=4.0, heat=4.0), 0.8)):
        coarse, fine = run(m, 50), run(m, 200)
        for q, c, f in zip(("density", "velocity", "pressure"), coarse, fine, strict=True):
            rows.append(at_least(f"manufactured, {name}: observed order of {q}, 20 to 5 mm cells", SOURCE, order,
                                 np.log2(c / f) / 2))
        label = f"manufactured, {name}: mean pressure error over mean pressure, 20 mm cells"
        rows.append(at_most(label, SOURCE, 1e-3, coarse[2]))
    return rows
