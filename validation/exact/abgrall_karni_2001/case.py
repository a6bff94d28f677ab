"""Hot burned gas against cold charge: false pressure at the contact, measured (Abgrall & Karni 2001).

A contact moves with the gas and carries no pressure or velocity change: whatever appears is an error of the scheme.
"""

import numpy as np
from validation.exact.rig import TAU, End, Pipe, Rig, smooth
from validation.harness import Check, absolute, at_most

from pullcast.gasdata.tables import gas_table

SOURCE = "a contact carries no pressure (Abgrall & Karni 2001)"
P0, U, LENGTH = 101325.0, 50.0, 3.0
HOT, COLD = 1100.0, 310.0


def run(tau: float, smeared: float = 0.0) -> tuple[float, float]:
    """Largest |p - p0|/p0 within 2 ms, and the change of the stored energy over the heat the gas holds.

    A plug of burned gas 0.6 m long between fresh charge (air and fuel), all at one pressure and velocity; ``smeared``
    (m) widens the contacts.
    """
    gas = gas_table("petrol", 0.9)
    rig = Rig(Pipe("p", End("closed"), End("closed"), (smooth(LENGTH, 1e-3),)), cell=0.015, gas=gas, tau=tau)
    x = rig.x("p")
    if smeared > 0.0:
        burned = 0.5 * (np.tanh((x - 1.0) / smeared) - np.tanh((x - 1.6) / smeared))
    else:
        burned = ((x > 1.0) & (x < 1.6)).astype(float)
    rig.fill("p", P0, COLD + (HOT - COLD) * burned, U, 0.06 * (1 - burned), burned)
    before, worst = rig.stored(), 0.0
    inner = (x > 0.9) & (x < 2.2)  # the waves from the closed ends need more than 2 ms to come here
    for _ in range(40):
        rig.march(5e-5)
        worst = max(worst, float(np.max(np.abs(rig.state("p")[2][inner] / P0 - 1))))
    return worst, (rig.stored()[1] - before[1]) / (3.5 * P0 * 1e-3 * LENGTH)


def checks() -> list[Check]:
    plain = run(1e-9)
    working = run(TAU)
    frozen = run(1e3)
    smooth_plain, smooth_working = run(1e-9, 0.06), run(TAU, 0.06)
    name = "burned plug 1100 K in fresh charge 310 K"
    return [
        at_most(f"{name}: false pressure at the working relaxation of 1 ms, over p", SOURCE, 0.01, working[0],
                note=f"plain conservative update: {100 * plain[0]:.2g} %"),
        at_most(f"{name}: false pressure with the relaxation off, over p", SOURCE, 2e-4, frozen[0],
                note="the frozen-gamma update itself makes none"),
        at_most(f"{name}: working over plain conservative", SOURCE, 0.5, working[0] / plain[0]),
        at_most(f"{name}, contacts 120 mm wide: false pressure at the working relaxation, over p", SOURCE, 0.005,
                smooth_working[0], note=f"plain: {100 * smooth_plain[0]:.2g} %"),
        absolute(f"{name}: change of the energy books over p V gamma/(gamma-1)", SOURCE, 0.0, working[1], 1e-12),
    ]
