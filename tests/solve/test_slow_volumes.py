"""Volumes that hold many cycles' air: settled, not merely slow to change."""

from dataclasses import replace

import numpy as np
import pytest

from engines import single
from pullcast.card.engine import End, Tract, Volume
from pullcast.kernels import layout as L
from pullcast.solve.cycle import prepare
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import settle
from pullcast.solve.slow_volumes import LEAP, SlowVolumes


def boxed():
    """The single behind a warm 40 L air box."""
    engine = single()
    inlet = engine.intake.pipes[0]
    snorkel = replace(inlet, name="snorkel", end=End("box", loss_in=0.1))
    runner = replace(inlet, start=End("box", loss_in=0.1))
    return replace(engine, intake=Tract("i", (snorkel, runner), (Volume("box", 0.04, 360.0, 0.7),)))


def test_air_in_is_air_used_when_it_counts_as_converged():
    p = settle(boxed(), 3000.0, Numerics(cell=0.03))
    assert p.converged
    used = p.out[:, L.C_AIR].sum()
    assert p.books[L.B_AIR_IN] == pytest.approx(used, rel=3e-3)
    assert p.node_temperature["box"] > 300.0


def test_an_extrapolation_never_leaps():
    """Changes that hardly fall would put the limit far away, below absolute zero even: the step is bounded."""
    running = prepare(boxed(), 3000.0, Numerics(cell=0.03))
    nodes = running.model.nodes
    slow = SlowVolumes(nodes, running.model.gas, running.model.cylinders.state[:, L.S_M].sum())
    assert slow.matter
    start = nodes.T[1]
    for T in (start, start - 20.0, start - 39.9, start - 59.7):
        nodes.T[1] = T
        moved = slow.hurry()
    assert moved
    assert nodes.T[1] == pytest.approx((start - 59.7) * (1 - LEAP))
    assert (nodes.m > 0).all()
    assert np.isfinite(nodes.U).all()


def test_the_lumped_model_waits_for_the_box_too():
    p = settle_lumped(boxed(), 3000.0)
    assert p.converged
    assert p.books[L.B_AIR_IN] == pytest.approx(p.out[:, L.C_AIR].sum(), rel=3e-3)
    assert abs(p.mass_residual) < 1e-10
    assert abs(p.energy_residual) < 1e-6
