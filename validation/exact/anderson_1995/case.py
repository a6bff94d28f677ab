"""Nozzle with a standing shock, and subsonic: A = 1 + 2.2 (x - 1.5)^2 (Anderson 1995, ch. 7), exact by gas tables."""

import numpy as np
from validation.exact.rig import CFL, Rig, Volume, shaped
from validation.harness import Check, absolute, at_most, relative
from validation.reference import steady as s

SOURCE = "Anderson 1995, ch. 7 geometry; exact: Liepmann & Roshko ch. 5"
P0, T0, UNIT, THROAT = 101325.0, 293.15, 0.2, 5e-4  # UNIT m per unit of x
CELLS = 150


def settled(area, length: float, ratio: float, cells: int, time: float) -> Rig:
    """Reservoir, nozzle, and a very large volume at the back pressure."""
    nozzle = shaped("nozzle", length * UNIT, lambda x: THROAT * area(x / UNIT), "ambient", "sink", cells)
    rig = Rig(nozzle, cell=length * UNIT / cells, volumes=(Volume("sink", 1e9),), cfl=CFL)
    rig.fill_volume(1, ratio * P0, T0)
    x = rig.x("nozzle") / (length * UNIT)
    rig.fill("nozzle", P0 * (1 - (1 - ratio) * x), T0)
    rig.march(time)
    return rig


def throat_parabola(x):
    """Area over throat area."""
    return 1 + 2.2 * (x - 1.5) ** 2


def shocked(cells: int) -> tuple[Rig, np.ndarray, np.ndarray]:
    """The shocked case: the rig, (3, n) mean rho, u, p over 50 ms, and the flutter of u over its mean."""
    rig = settled(throat_parabola, 3.0, 0.6784, cells, 0.15)
    states = []
    for _ in range(200):
        rig.march(2.5e-4)
        states.append(rig.state("nozzle"))
    mean = np.mean(states, axis=0)
    return rig, mean, np.std([v[1] for v in states], axis=0) / mean[1]


def with_shock() -> list[Check]:
    rig, (rho, u, p), flutter = shocked(CELLS)
    x, mach = rig.x("nozzle") / UNIT, u / np.sqrt(1.4 * p / rho)
    exact = s.nozzle_with_shock(throat_parabola(3.0), 0.6784)
    place = 1.5 + np.sqrt((exact.area_at_shock - 1) / 2.2)
    last = s.mach_at(throat_parabola(x[-1]) * exact.total_ratio, False)
    top = int(np.argmax(mach))
    found = np.interp(0.5 * (mach[top] + mach[top + 3]), mach[top : top + 5][::-1], x[top : top + 5][::-1])
    ahead = (x > 1.6) & (x < place - 0.1)
    area = throat_parabola(x)
    ideal = np.array([s.mach_at(a, True) for a in area[ahead]])
    after = x > place + 0.3
    total = p * s.total_over_static(mach)
    flow = rho * u * area * THROAT
    choked = s.mass_flux(P0, T0, 1.0) * THROAT
    dx = 3.0 / CELLS
    return [
        absolute("shocked nozzle: place of the shock", SOURCE, place, found, 1.5 * dx, note="one and a half cells"),
        relative("shocked nozzle: total pressure behind the shock over p0", SOURCE, exact.total_ratio,
                 np.median(total[after]) / P0, 0.005),
        relative("shocked nozzle: Mach number in the last cell", SOURCE, last, mach[-1], 0.005),
        at_most("shocked nozzle: flutter of the velocity behind the shock (std over mean)", SOURCE, 0.01,
                np.max(flutter[after]), note="a captured shock rattles within its cell"),
        at_most("shocked nozzle: largest Mach error ahead of the shock", SOURCE, 0.01,
                np.max(np.abs(mach[ahead] - ideal))),
        relative("shocked nozzle: mass flow", SOURCE, choked, rig.end_flow("nozzle", True), 0.001, "kg/s"),
        at_most("shocked nozzle: spread of the flow along the nozzle, shock left out", SOURCE, 0.002,
                np.ptp(flow[ahead | after | (x < 1.4)]) / choked),
        relative("shocked nozzle: total temperature at the exit", SOURCE, T0,
                 p[-1] / (287.05 * rho[-1]) * (1 + 0.2 * mach[-1] ** 2), 0.001, "K"),
    ]


def subsonic() -> list[Check]:
    def area(x):
        return 1 + 0.5 * np.minimum(np.abs(x - 1.5) / 1.5, 1.0) ** 2

    exit_mach = np.sqrt(5 * (0.93 ** (-0.4 / 1.4) - 1))
    star = s.area_ratio(exit_mach) / 1.5
    rig = settled(area, 3.0, 0.93, CELLS, 0.15)
    rho, u, p = rig.state("nozzle")
    mach = u / np.sqrt(1.4 * p / rho)
    x = rig.x("nozzle") / UNIT
    exact = np.array([s.mach_at(area(v) * star, False) for v in x])
    flow = s.mass_flux(P0, T0, s.mach_at(star, False)) * THROAT
    return [
        relative("subsonic nozzle: throat Mach number", SOURCE, s.mach_at(star, False), mach.max(), 0.005),
        relative("subsonic nozzle: mass flow", SOURCE, flow, rig.end_flow("nozzle", True), 0.001, "kg/s"),
        at_most("subsonic nozzle: largest Mach error", SOURCE, 0.005, np.max(np.abs(mach - exact))),
    ]


def checks() -> list[Check]:
    return [*with_shock(), *subsonic()]
