"""Shapes of spark loops, mixture loops, knock limits and burn durations that tuners know: common practice, no source.

Shipped engines (a two-valve pushrod V8, a four-valve four and a four-valve V6, all invented), waves, 25 mm cells.
Knock by Douaud & Eyzat 1978, SAE 780080 (from memory). MBT is the least advance within a tenth of a per cent of the
highest torque.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

from validation.harness import Check, absolute, at_most

SOURCE = "common practice, no source"
ENGINES = Path(__file__).resolve().parents[3] / "configs" / "engines"
SLOW = True
SPEEDS = {"hillclimb_v8": (3000.0, 4500.0, 5600.0), "club_four": (3000.0, 4500.0, 6000.0),
          "rally_v6": (3000.0, 5000.0, 7000.0)}
POWER_PEAK = 5600.0  # of the V8 as shipped, to the nearest of its speeds


def checks() -> list[Check]:
    """Loops of the engines at three speeds by the Wiebe law; of two by the predicted burn."""
    from pullcast.card import read_engine, with_changes

    made = []
    for name in SPEEDS:
        made += _wiebe(name, read_engine(ENGINES / f"{name}.toml"))
    for name in ("hillclimb_v8", "club_four"):
        made += _flame(name, with_changes(ENGINES / f"{name}.toml", {"burn.law": "flame"}))
    return made


def _wiebe(name: str, engine) -> list[Check]:
    from pullcast.answers.tune import tune

    tuning = tune(engine, speeds=SPEEDS[name], how="mbt", mixture=name == "hillclimb_v8")
    worst = max(abs(s.change) for s in tuning.settled)
    made = [at_most(f"{name}: torque of the loop against a march at its spark", "the march itself", 0.5, 100 * worst,
                    0.0, "%")]
    for loop, mixture in zip(tuning.loops, tuning.mixtures, strict=True):
        at = f"{name} {loop.rpm:.0f} rpm"
        made += [absolute(f"{at}: 5 deg later than MBT costs", SOURCE, 1.1, 100 * loop.loss(5.0), 0.4, "%"),
                 absolute(f"{at}: 10 deg later than MBT costs", SOURCE, 4.0, 100 * loop.loss(10.0), 1.0, "%"),
                 absolute(f"{at}: CA50 at MBT", SOURCE, 8.0, loop.at("ca50", loop.mbt), 2.0, "deg")]
        if mixture is not None:
            made += [absolute(f"{at}: lambda of best torque", SOURCE, 0.88, mixture.best_torque_lambda, 0.02),
                     absolute(f"{at}: lambda of best torque, spark held", SOURCE, 0.88,
                              mixture.held.best_torque_lambda, 0.02),
                     absolute(f"{at}: lambda 1 costs, spark held", SOURCE, 3.25, 100 * mixture.held.loss(1.0), 0.75,
                              "%")]
        if name == "hillclimb_v8" and loop.rpm == POWER_PEAK:
            made.append(absolute(f"{at}: MBT of two valves at the power peak", SOURCE, 30.0, loop.mbt, 4.0, "deg"))
        if mixture is not None and loop.rpm == POWER_PEAK:
            made.append(_marched(at, tuning.engine, loop.rpm, mixture))
    return made if name == "rally_v6" else made + _knock(name, engine) + _slower(name, engine)


def _marched(at: str, engine, rpm: float, mixture) -> Check:
    """The mixture loop against marches of its own at lambdas between those it was made from."""
    from pullcast.answers.tune import loop_at
    from pullcast.answers.tune_mixture import with_lambda
    from pullcast.solve.settle import settle

    worst = 0.0
    for lam in (0.82, 0.92, 1.06):
        lean = with_lambda(engine, lam)
        marched = loop_at(lean, settle(lean, rpm)).best_torque
        worst = max(worst, abs(mixture.torque_at(lam) / marched - 1.0))
    return at_most(f"{at}: mixture loop against marches at its lambdas", "the marches themselves", 0.3, 100 * worst,
                   0.0, "%")


def _slower(name: str, engine) -> list[Check]:
    """Rich and lean mixtures and residual on the burn of one trapped charge by the Wiebe law, one spark."""
    from pullcast.kernels import closed as C
    from pullcast.kernels import layout as L
    from pullcast.kernels.mixture import hot_h
    from pullcast.solve.charge import at_lambda, charge_of, spark_loop
    from pullcast.solve.settle import settle

    charge = charge_of(engine, settle(engine, 4500.0))

    def width(one) -> float:
        return float(spark_loop(one, [25.0])[0, :, C.R_DURATION].mean())

    best, trapped = width(at_lambda(charge, 0.86)), charge.trapped.copy()
    for s in trapped:  # a twentieth of the charge becomes residual, as warm as it was
        m, burned = s[L.S_M], s[L.S_BURNED] + 0.05 * s[L.S_M]
        fuel = s[L.S_FUEL] * (m - burned) / (m - s[L.S_BURNED])
        h, R = hot_h(charge.gas, s[L.S_T], s[L.S_P], fuel / m, burned / m)
        s[[L.S_FUEL, L.S_BURNED, L.S_U]] = fuel, burned, m * (h - R * s[L.S_T])
    changed = {"lambda 0.75": width(at_lambda(charge, 0.75)), "lambda 1.1": width(at_lambda(charge, 1.1))}
    made = [at_most(f"{name}: 10-90 % at lambda 0.86 over that at {what}", SOURCE, 1.0, best / wide, 0.0)
            for what, wide in changed.items()]
    ratio = width(charge) / width(replace(charge, trapped=trapped))
    return [*made, at_most(f"{name}: 10-90 % over that with 5 % more residual", SOURCE, 1.0, ratio, 0.0)]


def _knock(name: str, engine) -> list[Check]:
    """One octane number, and 10 K of inlet air, on the knock limit at 3000 rpm."""
    from pullcast.answers.tune import loop_at
    from pullcast.solve.settle import settle

    low = replace(engine, fuel=replace(engine.fuel, octane=90.0))
    warm = replace(low, day=replace(low.day, temperature=low.day.temperature + 10.0))
    point = settle(low, 3000.0)
    limit = loop_at(low, point).knock_limit
    more = loop_at(replace(low, fuel=replace(low.fuel, octane=91.0)), point).knock_limit
    hot = loop_at(warm, settle(warm, 3000.0)).knock_limit
    return [absolute(f"{name}: knock limit by one octane number", SOURCE, 1.0, more - limit, 0.5, "deg"),
            at_most(f"{name}: knock limit by 10 K warmer air", SOURCE, 0.0, hot - limit, 0.0, "deg")]


def _flame(name: str, engine) -> list[Check]:
    """One trapped charge at two speeds, its flow and turbulence scaled with speed: residual and breathing held."""
    import numpy as np

    from pullcast.answers.tune import loop_at
    from pullcast.kernels import closed as C
    from pullcast.kernels import layout as L
    from pullcast.solve.charge import charge_of, spark_loop
    from pullcast.solve.settle import settle

    charge = charge_of(engine, settle(engine, 4000.0))
    widths = []
    for rpm in (2000.0, 6000.0):
        trapped, ratio = charge.trapped.copy(), rpm / 4000.0
        trapped[:, [L.S_K, L.S_FLOW]] *= ratio**2
        trapped[:, L.S_TUMBLE] *= ratio
        r = spark_loop(replace(charge, rpm=rpm, trapped=trapped), np.arange(12.0, 58.0, 2.0)).mean(axis=1)
        widths.append(float(np.interp(-8.0, -r[:, C.R_CA50], r[:, C.R_DURATION])))
    exponent = math.log(widths[1] / widths[0]) / math.log(3.0)
    made = []
    for rpm in SPEEDS[name]:
        loop = loop_at(engine, settle(engine, rpm))
        top = loop.highest
        at = f"{name} {rpm:.0f} rpm, predicted burn"
        made += [absolute(f"{at}: {off:g} deg later than the highest torque costs", SOURCE, usual,
                          100 * (1.0 - loop.at("torque", loop.peak - off) / top), room, "%")
                 for off, usual, room in ((5.0, 1.1, 0.4), (10.0, 4.0, 1.0))]
    title = f"{name}: exponent of 10-90 % duration over speed, predicted burn, CA50 8 deg"
    return [*made, absolute(title, SOURCE, 0.3, exponent, 0.2)]
