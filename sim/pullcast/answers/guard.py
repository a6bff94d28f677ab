"""Guard rails that no answer passes silently: the fuel-air cycle's efficiency and the choked inlet."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

import numpy as np

from pullcast.card.derived import choked_air
from pullcast.card.engine import Engine
from pullcast.gasdata.tables import gas_table
from pullcast.kernels import layout as L
from pullcast.kernels.chamber import burned_composition
from pullcast.kernels.mixture import closed_state, hot_h
from pullcast.solve.settle import Point

STEPS = 300  # volume steps of compression and of expansion
RESIDUAL, START = 0.03, 350.0  # mass fraction and K at the start of the cycle (Heywood 1988, sec. 5.5, usual values)
SLACK = 0.02  # relative, for what the reference cycle's start state leaves open


@lru_cache(maxsize=64)
def fuel_air_efficiency(fuel: str, lambda_: float, ratio: float) -> float:
    """Indicated efficiency of the constant-volume fuel-air cycle on the fuel's lower heating value.

    Adiabatic compression, burning at constant volume to equilibrium, adiabatic expansion in equilibrium
    (Heywood 1988, sec. 5.5); no real engine reaches it, good ones come to .80 to .85 of it.
    """
    gas = gas_table(fuel, lambda_, 0.0)
    yf, yb = (1 - RESIDUAL) / (1 + gas.mix[2]), RESIDUAL
    V1, m, T = 1e-3, 1.1e-3, START
    h, R = hot_h(gas, T, 1e5, yf, yb)
    U, p, work = m * (h - R * T), m * R * T / V1, 0.0
    volumes = V1 / np.geomspace(1.0, ratio, STEPS + 1)
    for burned, path in ((False, volumes), (True, volumes[::-1])):
        if burned:
            yf, yb = burned_composition(gas.mix[2], 1.0, yf, yb)
            T, p, R = closed_state(gas, U, path[0], m, m * yf, m * yb, 2500.0)
        for a, b in pairwise(path):
            guess = p * (a / b) ** 1.3
            for _ in range(3):
                w = 0.5 * (p + guess) * (b - a)
                T, guess, R = closed_state(gas, U - w, b, m, m * yf, m * yb, T)
            U, p, work = U - w, guess, work + w
    return float(work / (m * (1 - RESIDUAL) / (1 + gas.mix[2]) * gas.mix[4]))


def beyond(engine: Engine, point: Point) -> str:
    """What a point claims that no engine can do, in words; "" if nothing."""
    gas = gas_table(engine.fuel.key, engine.mixture.lambda_)
    work, fuel = point.out[:, L.C_WORK_GROSS].sum(), point.books[L.B_FUEL]
    efficiency, ratio = work / (fuel * gas.mix[4]) if fuel > 0 else 0.0, engine.block.compression_ratio
    # it rises with the compression ratio: below that of the next whole ratio down, known for many engines, is enough
    for at in (float(math.floor(ratio)), ratio):
        ceiling = fuel_air_efficiency(engine.fuel.key, engine.mixture.lambda_, at)
        if efficiency <= ceiling * (1 + SLACK):
            break
    else:
        return (f"impossible: {100 * efficiency:.1f} % indicated efficiency is above the fuel-air cycle's "
                f"{100 * ceiling:.1f} %")
    choked = choked_air(engine)
    air = point.out[:, L.C_AIR].sum() * point.rpm / 120
    if choked and air > choked[0] * (1 + SLACK):
        return f"impossible: {1e3 * air:.1f} g/s of air is above the choked {choked[1]}'s {1e3 * choked[0]:.1f} g/s"
    return ""
