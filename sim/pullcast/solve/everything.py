"""March a small engine through every kind of work there is, so that all kernels get compiled and kept.

What ``pullcast.solve.warm`` runs in a process of its own.
"""

from __future__ import annotations

from pullcast.card.reading import read_engine_text
from pullcast.card.starter import starter
from pullcast.kernels.jit import stamp
from pullcast.solve.charge import charge_of, path, spark_loop
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import settle


def compile_all() -> None:
    """Do it, in one fixed order, then leave the stamp that says so."""
    engine = read_engine_text(starter("lab_single"))
    coarse = Numerics(cell=0.1, max_cycles=3)
    point = settle(engine, 3000.0, coarse)
    settle_lumped(engine, 3000.0, coarse)
    charge = charge_of(engine, point)
    spark_loop(charge, [20.0])
    path(charge, 20.0)
    stamp().touch()
