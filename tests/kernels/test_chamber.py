"""The cylinder alone: compression against the isentrope, burning against an adiabatic reference, energy books."""

import numpy as np
import pytest

from engines import single
from pullcast.gasdata.tables import gas_table
from pullcast.kernels import layout as L
from pullcast.kernels.chamber import burned_composition, cylinder_step
from pullcast.kernels.crank import volume
from pullcast.kernels.gas import perfect_gas
from pullcast.kernels.mixture import hot_h
from pullcast.network.cylinders import cylinder_arrays

GAS = gas_table("petrol", 0.9)


def closed_run(gas, start, stop, *, burn=True, walls=False, step=0.25):
    """March one cylinder with shut valves from ``start`` to ``stop`` deg; returns cylinders, books and the path."""
    cyl = cylinder_arrays(single(), GAS, 3000.0)
    cyl.walls[4] = 1.0 if walls else 0.0
    if not burn:
        cyl.burn[4] = 0.0
    s = cyl.state[0]
    yf, yb, p, T = 0.06, 0.05, 1.1e5, 340.0
    h, R = hot_h(gas, T, p, yf, yb)
    V = volume(cyl.geometry, start)
    m = p * V / (R * T)
    s[:] = 0.0
    s[[L.S_M, L.S_FUEL, L.S_BURNED, L.S_U, L.S_P, L.S_T]] = m, m * yf, m * yb, m * (h - R * T), p, T
    books = np.zeros(L.B_COUNT)
    path, theta = [], start
    while theta < stop - 1e-9:
        assert cylinder_step(gas, cyl, books, 0, theta, step, step / 18000.0, 8.6, 95.0)
        theta += step
        path.append((theta, s[L.S_P], s[L.S_T]))
    return cyl, books, np.array(path), (m, m * (h - R * T))


def test_adiabatic_compression_is_isentropic():
    gas = perfect_gas(1.35, 290.0)
    cyl, _, path, _ = closed_run(gas, 260.0, 359.0, burn=False)
    V0, V1 = volume(cyl.geometry, 260.0), volume(cyl.geometry, 359.0)
    assert path[-1, 1] == pytest.approx(1.1e5 * (V0 / V1) ** 1.35, rel=2e-5)


def test_energy_closes_through_a_burn_with_heat_loss():
    cyl, books, _, (_, U0) = closed_run(GAS, 260.0, 470.0, walls=True)
    s = cyl.state[0]
    assert s[L.S_U] - U0 == pytest.approx(-books[L.B_WORK] - books[L.B_Q_CYL], abs=1e-9)
    assert books[L.B_Q_CYL] > 0
    assert cyl.out[0, L.C_BURNED_MASS] > 0


def test_burn_reaches_the_stated_ca50_and_a_plausible_peak():
    cyl, books, path, _ = closed_run(GAS, 260.0, 470.0)
    assert cyl.out[0, L.C_CA50] == pytest.approx(8.0, abs=0.1)
    assert 25e5 < cyl.out[0, L.C_P_MAX] < 90e5
    assert 360.0 < path[path[:, 1].argmax(), 0] < 385.0
    assert books[L.B_WORK] > 0


def test_step_size_does_not_matter():
    work = [closed_run(GAS, 260.0, 470.0, step=s)[1][L.B_WORK] for s in (0.5, 0.125)]
    assert work[0] == pytest.approx(work[1], rel=1e-3)


def test_elements_are_kept_by_burning():
    yf, yb = burned_composition(GAS.mix[2], 0.97, 0.06, 0.05)
    fuel_burned = 0.06 - yf
    assert yb - 0.05 == pytest.approx(fuel_burned * (1 + GAS.mix[2]))
    assert fuel_burned <= 0.97 * 0.06 + 1e-12


def test_lean_mixture_is_limited_by_fuel_and_rich_by_air():
    lean, _ = burned_composition(GAS.mix[2], 1.0, 0.03, 0.0)
    rich, _ = burned_composition(GAS.mix[2], 1.0, 0.12, 0.0)
    assert lean == pytest.approx(0.0, abs=1e-12)
    assert rich > 0.05
