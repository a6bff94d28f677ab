"""Friction, heat, and both with area change, in steady flow: Fanno, Rayleigh, Shapiro 1953, vol. 1, ch. 6-8."""

import numpy as np
from scipy.optimize import brentq
from validation.exact.rig import GAMMA, R, Rig, Volume, pipe, shaped
from validation.harness import Check, absolute, at_most, relative
from validation.reference import steady as s

SOURCE = "Shapiro 1953, vol. 1, ch. 6-8"
P0, T0 = 101325.0, 293.15
DIAMETER = 0.04
AREA = np.pi / 4 * DIAMETER**2


def settled(duct, ratio: float, cell: float, time: float) -> Rig:
    """Reservoir, duct, very large volume at the back pressure; started at that pressure and marched until steady."""
    rig = Rig(duct, cell=cell, volumes=(Volume("sink", 1e9),))
    rig.fill_volume(1, ratio * P0, T0)
    rig.fill("duct", P0 * (0.5 + 0.5 * ratio), T0)
    rig.march(time)
    return rig


def fanno(loss: float, ratio: float, cell: float = 0.015) -> list[Check]:
    """A constant loss coefficient over the length: the closed Fanno relation holds exactly."""
    def exit_pressure(m1: float) -> tuple[float, float]:
        m2 = brentq(lambda m: s.fanno_length(m1) - loss - s.fanno_length(m), m1, 1.0)
        p1 = P0 / s.total_over_static(m1)
        return p1 * m1 / m2 * np.sqrt((1 + 0.2 * m1**2) / (1 + 0.2 * m2**2)), m2

    limit = brentq(lambda m: s.fanno_length(m) - loss, 1e-3, 1.0) * (1 - 1e-12)
    choked = exit_pressure(limit)[0] > ratio * P0
    m1 = limit if choked else brentq(lambda m: exit_pressure(m)[0] - ratio * P0, 1e-3, limit)
    m2 = exit_pressure(m1)[1]
    rig = settled(pipe("duct", 1.5, AREA, "ambient", "sink", bend_loss=loss), ratio, cell, 0.4)
    name = f"Fanno, fL/D {loss:g}, back pressure {ratio:g}{', choked' if choked else ''}"
    face = rig.model.ends.flow[5]
    return [
        relative(f"{name}: mass flow", SOURCE, s.mass_flux(P0, T0, m1) * AREA, rig.end_flow("duct", True),
                 0.005 if choked else 0.002, "kg/s"),
        relative(f"{name}: inlet Mach number", SOURCE, m1, face[0], 0.005),
        relative(f"{name}: exit Mach number", SOURCE, m2, face[1], 0.005),
    ]


def exact_inlet(duct: s.Duct, ratio: float) -> tuple[float, np.ndarray]:
    """Flow (kg/s) and profile of the marched reference that ends at the back pressure."""
    def at(m1: float):
        flow = s.mass_flux(P0, T0, m1) * duct.area(0.0)
        return flow, s.generalised_flow(duct, flow, P0 / s.total_over_static(m1), T0 / (1 + 0.2 * m1**2))

    def miss(m1: float) -> float:
        try:
            return at(m1)[1][1, -1] - ratio * P0
        except ValueError:
            return -P0

    m1 = brentq(miss, 0.01, 0.6, xtol=1e-10)
    return at(m1)


def against_march(name: str, duct: s.Duct, model, ratio: float, within: float, pressure: float = 0.01) -> list[Check]:
    flow, (xe, pe, te, _, me) = exact_inlet(duct, ratio)
    rig = settled(model, ratio, 0.015, 0.5)
    rho, u, p = rig.state("duct")
    x = rig.x("duct")
    T = p / (R * rho)
    mach = u / np.sqrt(GAMMA * R * T)
    fall = np.ptp(pe)
    return [
        relative(f"{name}: mass flow", SOURCE, flow, rig.end_flow("duct", True), within, "kg/s"),
        at_most(f"{name}: largest pressure error over the pressure fall", SOURCE, pressure,
                np.max(np.abs(p - np.interp(x, xe, pe))) / fall),
        at_most(f"{name}: largest Mach error", SOURCE, 0.005, np.max(np.abs(mach - np.interp(x, xe, me)))),
        at_most(f"{name}: largest temperature error", SOURCE, 1.0, np.max(np.abs(T - np.interp(x, xe, te))), "K"),
    ]


def rayleigh() -> list[Check]:
    """Heat alone: the marched reference, and Rayleigh's relation between what the solver itself gives."""
    duct = s.Duct(1.5, lambda _: AREA, heat=3.0, wall=900.0)
    model = pipe("duct", 1.5, AREA, "ambient", "sink", heat_factor=3.0, wall_temperature=900.0)
    rows = against_march("Rayleigh, wall 900 K", duct, model, 0.85, 0.005, 0.02)
    rig = settled(model, 0.85, 0.015, 0.5)
    rho, u, p = rig.state("duct")
    T = p / (R * rho)
    mach = u / np.sqrt(GAMMA * R * T)
    t0 = T * (1 + 0.2 * mach**2)
    expected = s.rayleigh_total_temperature(mach[-1]) / s.rayleigh_total_temperature(mach[0])
    impulse = p + rho * u**2
    return [
        *rows,
        relative("Rayleigh: T0 ratio along the pipe, by Mach number", SOURCE, expected, t0[-1] / t0[0], 0.005),
        absolute("Rayleigh: change of p + rho u^2 along the pipe over p", SOURCE, 0.0, np.ptp(impulse) / p[0], 2e-3),
    ]


def everything() -> list[Check]:
    """A rough, hot, widening pipe."""
    def area(x):
        return np.pi / 4 * (DIAMETER * (1 + 0.25 * x / 1.5)) ** 2

    kind = {"friction": 1.0, "roughness": 5e-5, "heat": 1.5, "wall": 500.0}
    duct = s.Duct(1.5, area, loss=0.8, **kind)
    model = shaped("duct", 1.5, area, "ambient", "sink", 1, friction=1.0, roughness=5e-5, heat_factor=1.5,
                   wall_temperature=500.0, bend_loss=0.8)
    return against_march("friction, heat and taper together", duct, model, 0.85, 0.005)


def rough() -> list[Check]:
    """Darcy friction of a rough pipe."""
    duct = s.Duct(1.5, lambda _: AREA, friction=1.0, roughness=1e-4)
    model = pipe("duct", 1.5, AREA, "ambient", "sink", friction=1.0, roughness=1e-4)
    return against_march("rough pipe, Churchill's factor", duct, model, 0.85, 0.005)


def checks() -> list[Check]:
    return [*fanno(2.0, 0.8), *fanno(5.0, 0.7), *fanno(2.0, 0.2), *rough(), *rayleigh(), *everything()]
