"""Tumble, front speed, crevices, Woschni's combustion term, knock delays: each against its defining equation."""

import math
from dataclasses import replace

import numpy as np
import pytest

from engines import single
from pullcast.card.engine import Burn
from pullcast.gasdata.tables import gas_table
from pullcast.kernels import layout as L
from pullcast.kernels.burn import knock_rate_he
from pullcast.kernels.chamber import cylinder_step, fire_speed
from pullcast.kernels.crank import volume
from pullcast.kernels.flame import light, sheared, turbulent_speed
from pullcast.kernels.mixture import hot_h
from pullcast.network.cylinders import cylinder_arrays

BURN = Burn("spark", ((3000.0, 25.0),), 24.0, 18.0)
FLAME = replace(BURN, law="flame", chamber="roof", squish=0.08)


def test_energy_the_tumble_loses_is_what_shear_gives():
    """Exact decay of the vortex, K ~ exp(-2 nu_t pi^2 (1/h^2 + 1/B^2) t), and nothing lost between the two."""
    g = cylinder_arrays(single(burn=FLAME), gas_table("petrol", 0.9), 3000.0).geometry
    s = np.zeros(L.S_COUNT)
    s[L.S_TUMBLE] = 0.3
    h = volume(g, 300.0) / (math.pi / 4 * g[0] ** 2)
    curve = math.pi**2 * (1 / h**2 + 1 / g[0] ** 2)
    before = 0.125 * 0.3**2 * curve
    made = sheared(s, g, 300.0, 40.0, 9000.0, 2e-4)
    assert s[L.S_TUMBLE] == pytest.approx(0.3 * math.exp(-0.09 * 40.0**2 / 9000.0 * curve * 2e-4), rel=1e-12)
    assert made == pytest.approx(before - 0.125 * s[L.S_TUMBLE] ** 2 * curve, rel=1e-9)


def test_front_speed_is_that_of_zimont():
    """0.52 u' Da^(1/4), Da = (L/u')/(chi/S_L^2), L = 0.37 u'^3/eps, chi = nu/0.7; about 1.5 to 2 u' in an engine."""
    u, e, s_l, nu = 7.0, 2.0e4, 0.9, 3.5e-6
    da = 0.37 * u**3 / e / u / (nu / 0.7 / s_l**2)
    assert turbulent_speed(u, e, s_l, nu) == pytest.approx(0.52 * u * da**0.25, rel=1e-12)
    assert 1.4 * u < turbulent_speed(u, e, s_l, nu) < 2.2 * u


def test_relighting_keeps_the_ca50_of_this_cycle():
    """A cylinder a full turn behind burns first in a cycle and is lit for the next one last."""
    burn, s, out = np.zeros(14), np.zeros(L.S_COUNT), np.zeros(L.C_COUNT)
    out[L.C_CA50], out[L.C_DURATION] = 9.0, 22.0
    light(burn, s, out, 335.0, 300.0)
    assert (out[L.C_CA50], out[L.C_DURATION]) == (9.0, 22.0)
    out[L.C_CA50] = 0.0
    light(burn, s, out, 335.0, 300.0)
    assert math.isnan(out[L.C_CA50])


@pytest.mark.parametrize(("crevice", "model"), [(0.03, "hohenberg"), (0.0, "woschni")])
def test_books_close_with_crevices_and_with_woschni(crevice, model):
    """Energy to round-off; gas hidden in crevices lowers the peak and comes back."""
    peaks = []
    for share in (0.0, crevice):
        engine = single(burn=replace(BURN, crevice=share))
        engine = replace(engine, walls=replace(engine.walls, model=model))
        gas = gas_table("petrol", 0.9)
        cyl = cylinder_arrays(engine, gas, 3000.0)
        s, theta = cyl.state[0], 240.0
        yf, yb, p, T = 0.065, 0.05, 1.1e5, 345.0
        h, R = hot_h(gas, T, p, yf, yb)
        m = p * volume(cyl.geometry, theta) / (R * T)
        s[:] = 0.0
        s[[L.S_M, L.S_FUEL, L.S_BURNED, L.S_U, L.S_P, L.S_T]] = m, m * yf, m * yb, m * (h - R * T), p, T
        U0, books = s[L.S_U], np.zeros(L.B_COUNT)
        while theta < 470.0:
            assert cylinder_step(gas, cyl, books, 0, theta, 0.5, 0.5 / 18000.0, 8.6, 95.0)
            theta += 0.5
        assert s[L.S_U] - U0 == pytest.approx(-books[L.B_WORK] - books[L.B_Q_CYL], abs=1e-9)
        assert cyl.out[0, L.C_BURNED_MASS] == pytest.approx(0.97 * m * yf, rel=4e-3)
        peaks.append(cyl.out[0, L.C_P_MAX])
    if crevice:
        assert 0.90 * peaks[0] < peaks[1] < 0.99 * peaks[0]


def test_speed_that_burning_adds_by_woschni():
    """3.24e-3 Vd Tr/(pr Vr) (p - motored): the printed form at one state."""
    g, s = np.array([0.1, 0.09, 0.15, 0.0, 8e-5, 1.2]), np.zeros(L.S_COUNT)
    assert fire_speed(g, s, 5e6, 1e-4) == 0.0
    s[[L.S_SHUT_P, L.S_SHUT_V, L.S_SHUT_T]] = 1.2e5, 7e-4, 380.0
    motored = 1.2e5 * 7.0**1.32
    swept = math.pi / 4 * 0.01 * 0.09
    assert fire_speed(g, s, 5e6, 1e-4) == pytest.approx(3.24e-3 * swept * 380.0 / (1.2e5 * 7e-4) * (5e6 - motored))


def test_knock_delay_of_he_at_a_measured_state():
    """Isooctane, phi 0.4, 15 atm, 1000 K, 15 % oxygen: the printed expression, some 100 ms over octane 100."""
    factor = 0.4**-0.77 * 15.0**-1.41
    delay = 1.3e-7 * 15.0**-1.05 * 0.4**-0.77 * 15.0**-1.41 * math.exp(33700.0 / 1.98720 / 1000.0)
    assert knock_rate_he(factor, 15 * 101325.0, 1000.0, 100.0) == pytest.approx(1.0 / delay, rel=2e-3)
