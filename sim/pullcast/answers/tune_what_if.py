"""What-ifs about knock: another octane, ratio, fuel, altitude or inlet temperature, each at its best tune.

Another octane number is read off the loop (Douaud & Eyzat: the delay goes with octane^3.402); everything else is
marched again, since it changes the gas exchange.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pullcast.answers.tune import loop_at
from pullcast.answers.tune_evaporation import evaporable
from pullcast.answers.tune_loop import SparkLoop
from pullcast.card.classes import FUEL_FACTS
from pullcast.card.engine import Engine, Fuel
from pullcast.card.weather_fuel import station_pressure
from pullcast.errors import InputError, SolveError
from pullcast.gasdata.fuels import fuel_recipe
from pullcast.gasdata.tables import gas_table
from pullcast.solve.numerics import Numerics
from pullcast.solve.sweep import Failed, sweep
from pullcast.units import to_si


def with_octane(engine: Engine, octane: float) -> Engine:
    """The engine on a fuel of another octane number (research), otherwise the same."""
    if not 40.0 <= octane <= 140.0:
        msg = f"octane {octane:g} is outside 40 to 140"
        raise InputError(msg)
    return replace(engine, fuel=replace(engine.fuel, octane=float(octane)))


def with_ratio(engine: Engine, ratio: float) -> Engine:
    """The engine at another compression ratio."""
    if not 4.0 <= ratio <= 20.0:
        msg = f"compression ratio {ratio:g} is outside 4 to 20"
        raise InputError(msg)
    return replace(engine, block=replace(engine.block, compression_ratio=float(ratio)))


def at_altitude(engine: Engine, altitude: float) -> Engine:
    """The engine at a standard atmosphere's pressure at ``altitude`` m; temperature and humidity stay."""
    return replace(engine, day=replace(engine.day, pressure=station_pressure(101325.0, altitude)))


def in_air(engine: Engine, temperature: float) -> Engine:
    """The engine in air of another temperature, K; relative humidity stays."""
    return replace(engine, day=replace(engine.day, temperature=float(temperature)))


def on_fuel(engine: Engine, key: str) -> Engine:
    """The engine on another fuel at the same lambda, with the fuel's usual octane number and density.

    Of an alcohol no more evaporates before the valve than saturated air leaves room for.
    """
    key = fuel_recipe(key).key
    octane, density = FUEL_FACTS[key]
    other = replace(engine, fuel=Fuel(key, float(octane.split()[1]), density, engine.fuel.temperature))
    share = min(engine.mixture.evaporated, evaporable(other))
    return replace(other, mixture=replace(engine.mixture, evaporated=share))


def case_of(engine: Engine, text: str) -> tuple[str, Engine]:
    """(name, engine) of a what-if in words: "ratio 11", "octane 95", "altitude 1500 m", "air 35 C" or "fuel e85".

    Raises InputError, showing the forms, for anything else.
    """
    name, _, value = text.strip().partition(" ")
    change = _CASES.get(name.lower())
    if change is None or not value.strip():
        msg = (f"{text!r} is no what-if: give one of 'ratio 11', 'octane 95', 'altitude 1500 m', 'air 35 C', "
               "'fuel e85'")
        raise InputError(msg)
    try:
        return f"{name.lower()} {value.strip()}", change(engine, value.strip())
    except InputError as error:
        msg = f"what if {text!r}: {error}"
        raise InputError(msg) from None


def _plain(value: str) -> float:
    return to_si(value, "fraction")


_CASES = {
    "ratio": lambda e, v: with_ratio(e, _plain(v)), "octane": lambda e, v: with_octane(e, _plain(v)),
    "altitude": lambda e, v: at_altitude(e, to_si(v, "length")),
    "air": lambda e, v: in_air(e, to_si(v, "temperature")), "fuel": on_fuel,
}


@dataclass(frozen=True)
class Tuned:
    """One case at one speed: torque (N m) at MBT and at the knock limit, those sparks (deg), and the octane number
    that MBT needs. ``margin`` is the knock limit less MBT, deg."""

    what: str
    rpm: float
    mbt: float
    knock_limit: float
    best_torque: float
    torque: float
    octane_needed: float

    @property
    def margin(self) -> float:
        """deg of spark between MBT and knock; below zero: knock comes first."""
        return self.knock_limit - self.mbt


def tuned_at(what: str, loop: SparkLoop) -> Tuned:
    """The numbers of a loop."""
    return Tuned(what, loop.rpm, loop.mbt, loop.knock_limit, loop.best_torque,
                 loop.at("torque", loop.best("knock-limited")), loop.octane_needed())


def what_if(cases: Sequence[tuple[str, Engine]], speeds: Sequence[float], *, fidelity: str = "wave",
            numerics: Numerics | None = None, workers: int | None = None, on_point=None) -> list[Tuned]:
    """Every case at every speed, each marched once and looped. Raises SolveError naming a case that breaks down.

    ``on_point`` is called as ``on_point(rpm, done, total, note)``.
    """
    rows, n = [], len(speeds)

    def tell(rpm: float, done: int, _: int, note: str) -> None:
        if on_point is not None:
            on_point(rpm, len(rows) + done, n * len(cases), note)

    for what, engine in cases:
        for point in sweep(engine, list(speeds), numerics, workers=workers, on_point=tell, fidelity=fidelity):
            if isinstance(point, Failed):
                raise SolveError(f"{what}: {point.message}")
            rows.append(tuned_at(what, loop_at(engine, point)))
    return rows


@dataclass(frozen=True)
class FuelSplit:
    """Torque change (N m) of another fuel at one speed, split: ``cooling`` of the charge, ``energy`` per air mass and
    all else of the mixture at MBT, ``knock`` that no longer (or now) holds the spark back. They sum to ``total``."""

    rpm: float
    cooling: float
    energy: float
    knock: float

    @property
    def total(self) -> float:
        """Change of the knock-limited torque, N m."""
        return self.cooling + self.energy + self.knock


def fuel_split(engine: Engine, key: str, speeds: Sequence[float], *, fidelity: str = "wave",
               numerics: Numerics | None = None, workers: int | None = None) -> list[FuelSplit]:
    """Why another fuel changes torque. The middle case is the new fuel cooling no more than the old one does."""
    other = on_fuel(engine, key)
    lam = engine.mixture.lambda_

    def heat(which: Engine) -> float:  # of evaporation per air mass, all evaporated
        gas = gas_table(which.fuel.key, lam)
        return float(gas.mix[3] / gas.mix[2])

    share = engine.mixture.evaporated * heat(engine) / heat(other) if heat(other) > 0.0 else 0.0
    level = replace(other, mixture=replace(other.mixture, evaporated=min(share, 1.0)))
    cases = (("old", engine), ("level", level), ("new", other))
    rows = what_if(cases, speeds, fidelity=fidelity, numerics=numerics, workers=workers)
    n = len(speeds)
    return [FuelSplit(old.rpm, new.best_torque - same.best_torque, same.best_torque - old.best_torque,
                      (new.torque - new.best_torque) - (old.torque - old.best_torque))
            for old, same, new in zip(rows[:n], rows[n : 2 * n], rows[2 * n :], strict=True)]


def octane_for_ratio(engine: Engine, ratios: Sequence[float], speeds: Sequence[float], *, fidelity: str = "wave",
                     numerics: Numerics | None = None, workers: int | None = None) -> list[tuple[float, float]]:
    """(ratio, octane that bears MBT at every speed) rows: how much octane a step of the ratio needs."""
    cases = [(f"{r:g}", with_ratio(engine, r)) for r in ratios]
    rows = what_if(cases, speeds, fidelity=fidelity, numerics=numerics, workers=workers)
    return [(float(r), max(t.octane_needed for t in rows if t.what == f"{r:g}")) for r in ratios]


