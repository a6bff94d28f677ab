import subprocess
import sys
import time
from importlib import resources

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pullcast.errors import InputError
from pullcast.gasdata import nodes
from pullcast.gasdata.fuels import FUELS
from pullcast.gasdata.tables import gas_table
from pullcast.kernels.gas import NCP

polyval = np.polynomial.polynomial.polyval
fuels = st.sampled_from(sorted(FUELS))
lambdas = st.floats(0.70, 1.40)
humidities = st.floats(0.0, 0.035)


@settings(deadline=None, max_examples=60)
@given(fuels, lambdas, humidities)
def test_every_table_is_physical(key, lam, w):
    gas = gas_table(key, lam, w)
    assert gas.R.shape == (3,)
    assert gas.cp.shape == (3, NCP)
    assert gas.h.shape == (3, NCP + 1)
    assert gas.eq_dh.shape == gas.eq_dR.shape == (int(gas.eq_T[2]), int(gas.eq_lnp[2]))
    for array in gas:
        assert array.dtype == np.float64
        assert array.flags.c_contiguous
        assert np.isfinite(array).all()
    T = np.linspace(60.0, 6000.0, 100) * 1e-3  # the solver's Newton steps may stray this far
    cp = polyval(T, gas.cp.T)
    assert (cp[[0, 2]] > gas.R[[0, 2], None]).all()
    assert (cp[1] > 0.0).all()
    assert (gas.eq_dh[-1] > 0).all()  # dissociation takes heat
    assert (np.diff(gas.eq_dh[-1]) < 0).all()  # less of it under pressure
    T, _ = nodes.grid_axes()
    # CO2 dissociation (189 kJ/mol per CO, as p^-1/3) at 250 bar reaches that of 1700 K, 5 bar at 1884 K
    assert (gas.eq_dh[T >= 1900.0] > 0.0).all()
    assert gas.eq_dh.min() > -3500.0  # above 5 bar gas near 1700 K is less dissociated than where it was frozen


@settings(deadline=None, max_examples=40)
@given(fuels, lambdas, humidities)
def test_elements_tie_the_three_gases_together(key, lam, w):
    """Burning at 298 K to the frozen composition releases no more than the heating value, and all of it when lean."""
    gas = gas_table(key, lam, w)
    _, _, afr, _, lhv, _ = gas.mix
    fuel = 1.0 / (1.0 + afr)
    released = (1.0 - fuel) * gas.hf[0] + fuel * gas.hf[1] - gas.hf[2]
    assert released <= fuel * lhv * 1.0001
    if lam > 1.02:
        assert released > 0.993 * fuel * lhv  # the rest is CO, H2, NO and OH frozen at 1700 K
    elif lam < 0.98:
        assert released < fuel * lhv * lam * 1.08


@settings(deadline=None, max_examples=40)
@given(fuels, st.floats(0.701, 1.399))
def test_no_jump_between_lambda_nodes(key, lam):
    a, b = gas_table(key, lam - 1e-6), gas_table(key, lam + 1e-6)
    for name in ("R", "hf"):
        assert getattr(b, name) == pytest.approx(getattr(a, name), rel=1e-5)
    assert np.abs(a.eq_dh - b.eq_dh).max() < 60.0


def test_stoichiometric_and_actual_air_fuel_ratio_carry_the_moisture():
    dry, wet = gas_table("petrol", 0.9), gas_table("petrol", 0.9, 0.02)
    assert wet.mix[0] == pytest.approx(dry.mix[0] * 1.02, rel=1e-12)
    assert wet.mix[2] == pytest.approx(wet.mix[0] * 0.9, rel=1e-12)
    assert wet.R[0] > dry.R[0]  # moist air is lighter


def test_increment_fades_out_below_1500_K():
    gas = gas_table("petrol", 0.88)
    T, _ = nodes.grid_axes()
    assert not gas.eq_dh[T <= 1500.0].any()
    assert gas.eq_dh[T > 1800.0].all()
    assert gas.eq_T.tolist() == [T[0], T[1] - T[0], T.size]


@pytest.mark.parametrize(("lam", "w", "text"), [
    (0.5, 0.0, "lambda 0.5 is outside the gas tables: give a value from 0.7 to 1.4"),
    (float("nan"), 0.0, "lambda nan is outside"),
    (1.0, -0.001, "humidity ratio -0.001 is outside the gas tables: give a value from 0 to 0.035"),
    (1.0, 0.2, "humidity ratio 0.2 is outside"),
])
def test_outside_values_are_refused(lam, w, text):
    with pytest.raises(InputError, match=text):
        gas_table("petrol", lam, w)


def test_unknown_fuel_is_refused():
    with pytest.raises(InputError, match="did you mean methanol"):
        gas_table("methanoll", 1.0)


def test_callers_cannot_spoil_each_others_tables():
    gas = gas_table("petrol", 0.91)
    gas.cp[:] = 0.0
    assert gas_table("petrol", 0.91).cp.min() != 0.0


def test_loading_is_quick_and_small():
    gas_table("petrol", 0.80)
    begin = time.perf_counter()
    for k in range(20):
        gas_table("petrol", 0.80 + 0.001 * k, 0.01)
    assert (time.perf_counter() - begin) / 20 < 0.005
    folder = resources.files("pullcast.gasdata") / "data"
    files = [f for f in folder.iterdir() if f.name.endswith(".npz")]
    assert sorted(f.name[:-4] for f in files) == sorted(FUELS)
    assert sum(len(f.read_bytes()) for f in files) < 1.5e6


def test_serving_tables_does_not_import_cantera():
    code = ("import sys; from pullcast.gasdata.tables import gas_table; import pullcast.gasdata.burning; "
            "gas_table('petrol', .88); sys.exit('cantera' in sys.modules)")
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
