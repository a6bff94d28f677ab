from dataclasses import replace

import pytest

from engines import single
from pullcast.answers.guard import beyond, fuel_air_efficiency
from pullcast.answers.performance import performance
from pullcast.kernels import layout as L
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import settle


@pytest.fixture(scope="module")
def point():
    return settle(single(), 3500.0, Numerics(cell=0.03))


def test_fuel_air_cycle_rises_with_ratio_and_falls_when_rich():
    """Heywood 1988, fig. 5-9 (shape): about .42 at ratio 8 stoichiometric, more with ratio, less when rich."""
    at = fuel_air_efficiency
    assert at("isooctane", 1.0, 8.0) == pytest.approx(0.425, abs=0.012)
    assert at("isooctane", 1.0, 12.0) > at("isooctane", 1.0, 8.0) + 0.04
    assert at("isooctane", 0.85, 8.0) < at("isooctane", 1.0, 8.0) - 0.03


def test_a_real_point_stays_below_the_ceiling(point):
    engine = single()
    gross = point.out[:, L.C_WORK_GROSS].sum() / (point.books[L.B_FUEL] * 44e6)
    ceiling = fuel_air_efficiency("petrol", 0.9, engine.block.compression_ratio)
    assert 0.65 < gross / ceiling < 0.92
    assert beyond(engine, point) == ""


def test_an_impossible_point_is_said(point):
    out = point.out.copy()
    out[:, L.C_WORK_GROSS] *= 1.6
    row = performance(single(), replace(point, out=out))
    assert not row["converged"]
    assert "impossible" in row["status"]
    assert "above the fuel-air cycle's" in row["status"]
