"""Gas at rest stays at rest in a tapered, stepped, branched tract: well-balancing (Greenberg & LeRoux 1996)."""

import numpy as np
from validation.exact.rig import AIR, End, Junction, Pipe, Rig, Surroundings, Volume, smooth
from validation.harness import Check, absolute

SOURCE = "rest is a solution"


def tract(gas=AIR, burned: float = 0.0, T: float = 293.15) -> Rig:
    """Bellmouth, runner with a step, volume, two branches that meet, a throttle, a closed pipe, a cone."""
    a = 1e-3
    runner = Pipe("runner", End("ambient", loss_in=0.1), End("box"),
                  (smooth(0.05, 3 * a, a), smooth(0.2, a), smooth(0.1, 2.5 * a), smooth(0.15, 2.5 * a, 0.5 * a)))
    left = Pipe("left", End("box"), End("meet", angle_deg=170), (smooth(0.3, a, 1.5 * a, friction=1.0),))
    right = Pipe("right", End("box", area=0.4 * a), End("meet", angle_deg=-150),
                 (smooth(0.4, 2 * a, a), smooth(0.03, a)))
    tail = Pipe("tail", End("meet", angle_deg=0), End("ambient"), (smooth(0.25, 2 * a), smooth(0.3, 2 * a, 6 * a)))
    stub = Pipe("stub", End("meet", angle_deg=90, area=0.3 * a), End("closed"), (smooth(0.2, a, 3 * a),))
    return Rig(runner, left, right, tail, stub, cell=0.015, volumes=(Volume("box", 2e-3),),
               junctions=(Junction("meet"),), outside=Surroundings(97300.0, T, 0.0, burned), gas=gas)


def disturbance(rig: Rig, duration: float) -> tuple[float, float, float]:
    """Largest velocity over sound speed, pressure change over pressure, and mass drift, after ``duration`` s."""
    mass = rig.stored()[0]
    rig.march(duration)
    speed = pressure = 0.0
    for name in rig.names.pipes:
        rho, u, p = rig.state(name)
        speed = max(speed, float(np.max(np.abs(u) / np.sqrt(1.4 * p / rho))))
        pressure = max(pressure, float(np.max(np.abs(p / rig.outside.pressure - 1))))
    return speed, pressure, rig.stored()[0] / mass - 1


def checks() -> list[Check]:
    from pullcast.gasdata.tables import gas_table

    rows = []
    for name, rig in (("air of constant gamma", tract()),
                      ("cold air, full gas tables", tract(gas_table("petrol", 0.9))),
                      ("burned gas at 1000 K, full gas tables", tract(gas_table("petrol", 0.9), 1.0, 1000.0))):
        speed, pressure, mass = disturbance(rig, 0.1)
        rows += [absolute(f"rest, {name}: largest Mach number after 0.1 s", SOURCE, 0.0, speed, 1e-11),
                 absolute(f"rest, {name}: largest relative pressure change", SOURCE, 0.0, pressure, 1e-11),
                 absolute(f"rest, {name}: relative mass drift", SOURCE, 0.0, mass, 1e-11)]
    return rows
