import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.gasdata.tables import gas_table
from pullcast.kernels.gas import mix_cp, mix_h, mix_R, perfect_gas
from pullcast.kernels.mixture import closed_state, hot_h, temperature_frozen

GAS = gas_table("petrol", 0.88)
temperatures = st.floats(230.0, 2200.0)
fractions = st.tuples(st.floats(0.0, 0.1), st.floats(0.0, 0.9))


@given(temperatures, fractions)
def test_enthalpy_is_the_integral_of_cp(T, y):
    d = 0.01
    slope = (mix_h(GAS, T + d, *y) - mix_h(GAS, T - d, *y)) / (2 * d)
    assert slope == pytest.approx(mix_cp(GAS, T, *y), rel=1e-6)


@given(temperatures, fractions)
def test_temperature_from_energy_returns(T, y):
    e = mix_h(GAS, T, *y) - mix_R(GAS, *y) * T
    assert temperature_frozen(GAS, e, 700.0, *y) == pytest.approx(T, rel=1e-8)


@given(st.floats(300.0, 3000.0), st.floats(0.0, 1.0))
def test_cylinder_temperature_from_energy_returns(T, yb):
    """Equilibrium increments included: state -> energy -> state."""
    V, m, yf = 2e-4, 6e-4, 0.0
    R = mix_R(GAS, yf, yb)
    p = m * R * T / V
    for _ in range(50):
        h, R = hot_h(GAS, T, p, yf, yb)
        p = m * R * T / V
    T1, p1, _ = closed_state(GAS, m * (h - R * T), V, m, 0.0, m * yb, 1000.0)
    assert pytest.approx(T, rel=1e-5) == T1
    assert p1 == pytest.approx(p, rel=1e-5)


def test_perfect_gas_is_perfect():
    gas = perfect_gas(1.3, 300.0)
    for T in np.linspace(200, 3000, 9):
        cp = mix_cp(gas, T, 0.1, 0.4)
        assert cp / (cp - mix_R(gas, 0.1, 0.4)) == pytest.approx(1.3, rel=1e-12)
    assert mix_h(gas, 298.15, 0.0, 0.0) == pytest.approx(0.0, abs=1e-6)
