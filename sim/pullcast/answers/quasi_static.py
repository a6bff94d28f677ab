"""Volumetric efficiency of an engine turned infinitely slowly, from first principles.

Pressures are equal to the outside's whenever a valve is open, walls are adiabatic, the intake holds what was pushed
back and gives it out again first (plug flow). Then, per cycle (isobaric open system, first law):

* exhaust stroke: the cylinder's gas leaves; while both valves are open by the share of their areas;
* after top dead centre: gas enters by both valves, volume flows as A/sqrt(rho) (Bernoulli at a vanishing pressure
  difference), mixing at constant pressure; first what was pushed back into the intake, then outside air;
* from bottom dead centre to intake closing: the mixture is pushed back, unless the valve lets nothing back
  (``reverse_ratio`` 0).

With equal heat capacities volumes just add, so that the fresh volume is V(IVC) - V(TDC) less what the overlap carries
the wrong way, and equals the swept volume for valves that move at the dead centres (Heywood 1988, sec. 6.2, eq. 6.2
with pi = pe; from memory). Here the enthalpies are those of the gas tables. No pipe, no wave, no rate of any kind.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from pullcast.air import air_density, humidity_ratio
from pullcast.card.engine import Engine
from pullcast.gasdata.tables import gas_table
from pullcast.kernels.crank import volume
from pullcast.kernels.gas import mix_cp, mix_h, mix_R
from pullcast.network.cylinders import HEAD_AREA, valve_areas

STEP = 0.5  # deg
CYCLES = 12
FILM_T = (250.0, 420.0)  # K, range of the gas that late fuel joins


@dataclass
class _Gas:
    """Mass (kg) and composition of a parcel at the outside pressure, and its temperature (K)."""

    m: float
    yf: float
    yb: float
    T: float


@dataclass
class _Cylinder:
    table: object
    p: float
    content: _Gas
    pushed: list[_Gas] = field(default_factory=list)  # into the intake; the last in is the first out

    def volume_of(self, g: _Gas) -> float:
        return g.m * mix_R(self.table, g.yf, g.yb) * g.T / self.p

    def density(self, g: _Gas) -> float:
        return self.p / (mix_R(self.table, g.yf, g.yb) * g.T)


@dataclass(frozen=True)
class QuasiStatic:
    """``ve``: fresh air per cycle over swept volume at outside density; ``residual``: burned share when trapped;
    ``swept_share``: volume at intake closing less clearance, over swept volume."""

    ve: float
    residual: float
    swept_share: float


def quasi_static(engine: Engine, rpm: float, evo_temperature: float, evo_pressure: float) -> QuasiStatic:
    """Volumetric efficiency (-) at a vanishing speed, valves phased as at ``rpm``.

    ``evo_temperature`` (K) and ``evo_pressure`` (Pa) of the burned gas when the exhaust valve opens; they matter
    little (100 K: below 0.1 point).
    """
    day, block = engine.day, engine.block
    gas = gas_table(engine.fuel.key, engine.mixture.lambda_,
                    humidity_ratio(day.pressure, day.temperature, day.humidity))
    geometry = np.array([block.bore, block.stroke, block.rod, block.pin_offset, block.clearance_volume, HEAD_AREA])
    forward, reverse = valve_areas(engine, rpm)
    intake = 0.5 * (forward[0] + reverse[0]) if engine.head.intake.reverse_ratio > 0.0 else forward[0]
    exhaust = 0.5 * (forward[1] + reverse[1])
    closes = _span(forward)[1]
    T = _blown_down(gas, evo_temperature, evo_pressure, day.pressure)
    yf, yb = _burned(engine, gas)
    angles = np.arange(540.0, 720.0 + closes + STEP / 2, STEP)
    V = [float(volume(geometry, a % 720.0)) for a in angles]
    start = _Gas(day.pressure * V[0] / (mix_R(gas, yf, yb) * T), yf, yb, T)
    outside = _Gas(math.inf, yf, yb, T)  # what left last comes back first
    cylinder, fresh = _Cylinder(gas, day.pressure, start), math.nan
    for _ in range(CYCLES):
        cylinder.content = _Gas(start.m, yf, yb, T)
        before, fresh = fresh, 0.0
        for i in range(len(angles) - 1):
            at = round(2 * ((angles[i] + STEP / 2) % 720.0))
            fresh += _step(engine, cylinder, V[i + 1], float(intake[at]), float(exhaust[at]), outside)
        if abs(fresh - before) < 1e-9 * abs(fresh):
            break
    reference = air_density(day.pressure, day.temperature, day.humidity) * block.swept_volume
    share = (V[-1] - float(volume(geometry, 0.0))) / block.swept_volume
    return QuasiStatic(fresh / reference, cylinder.content.yb, share)


def _span(forward: np.ndarray) -> tuple[float, float]:
    """Exhaust opening and intake closing (local deg; closing between 0 and 360)."""
    open_exhaust = np.flatnonzero(forward[1, 720:] > 1e-9)
    open_intake = np.flatnonzero(forward[0, :721] > 1e-9)
    return 360.0 + 0.5 * float(open_exhaust[0] - 1), 0.5 * float(open_intake[-1] + 1)


def exhaust_opening(engine: Engine, rpm: float) -> float:
    """Local angle (deg) at which the exhaust valve leaves its seat."""
    return _span(valve_areas(engine, rpm)[0])[0]


def _burned(engine: Engine, gas) -> tuple[float, float]:
    """Fuel and burned fractions of the gas after burning a fresh charge."""
    afr = gas.mix[2]
    share = engine.burn.efficiency
    f = 1.0 / (1.0 + afr)
    return f * (1.0 - share), share * f * (1.0 + afr)


def _blown_down(gas, T: float, p: float, outside: float) -> float:
    """Temperature (K) of burned gas expanded isentropically from ``p`` to ``outside``."""
    steps = 50
    for _ in range(steps):
        T *= math.exp(math.log(outside / p) / steps * mix_R(gas, 0.0, 1.0) / mix_cp(gas, T, 0.0, 1.0))
    return T


def _step(engine: Engine, c: _Cylinder, V: float, ai: float, ae: float, outside: _Gas) -> float:
    """Fill or empty to volume ``V`` (m3) at the outside pressure; returns the outside air that came in, kg."""
    if ai + ae <= 1e-12:
        return 0.0
    dV = V - c.volume_of(c.content)
    if dV < 0.0:
        if engine.head.intake.reverse_ratio == 0.0:
            ai = 0.0
            if ae <= 1e-12:  # shut in, and compressed
                return 0.0
        gone = c.content.m * min(-dV / c.volume_of(c.content), 1.0)
        back = gone * ai / (ai + ae)
        if back > 0.0:
            c.pushed.append(_Gas(back, c.content.yf, c.content.yb, c.content.T))
        c.content.m -= gone
        return 0.0
    air, left = 0.0, dV
    while left > 1e-7 * V:
        source = c.pushed[-1] if c.pushed else _fresh(engine, c.table)
        wi, we = ai / math.sqrt(c.density(source)), ae / math.sqrt(c.density(outside))
        share = wi / (wi + we)
        room = c.volume_of(source) if c.pushed else math.inf
        part = min(left, room / share if share > 0.0 else math.inf)
        taken = share * part * c.density(source)
        grown = c.volume_of(c.content)
        _mix(engine, c, source, taken)
        _mix(engine, c, outside, (1.0 - share) * part * c.density(outside), by_intake=False)
        if c.pushed:
            c.pushed[-1].m -= taken
            if c.pushed[-1].m < 1e-9 * c.content.m:
                c.pushed.pop()
        else:
            air += taken * (1.0 - source.yf - source.yb)
        grown = c.volume_of(c.content) - grown
        left -= grown if grown > 0.0 else part
    return air


def _fresh(engine: Engine, gas) -> _Gas:
    """Outside air with the fuel that evaporates before the valve, at the temperature this leaves."""
    mix, T = engine.mixture, engine.day.temperature
    f = 0.0 if mix.preparation == "direct" else mix.evaporated / gas.mix[2]
    if f == 0.0:
        return _Gas(math.inf, 0.0, 0.0, T)
    liquid = mix_h(gas, engine.fuel.temperature, 1.0, 0.0) - gas.mix[3]
    h = (mix_h(gas, T, 0.0, 0.0) + f * liquid) / (1.0 + f)
    yf = f / (1.0 + f)
    return _Gas(math.inf, yf, 0.0, _temperature(gas, h, yf, 0.0, T))


def _mix(engine: Engine, c: _Cylinder, source: _Gas, taken: float, by_intake: bool = True) -> None:
    """Mix ``taken`` kg into the cylinder at constant pressure; air that still lacks fuel gets it at the valve."""
    if taken <= 0.0:
        return
    g, gas = c.content, c.table
    f, b = taken * source.yf, taken * source.yb
    h = g.m * mix_h(gas, g.T, g.yf, g.yb) + taken * mix_h(gas, source.T, source.yf, source.yb)
    late = max((taken - f - b) / gas.mix[2] - f, 0.0) if by_intake else 0.0
    if late:
        direct = engine.mixture.evaporated if engine.mixture.preparation == "direct" else 0.0
        vapour = mix_h(gas, min(max(g.T, FILM_T[0]), FILM_T[1]), 1.0, 0.0)
        liquid = mix_h(gas, engine.fuel.temperature, 1.0, 0.0) - gas.mix[3]
        h += late * ((1.0 - direct) * vapour + direct * liquid)
    m = g.m + taken + late
    yf, yb = (g.m * g.yf + f + late) / m, (g.m * g.yb + b) / m
    c.content = _Gas(m, yf, yb, _temperature(gas, h / m, yf, yb, g.T))


def _temperature(gas, h: float, yf: float, yb: float, guess: float) -> float:
    """Temperature (K) of sensible enthalpy ``h`` (J/kg), by Newton."""
    T = guess
    for _ in range(30):
        step = (mix_h(gas, T, yf, yb) - h) / mix_cp(gas, T, yf, yb)
        T -= step
        if abs(step) < 1e-9 * T:
            break
    return T
