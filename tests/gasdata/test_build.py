import numpy as np
import pytest

from pullcast.gasdata import build, cantera_tables, nodes
from pullcast.gasdata.tables import _stored, gas_table


def test_a_rebuilt_file_equals_the_shipped_one(tmp_path):
    pytest.importorskip("cantera")
    path = build.write_fuel("methanol", tmp_path)
    shipped = _stored("methanol")
    with np.load(path, allow_pickle=False) as fresh:
        assert set(fresh.files) == set(shipped)
        for name in fresh.files:
            scale = np.abs(shipped[name]).max()
            # cp coefficients of a sixth-degree fit magnify round-off; increments are stored in single precision
            assert np.allclose(fresh[name], shipped[name], rtol=1e-6, atol=2e-6 * scale), name


def test_main_writes_where_told_and_says_so(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(cantera_tables, "fuel_file", lambda key: {"key": np.array(len(key))})
    build.main(["e10", "--out", str(tmp_path / "new")])
    assert (tmp_path / "new" / "e10.npz").exists()
    assert capsys.readouterr().out.startswith("e10.npz: ")


def test_table_meets_cantera_at_a_node_and_between():
    for lam, w, limit in ((0.89, 0.0, 700.0), (0.87, 0.012, 1500.0)):
        gas = gas_table("petrol", lam, w)
        T, lnp = nodes.grid_axes()
        i, j = 70, 20
        h, R, _ = cantera_tables.burned("petrol", lam, w, T[i], float(np.exp(lnp[j])))
        mine = gas.hf[2] + np.polynomial.polynomial.polyval(T[i] * 1e-3, gas.h[2]) + gas.eq_dh[i, j]
        assert abs(mine - h) < limit
        assert abs(gas.R[2] + gas.eq_dR[i, j] - R) < 0.02


def test_start_composition_of_very_rich_mixture_keeps_the_elements():
    gas = cantera_tables._loaded(cantera_tables.charge("methanol", 0.3, 0.0))
    start = cantera_tables._to_products(gas, gas.X)
    assert min(start.values()) >= 0.0
    hydrogen = sum(gas.X[k] * gas.n_atoms(k, "H") for k in range(gas.n_species))
    assert 2 * (start["H2O"] + start["H2"]) == pytest.approx(hydrogen)


def test_moist_air_holds_its_water():
    moles = cantera_tables.humid_air(0.02)
    gas = cantera_tables._loaded(moles)
    water = gas.Y[gas.species_index("H2O")]
    assert water == pytest.approx(0.02 / 1.02, rel=1e-9)
