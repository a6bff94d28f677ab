"""A Mach-3 shock runs into an entropy wave: Shu & Osher 1989, J. Comput. Phys. 83, 32-78, example 8."""

import numpy as np
from validation.exact.rig import Rig, pipe
from validation.harness import Check, absolute, at_least, at_most
from validation.reference.riemann import State, shock_speed

SOURCE = "Shu & Osher 1989, ex. 8 (states from memory); fine grid"
LEFT = (3.857143, 2.629369, 10.33333)
T_END, PRESSURE = 1.8, 1e5
FINE = 3200


def run(cells: int) -> tuple[np.ndarray, np.ndarray]:
    """x and density over [-5, 5]; the pipe goes on to both sides."""
    speed = np.sqrt(PRESSURE)
    rig = Rig(pipe("tube", 22.0, 1e-3), cell=10.0 / cells)
    x = rig.x("tube") - 15.0
    rho = np.where(x < -4, LEFT[0], 1 + 0.2 * np.sin(5 * x))
    u, p = np.where(x < -4, LEFT[1], 0.0), np.where(x < -4, LEFT[2], 1.0)
    rig.fill_rho("tube", rho, u * speed, p * PRESSURE)
    rig.march(T_END / speed)
    keep = np.abs(x) < 5
    return x[keep], rig.state("tube")[0, keep]


def checks() -> list[Check]:
    _, reference = run(FINE)
    # the Rankine-Hugoniot relations of the undisturbed shock, for the mean position
    shock = -4 + shock_speed(LEFT[2], State(1.0, 0.0, 1.0), 1) * T_END
    x, rho = run(400)
    front = x[np.flatnonzero(rho > 2.0)[-1]]
    errors = {}
    for n in (200, 400, 800):
        rho_n = run(n)[1]
        errors[n] = np.abs(rho_n - reference.reshape(n, -1).mean(axis=1)).mean() / reference.mean()
    waves = (x > 0.6) & (x < 2.2)
    ripple = np.ptp(rho[waves])
    fine_ripple = np.ptp(reference.reshape(400, -1).mean(axis=1)[waves])
    return [
        absolute("Shu-Osher: place of the shock, 400 cells", SOURCE, shock, front, 0.05),
        at_most("Shu-Osher: mean density error against the fine grid, 400 cells", SOURCE, 0.02, errors[400]),
        at_least("Shu-Osher: height of the short waves behind the shock over the fine grid's, 400 cells", SOURCE, 0.6,
                 ripple / fine_ripple),
        at_least("Shu-Osher: observed order, 200 to 800 cells", SOURCE, 0.8, np.log2(errors[200] / errors[800]) / 2),
    ]
