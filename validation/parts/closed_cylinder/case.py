"""A closed cylinder, motored and fired, against Cantera: a reactor with a moving wall, and two zones of its gas.

Motored: Cantera's IdealGasReactor and Wall, composition frozen. Fired: two zones written here on Cantera's own
thermodynamics and equilibrium solver (Heywood 1988, secs. 9.2 and 14.4): the unburned gas frozen, the burned gas in
equilibrium at the common pressure, the mass fraction burned that of our march. Both without and with heat loss by the
law of Hohenberg 1979 (SAE 790825, from memory), written here again.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
from scipy.optimize import brentq
from validation.harness import Check, at_most, relative

from pullcast.card import read_engine
from pullcast.gasdata import cantera_tables, nodes
from pullcast.gasdata.tables import gas_table
from pullcast.kernels import closed as C
from pullcast.kernels import layout as L
from pullcast.kernels.crank import volume
from pullcast.kernels.mixture import hot_h
from pullcast.network.cylinders import cylinder_arrays
from pullcast.solve.charge import Charge, path

SOURCE = "Cantera reactor with a moving wall, NASA polynomials"
TWO_ZONES = "two zones of Cantera gas, burned zone in equilibrium"
CARD = Path(__file__).parents[3] / "configs" / "engines" / "lab_single.toml"
RPM, T0, P0, RESIDUAL, LAMBDA, SPARK, STEP = 3000.0, 350.0, 1.0e5, 0.05, 1.0, 22.0, 0.25
FUEL = "C8H18,isooctane"


@cache
def engine():
    """The shipped single on isooctane, all of its fuel burning, by a stated burn law and a spark."""
    e = read_engine(CARD)
    return replace(e, fuel=replace(e.fuel, key="isooctane"), mixture=replace(e.mixture, lambda_=LAMBDA),
                   burn=replace(e.burn, law="wiebe", timing="spark", table=((1000.0, SPARK),), efficiency=1.0),
                   walls=replace(e.walls, model="hohenberg", factor=1.0))


def charge(heat: float, burns: bool) -> Charge:
    """A charge of ours at P0, T0, with ``heat`` times the heat loss and with or without burning."""
    e = engine()
    gas = gas_table("isooctane", LAMBDA, 0.0)
    e = replace(e, walls=replace(e.walls, factor=heat), burn=replace(e.burn, efficiency=1.0 if burns else 0.0))
    c = cylinder_arrays(e, gas, RPM)
    start = float(c.closed[0, 0]) + 1.0
    yf = (1.0 - RESIDUAL) / (1.0 + gas.mix[2])
    h, R = hot_h(gas, T0, P0, yf, RESIDUAL)
    m = P0 * volume(c.geometry, start) / (R * T0)
    s = np.zeros((1, L.S_COUNT))
    s[0, [L.S_M, L.S_FUEL, L.S_BURNED, L.S_U, L.S_P, L.S_T]] = m, m * yf, m * RESIDUAL, m * (h - R * T0), P0, T0
    return Charge(e, RPM, gas, c.burn, c.flame, c.walls, c.geometry, s, np.array([start]), float(c.closed[0, 1]),
                  98.0)


class Crank:
    """The single's slider-crank and its walls, written apart from the solver."""

    def __init__(self) -> None:
        """Read the card's dimensions."""
        b, w = engine().block, engine().walls
        self.bore, self.r, self.rod, self.clearance = b.bore, b.stroke / 2, b.rod, b.clearance_volume
        self.area, self.speed = math.pi / 4 * b.bore**2, 2 * b.stroke * RPM / 60
        self.piston, self.head, self.liner = w.piston, w.head, w.liner

    def height(self, deg: float) -> float:
        """Piston below its top, m."""
        a = math.radians(deg)
        return self.r + self.rod - self.r * math.cos(a) - math.sqrt(self.rod**2 - (self.r * math.sin(a)) ** 2)

    def volume(self, deg: float) -> float:
        """Cylinder volume, m3."""
        return self.clearance + self.area * self.height(deg)

    def velocity(self, deg: float) -> float:
        """Piston speed, m/s, positive downwards."""
        a = math.radians(deg)
        root = math.sqrt(self.rod**2 - (self.r * math.sin(a)) ** 2)
        return self.r * math.sin(a) * (1 + self.r * math.cos(a) / root) * RPM * math.pi / 30

    def loss(self, deg: float, p: float, T: float) -> float:
        """Heat to the walls by Hohenberg, W; roof 1.2 bore areas, a tenth of a bore of liner above the ring."""
        h = 130 * self.volume(deg) ** -0.06 * (p / 1e5) ** 0.8 * T**-0.4 * (self.speed + 1.4) ** 0.8
        side = math.pi * self.bore * (self.height(deg) + 0.1 * self.bore)
        return h * (self.area * (1.2 * (T - self.head) + T - self.piston) + side * (T - self.liner))


def fresh_gas():
    """A Cantera gas of our species at the start, and the composition of its charge by mass."""
    import cantera as ct

    wanted = {*cantera_tables.PRODUCTS, FUEL}
    species = [s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in wanted]
    gas = ct.Solution(thermo="ideal-gas", kinetics="gas", species=species, reactions=[])
    moles = 12.5 * LAMBDA / cantera_tables.DRY_AIR["O2"]  # C8H18 + 12.5 O2
    gas.TPX = T0, P0, {FUEL: 1.0} | {s: moles * x for s, x in cantera_tables.DRY_AIR.items()}
    fresh = gas.Y
    gas.TP = nodes.T_FROZEN, nodes.P_FROZEN
    gas.equilibrate("TP", rtol=1e-9)
    gas.TPY = T0, P0, (1.0 - RESIDUAL) * fresh + RESIDUAL * gas.Y
    return gas


def _own_phase() -> dict[str, bool]:
    """What tells a reactor to use the very gas it is given, which Cantera asks for from 3.2 on."""
    import cantera as ct

    return {"clone": False} if hasattr(ct.ReactorBase, "phase") else {}


def motored(start: float, end: float, heat: float) -> tuple[np.ndarray, float]:
    """Pressure every degree from ``start`` and the work to ``end`` by a reactor with a moving wall."""
    import cantera as ct

    crank, gas = Crank(), fresh_gas()
    own = _own_phase()
    r = ct.IdealGasReactor(gas, volume=crank.volume(start), **own)
    phase = r.phase if own else r.thermo
    r.chemistry_enabled = False
    still = ct.Reservoir(ct.Solution("air.yaml"), **own)
    now = [start]
    wall = ct.Wall(r, still, A=crank.area, velocity=lambda t: crank.velocity(start + 6 * RPM * t))
    net = ct.ReactorNet([r])
    net.rtol, net.atol = 1e-9, 1e-14
    pressures, work, p, V = [phase.P], 0.0, phase.P, r.volume
    n = round((end - start) / STEP)
    step = (end - start) / n
    for i in range(n):
        now[0] = start + i * step
        wall.heat_flux = heat * crank.loss(now[0] + step / 2, phase.P, phase.T) / crank.area
        net.reinitialize()
        net.advance((i + 1) * step / (6 * RPM))
        work += 0.5 * (p + phase.P) * (r.volume - V)
        p, V = phase.P, r.volume
        pressures.append(p)
    return np.array(pressures), work


def fired(rows: np.ndarray, start: float, mass: float, heat: float) -> tuple[np.ndarray, float, float]:
    """Pressures, work and burned temperature at the end, two zones of Cantera gas, burned as ``rows`` says."""
    crank, u, b = Crank(), fresh_gas(), fresh_gas()
    at, V, p, work, mb, hb, Vb, born = start, crank.volume(start), P0, 0.0, 0.0, 0.0, 0.0, False
    pressures = []
    for row in rows:
        end, x = row[C.K_ANGLE], row[C.K_X]
        dt, V1 = (end - at) / (6 * RPM), crank.volume(end)
        dm = max(x * mass - mb, 0.0)
        mu = mass - mb - dm
        su, hu, share = u.entropy_mass, u.enthalpy_mass, (mass - mb) * u.volume_mass / V
        qu = heat * dt * share * crank.loss(at, p, u.T) * mu / (mass - mb)
        qb = heat * dt * (1 - share) * crank.loss(at, p, b.T) if born else 0.0
        su -= qu / (mu * u.T) if mu > 1e-9 * mass else 0.0
        b_state = b.state if born else None

        def gap(p1, su=su, hu=hu, dm=dm, mu=mu, qb=qb, V1=V1, b_state=b_state, p=p, mb=mb, hb=hb, Vb=Vb):
            u.SP = su, p1
            if mb + dm <= 0.0:
                return mu * u.volume_mass - V1
            hot = (mb * hb + dm * (hu + u.enthalpy_mass) / 2 + Vb * (p1 - p) - qb) / (mb + dm)
            for _ in range(3):  # the burned zone's volume at the end of the step enters its own enthalpy
                if b_state is not None:
                    b.state = b_state
                else:
                    b.TPY = 2400.0, p1, fresh_gas().Y
                b.HP = hot, p1
                b.equilibrate("HP", rtol=1e-8)
                mean = 0.5 * (Vb + (mb + dm) * b.volume_mass) if b_state is not None else 0.0
                hot = (mb * hb + dm * (hu + u.enthalpy_mass) / 2 + mean * (p1 - p) - qb) / (mb + dm)
            return mu * u.volume_mass + (mb + dm) * b.volume_mass - V1

        guess = p * (V / V1) ** 1.3
        p1 = brentq(gap, 0.6 * guess, 1.8 * guess, xtol=1e-3 * 1.0, rtol=1e-9)
        gap(p1)
        work += 0.5 * (p + p1) * (V1 - V)
        mb += dm
        if mb > 0.0:
            hb, Vb, born = b.enthalpy_mass, mb * b.volume_mass, True
        at, V, p = end, V1, p1
        pressures.append(p)
    return np.array(pressures), work, b.T


def checks() -> list[Check]:
    """Pressure and work of our cylinder against the two references."""
    out = []
    for heat, word in ((0.0, "no heat loss"), (1.0, "Hohenberg's heat loss")):
        c = charge(heat, burns=False)
        rows = path(c, SPARK, step=STEP)
        p, work = motored(c.starts[0], rows[-1, C.K_ANGLE], heat)
        name = f"motored, {word}"
        out += [relative(f"{name}: peak pressure", SOURCE, p.max() / 1e5, rows[:, C.K_P].max() / 1e5, 1e-3, "bar"),
                at_most(f"{name}: largest pressure difference over the pressure", SOURCE, 1.5e-3,
                        np.abs(rows[:, C.K_P] / p[1:] - 1).max()),
                at_most(f"{name}: difference of the work over p0 times the displacement", SOURCE, 2e-3,
                        abs(rows[-1, C.K_WORK] - work) / (P0 * engine().block.displacement))]
        c = charge(heat, burns=True)
        rows = path(c, SPARK, step=STEP)
        p, work, T = fired(rows, c.starts[0], c.trapped[0, L.S_M], heat)
        name = f"fired, {word}"
        out += [relative(f"{name}: peak pressure", TWO_ZONES, p.max() / 1e5, rows[:, C.K_P].max() / 1e5, 3e-3, "bar"),
                relative(f"{name}: work", TWO_ZONES, work, rows[-1, C.K_WORK], 2e-3, "J"),
                at_most(f"{name}: largest pressure difference over the peak", TWO_ZONES, 4e-3,
                        np.abs(rows[:, C.K_P] - p).max() / p.max()),
                relative(f"{name}: gas temperature when the valve opens", TWO_ZONES, T, rows[-1, C.K_T], 5e-3, "K")]
    return out
