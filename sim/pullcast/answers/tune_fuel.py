"""The fuel system: what a curve asks of injectors, pump and line, and what other fuels would ask.

An injector passes the square root of the pressure over it: flow = rated flow (dp/rated dp)^0.5 (Bernoulli, liquid).
Duty limits, pump reserve and line speed are common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from pullcast.card.classes import FUEL_FACTS
from pullcast.card.engine import Engine
from pullcast.errors import InputError
from pullcast.gasdata.fuels import FUELS
from pullcast.gasdata.tables import gas_table
from pullcast.units import LB

DUTY = 0.80  # highest duty planned for; 0.80 to 0.85 (common practice, no source)
RESERVE = 1.20  # of the pump over the engine's flow (common practice, no source)
LINE_SPEED = 2.0  # m/s, highest in the supply line (common practice, no source)
GASEOUS = ("propane", "methane")  # reach the engine as gas: sized by mass flow alone


@dataclass(frozen=True)
class Flow:
    """A fuel flow ``kg_per_s`` of a liquid of ``density`` (kg/m3; 0: a gas) in the trade's units."""

    kg_per_s: float
    density: float = 0.0

    @property
    def g_per_s(self) -> float:
        """g/s."""
        return 1e3 * self.kg_per_s

    @property
    def lb_per_h(self) -> float:
        """lb/h."""
        return self.kg_per_s * 3600 / LB

    @property
    def cc_per_min(self) -> float:
        """cc/min of liquid; nan for a gas."""
        return self.kg_per_s / self.density * 60e6 if self.density else math.nan


@dataclass(frozen=True)
class Demand:
    """What one fuel asks of the system at full load: ``flow`` of the engine at its greatest, at ``rpm``; ``injector``
    the least flow of each at the rated pressure and ``duty_limit``; ``duty`` of the card's injectors at the stated
    pressure (nan where it gives none); ``pump`` with reserve; ``line`` the least bore, m; ``power`` W it was for."""

    fuel: str
    rpm: float
    power: float
    bsfc: float
    flow: Flow
    injectors: int
    duty_limit: float
    injector: Flow
    duty: float
    pump: Flow
    line: float


def injector_flow(rated: float, pressure: float, rated_pressure: float) -> float:
    """Flow of an injector (unit of ``rated``) at another pressure drop (Pa).

    >>> round(injector_flow(10.0, 4e5, 3e5), 3)
    11.547
    """
    if not min(rated, pressure, rated_pressure) > 0.0:
        msg = f"injector flow {rated:g} at {rated_pressure:g} Pa, wanted at {pressure:g} Pa: all must be above zero"
        raise InputError(msg)
    return rated * math.sqrt(pressure / rated_pressure)


def demand(engine: Engine, rpm: float, power: float, bsfc: float, *, pressure: float = 3e5,
           rated_pressure: float = 3e5, duty_limit: float = DUTY, fuel: str | None = None,
           density: float | None = None) -> Demand:
    """What ``power`` (W) at ``bsfc`` (kg/J) asks of the fuel system; pressures over the injectors in Pa.

    Raises InputError for numbers that are not above zero or a duty beyond 1.
    """
    if not (min(power, bsfc, rpm) > 0.0 and 0.0 < duty_limit <= 1.0):
        msg = (f"power {power:g} W, BSFC {bsfc:g} kg/J and speed {rpm:g} rpm must be above zero, the duty limit "
               f"{duty_limit:g} above 0 and not above 1")
        raise InputError(msg)
    key = fuel or engine.fuel.key
    rho = density if density is not None else (engine.fuel.liquid_density if key == engine.fuel.key
                                               else FUEL_FACTS[key][1])
    rho = 0.0 if key in GASEOUS else rho
    count = engine.limits.injectors or engine.block.cylinders
    flow = power * bsfc
    rated = engine.limits.injector_flow
    duty = flow / (count * injector_flow(rated, pressure, rated_pressure)) if rated else math.nan
    each = flow / (count * duty_limit) / math.sqrt(pressure / rated_pressure)
    line = math.sqrt(4 / math.pi * RESERVE * flow / (rho * LINE_SPEED)) if rho else math.nan
    return Demand(key, rpm, power, bsfc, Flow(flow, rho), count, duty_limit, Flow(each, rho), duty,
                  Flow(RESERVE * flow, rho), line)


def demand_of(engine: Engine, curve, **options) -> Demand:
    """What a predicted curve asks at the speed of its greatest fuel flow; ``options`` as for :func:`demand`."""
    import numpy as np

    d = curve.dataset
    flow = np.where(d["converged"].values, d["fuel_flow"].values, np.nan)
    if not np.isfinite(flow).any():
        msg = "the curve holds no converged point with a fuel flow"
        raise InputError(msg)
    k = int(np.nanargmax(flow))
    power = float(d["power"].values[k])
    return demand(engine, float(curve.speeds[k]), power, float(flow[k]) / power, **options)


def other_fuels(engine: Engine, need: Demand, lambda_: float | None = None) -> list[Demand]:
    """The demand of every fuel that has a gas table, for the same power: by the energy a kilogram sets free.

    At equal lambda and equal efficiency; fuel that cannot burn for want of air counts as lost (see
    ``pullcast.answers.tune_mixture.combustion_efficiency``).
    """
    from pullcast.answers.tune_mixture import combustion_efficiency

    lam = engine.mixture.lambda_ if lambda_ is None else lambda_

    def useful(key: str) -> float:
        return float(gas_table(key, lam).mix[4]) * combustion_efficiency(key, lam)

    own = useful(engine.fuel.key)
    return [demand(engine, need.rpm, need.power, need.bsfc * own / useful(key), duty_limit=need.duty_limit, fuel=key)
            for key in FUELS]
