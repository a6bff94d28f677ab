"""The charge a marched point trapped, and its closed cycle marched again at other sparks and mixtures.

The gas exchange is used again where what changes after the valves have shut hardly reaches back: another spark or
lambda changes what leaves at exhaust opening, and through it pumping and residual, by little
(``pullcast.answers.tune`` settles once more at what it chose and says by how much). Another ratio, weather, cam or
tract is another march.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullcast.air import humidity_ratio
from pullcast.card.engine import Engine
from pullcast.errors import InputError, SolveError
from pullcast.gasdata.tables import uneven_table
from pullcast.kernels import closed as C
from pullcast.kernels import layout as L
from pullcast.kernels.crank import volume
from pullcast.kernels.gas import GasTable, mix_cp, mix_h
from pullcast.kernels.mixture import hot_h
from pullcast.kernels.packed import settled_state
from pullcast.network.cylinders import burn_arrays, cylinder_arrays, flame_row
from pullcast.solve.settle import Point

STEP = 1.0  # deg; the cylinder halves it while valves are shut


@dataclass(frozen=True)
class Charge:
    """What every cylinder trapped at one speed: ``trapped`` (cylinders, S_COUNT) at the angles ``starts`` (deg)."""

    engine: Engine
    rpm: float
    gas: GasTable
    burn: np.ndarray
    flame: np.ndarray
    walls: np.ndarray
    geometry: np.ndarray
    trapped: np.ndarray
    starts: np.ndarray
    opening: float
    octane: float

    @property
    def fuel(self) -> float:
        """Fuel trapped in all cylinders, kg."""
        return float(self.trapped[:, L.S_FUEL].sum())


def _gas(engine: Engine) -> GasTable:
    day = engine.day
    return uneven_table(engine.fuel.key, engine.mixture.lambda_,
                        humidity_ratio(day.pressure, day.temperature, day.humidity), engine.mixture.unevenness)


def charge_of(engine: Engine, point: Point) -> Charge:
    """The charge of a marched point of ``engine``. Raises InputError for a point that trapped nothing."""
    gas = _gas(engine)
    c = cylinder_arrays(engine, gas, point.rpm)
    out = point.out
    if not (out[:, L.C_SHUT_AT] > 0.0).all():
        msg = f"the point at {point.rpm:g} rpm does not hold what its cylinders trapped: march it again"
        raise InputError(msg)
    trapped = np.zeros((len(out), L.S_COUNT))
    kept = [L.S_M, L.S_FUEL, L.S_BURNED, L.S_U, L.S_T, L.S_K, L.S_FLOW, L.S_TUMBLE]
    trapped[:, kept] = out[:, L.C_SHUT_M : L.C_SHUT_TUMBLE + 1]
    for s, at in zip(trapped, out[:, L.C_SHUT_AT], strict=True):
        V = volume(c.geometry, at)
        s[L.S_T], s[L.S_P], _ = settled_state(gas.packed, s[L.S_U], 0.0, 0.0, V, s[L.S_M], s[L.S_FUEL],
                                              s[L.S_BURNED], s[L.S_T])
    return Charge(engine, point.rpm, gas, c.burn, c.flame, c.walls, c.geometry, trapped,
                  out[:, L.C_SHUT_AT].copy(), float(c.closed[0, 1]), engine.fuel.octane or 95.0)


def at_lambda(charge: Charge, lambda_: float) -> Charge:
    """The charge with another mixture, taken in at the same pressure.

    Air and residual stay; fuel is added or taken away and the charge's temperature follows its evaporation (the
    engine's evaporated share); then all is scaled so that the pressure at the valves' closing is the same. Raises
    InputError for a lambda the gas tables do not hold.
    """
    e = charge.engine
    engine = replace(e, mixture=replace(e.mixture, lambda_=lambda_))
    gas = _gas(engine)
    trapped = charge.trapped.copy()
    burn, _ = burn_arrays(engine, charge.rpm)
    flame = charge.flame.copy()
    flame[:8] = flame_row(engine.fuel.key, 1.0 / lambda_)
    for s, at in zip(trapped, charge.starts, strict=True):
        _remix(s, charge.gas, gas, e, volume(charge.geometry, at))
    return replace(charge, engine=engine, gas=gas, burn=burn, flame=flame, trapped=trapped)


def strength_weights(lambdas, lambda_: float) -> np.ndarray:
    """Weights of marches at ``lambdas`` for a mixture of ``lambda_``: the polynomial through all, over fuel per air.

    >>> strength_weights([0.8, 1.0], 1.0).tolist()
    [0.0, 1.0]
    """
    z, at = 1.0 / np.asarray(lambdas, dtype=float), 1.0 / lambda_
    return np.array([np.prod([(at - b) / (a - b) for b in np.delete(z, i)]) for i, a in enumerate(z)])


def charge_between(charges: Sequence[Charge], lambda_: float) -> Charge:
    """The charge at another mixture from charges marched at several (of one speed, each at its own lambda).

    Air, residual, temperature and turbulence of each cylinder are those of the marches, with the weights of
    ``strength_weights``: so that what the fuel does to the gas exchange is in it. One charge alone: ``at_lambda``.
    """
    first = charges[0]
    if len(charges) == 1:
        return at_lambda(first, lambda_)
    made = at_lambda(first, lambda_)
    weights = strength_weights([c.engine.mixture.lambda_ for c in charges], lambda_)
    trapped = sum(w * c.trapped for w, c in zip(weights, charges, strict=True))
    air = [c.trapped[:, L.S_M] - c.trapped[:, L.S_FUEL] - c.trapped[:, L.S_BURNED] for c in charges]
    fuel = [c.trapped[:, L.S_FUEL] * c.gas.mix[2] for c in charges]
    trapped[:, L.S_FUEL] = sum(w * f for w, f in zip(weights, fuel, strict=True)) / made.gas.mix[2]
    trapped[:, L.S_M] = (sum(w * a for w, a in zip(weights, air, strict=True)) + trapped[:, L.S_FUEL]
                         + trapped[:, L.S_BURNED])
    for s, at in zip(trapped, first.starts, strict=True):
        _refill(s, made.gas, volume(first.geometry, at))
    return replace(made, trapped=trapped)


def _refill(s: np.ndarray, gas: GasTable, V: float) -> None:
    """Pressure and internal energy of a trapped state from its masses and temperature in volume ``V`` (m3)."""
    m, T = s[L.S_M], s[L.S_T]
    yf, yb = s[L.S_FUEL] / m, s[L.S_BURNED] / m
    p = s[L.S_P]
    for _ in range(3):
        h, R = hot_h(gas, T, p, yf, yb)
        p = m * R * T / V
    s[[L.S_U, L.S_P]] = m * (h - R * T), p


def _remix(s: np.ndarray, old: GasTable, gas: GasTable, engine: Engine, V: float) -> None:
    """Change one trapped state from the mixture of ``old`` to that of ``gas`` in place."""
    T, p, m0 = s[L.S_T], s[L.S_P], s[L.S_M]
    fuel = s[L.S_FUEL] * old.mix[2] / gas.mix[2]
    m = m0 + fuel - s[L.S_FUEL]
    yf, yb = fuel / m, s[L.S_BURNED] / m
    liquid = mix_h(gas, engine.fuel.temperature, 1.0, 0.0) - gas.mix[3]
    cooled = engine.mixture.evaporated * (mix_h(gas, T, 1.0, 0.0) - liquid)
    T -= (fuel - s[L.S_FUEL]) * cooled / (m * mix_cp(gas, T, yf, yb))
    h, R = hot_h(gas, T, p, yf, yb)
    m = p * V / (R * T)
    s[[L.S_M, L.S_FUEL, L.S_BURNED, L.S_U, L.S_T]] = m, m * yf, m * yb, m * (h - R * T), T


def spark_loop(charge: Charge, sparks) -> np.ndarray:
    """Closed cycles of every cylinder at every spark (deg before firing TDC): (sparks, cylinders, R_COUNT).

    Columns as in ``pullcast.kernels.closed``. Raises SolveError when a cylinder breaks down.
    """
    sparks = np.asarray(sparks, dtype=float)
    results = np.zeros((len(sparks), len(charge.trapped), C.R_COUNT))
    fine = C.spark_loop(charge.gas.packed, charge.geometry, charge.burn, charge.flame, charge.walls, charge.trapped,
                        charge.starts, charge.opening, charge.rpm, charge.octane, STEP, sparks, results)
    if not fine:
        raise SolveError("the cylinder state left the range of a gas", rpm=charge.rpm, angle_deg=360.0,
                         component="a cylinder marched by itself")
    return results


def own_sparks(charge: Charge, sparks) -> np.ndarray:
    """Closed cycles with a spark of its own for every cylinder: (cylinders, R_COUNT)."""
    rows = []
    for k, spark in enumerate(sparks):
        one = replace(charge, trapped=charge.trapped[k : k + 1], starts=charge.starts[k : k + 1])
        rows.append(spark_loop(one, [spark])[0, 0])
    return np.array(rows)


def path(charge: Charge, spark: float, cylinder: int = 1, step: float = 0.5) -> np.ndarray:
    """One cylinder's closed cycle at ``spark``, a row per step: columns K_ of ``pullcast.kernels.closed``."""
    k = cylinder - 1
    rows = int(np.ceil((charge.opening - 1e-3 - charge.starts[k]) / step - 1e-9))
    made = np.zeros((rows, C.K_COUNT))
    C.closed_path(charge.gas.packed, charge.geometry, charge.burn, charge.flame, charge.walls, charge.trapped[k],
                  charge.starts[k], charge.opening, charge.rpm, charge.octane, step, float(spark), made)
    return made
