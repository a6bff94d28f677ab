"""March odd engines and say how each ended: sound, or what was wrong with it."""

from __future__ import annotations

import random
import time
from dataclasses import dataclass

import numpy as np
from odd_engines import odd_engine

import pullcast.solve.lumped as lumped
import pullcast.solve.lumped_run as lumped_run
import pullcast.solve.settle as settle
from pullcast.answers.performance import performance
from pullcast.card import read_engine_text
from pullcast.errors import CardError, InputError, SolveError
from pullcast.solve.numerics import Numerics

CELL = 0.045
MASS, ENERGY = 1e-10, 1e-6
GOOD = ("converged", "not converged, says why", "broke down, says why", "card refused")


@dataclass(frozen=True)
class Outcome:
    """How one engine ended; ``faults`` is empty for a sound end."""

    seed: int
    kind: str
    message: str
    faults: tuple[str, ...]
    seconds: float
    steps: int = 0
    cycles: int = 0


def march(seed: int, fidelity: str, most: int = 12) -> Outcome:
    """The odd engine of a seed, marched at its one speed; anything but a pullcast error comes through."""
    text, rpm = odd_engine(random.Random(seed), most)
    began = time.process_time()
    try:
        engine = read_engine_text(text, name="odd.toml")
    except CardError as e:
        return Outcome(seed, "card refused", str(e), (), time.process_time() - began)
    numerics = Numerics(cell=CELL)
    module = lumped_run if fidelity == "lumped" else settle
    maker = "point_of" if fidelity == "lumped" else "prepare"  # one sees the end, one makes the start
    made = []
    original = getattr(module, maker)

    def seen(*a):
        made.append(a[1].store[..., a[2]].copy() if fidelity == "lumped" else original(*a))
        return original(*a) if fidelity == "lumped" else made[-1]

    setattr(module, maker, seen)
    try:
        point = (lumped.settle_lumped if fidelity == "lumped" else settle.settle)(engine, rpm, numerics)
    except InputError as e:  # a cam that leaves no room to compress and burn in
        return Outcome(seed, "card refused", str(e), (), time.process_time() - began)
    except SolveError as e:
        why = () if str(rpm)[:3] in str(e) or f"{rpm:g}" in str(e) else ("no speed in the message",)
        return Outcome(seed, "broke down, says why", str(e), why, time.process_time() - began)
    finally:
        setattr(module, maker, original)
    faults = [*_books(point), *_states(made[-1], fidelity), *_answers(engine, point)]
    kind = "converged" if point.converged else "not converged, says why"
    if not point.converged and not point.status:
        faults.append("not converged without a reason")
    return Outcome(seed, kind, point.status or point.remedy, tuple(faults), time.process_time() - began, point.steps,
                   point.cycles)


def _books(point) -> list[str]:
    faults = []
    if not abs(point.mass_residual) <= MASS:
        faults.append(f"mass residual {point.mass_residual:.2e}")
    if not abs(point.energy_residual) <= ENERGY:
        faults.append(f"energy residual {point.energy_residual:.2e}")
    return faults


def _states(running, fidelity: str) -> list[str]:
    """Density and pressure at the end of the last cycle; the march itself stops where one is not positive."""
    if fidelity == "lumped":
        from pullcast.kernels import lumps as M

        values = {"density": 1.0 / running[M.X_SPECIFIC, 1:], "pressure": running[M.X_P, 1:]}
    else:
        m = running.model
        real = m.ducts.real > 0
        values = {"density": m.flow.rho[real], "pressure": m.flow.p[real], "mass of a volume": m.nodes.m[1:]}
    return [f"{name} not positive" for name, v in values.items() if not (np.isfinite(v).all() and (v > 0).all())]


MAY_BE_EMPTY = ("bsfc", "injector_duty", "plenum_temperature", "exhaust_temperature")


def _answers(engine, point) -> list[str]:
    """No answer that is not a number, but for those that are empty by meaning."""
    row = performance(engine, point)
    if "less than half" in row["status"] or not point.converged:
        row.pop("ca50")
    return [f"{name} is {value}" for name, value in row.items()
            if name not in MAY_BE_EMPTY and not isinstance(value, str) and not np.isfinite(value).all()]
