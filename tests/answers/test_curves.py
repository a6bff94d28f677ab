import numpy as np
import pytest

from engines import single, twin
from pullcast.answers.curves import predict
from pullcast.errors import InputError, SolveError


@pytest.fixture(scope="module")
def curve():
    return predict(twin(), speeds=[2500, 4500], cell=0.03, workers=1, traces=True)


def test_numbers_hang_together(curve):
    d = curve.dataset
    assert d["power"].values == pytest.approx(d["torque"].values * d["speed"].values * np.pi / 30)
    assert d["bmep"].values == pytest.approx((d["imep"] - d["fmep"]).values)
    assert d["imep"].values == pytest.approx((d["gross_imep"] + d["pmep"]).values)
    assert (d["pmep"].values < 0).all()
    assert d["airflow"].values / d["fuel_flow"].values == pytest.approx(0.9 * 14.6, rel=0.02)


def test_numbers_are_those_of_an_engine(curve):
    d = curve.dataset
    assert ((d["volumetric_efficiency"] > 0.6) & (d["volumetric_efficiency"] < 1.15)).all()
    assert ((d["bsfc"] * 3.6e9 > 210) & (d["bsfc"] * 3.6e9 < 380)).all()
    assert ((d["residual_fraction"] > 0.005) & (d["residual_fraction"] < 0.25)).all()
    assert ((d["exhaust_temperature"] > 800) & (d["exhaust_temperature"] < 1700)).all()
    assert (d["inlet_mach_index"] < 0.8).all()


def test_traces_show_where_gas_goes(curve):
    d = curve.dataset.isel(speed=1, cylinder=0)
    closed = (d["intake_lift"].values == 0) & (d["exhaust_lift"].values == 0)
    assert closed.sum() > 100
    assert np.abs(d["intake_mass_flow"].values[closed]).max() < 1e-9
    per_cycle = d["intake_mass_flow"].values.sum() / (6 * 4500)
    assert per_cycle == pytest.approx(float(d["trapped_mass"]) * (1 - float(d["residual_fraction"])), rel=0.06)


def test_speeds_are_checked():
    with pytest.raises(InputError, match="speed 0 rpm is outside 200 to 25000"):
        predict(single(), speeds=[0])
    with pytest.raises(InputError, match="no speed to predict at"):
        predict(single(), speeds=[])


def test_a_speed_that_breaks_down_leaves_the_others(monkeypatch):
    from pullcast.solve import sweep

    real = sweep.settle

    def moody(engine, rpm, numerics, **kw):
        if rpm > 4000:
            raise SolveError("a volume ran empty", rpm=rpm, angle_deg=12.0, component="volume 'plenum'")
        return real(engine, rpm, numerics, **kw)

    monkeypatch.setattr(sweep, "settle", moody)
    curve = predict(single(), speeds=[3000, 5000], cell=0.03, workers=1)
    assert curve.failures[0][0] == 5000
    assert "volume 'plenum'" in curve.failures[0][1]
    assert curve.peak_torque.rpm == 3000
    with pytest.raises(SolveError, match="no speed could be computed"):
        predict(single(), speeds=[5000], workers=1)


def test_stations_record_the_gas_in_a_pipe():
    curve = predict(single(), speeds=[3000], cell=0.03, workers=1, stations=[("outlet", 0.3), ("inlet", 0.1)])
    d = curve.dataset.isel(speed=0)
    assert list(d["station"].values) == ["outlet, 300 mm", "inlet, 100 mm"]
    assert d["station_temperature"].values[0].mean() > 700
    assert d["station_temperature"].values[1].mean() < 400
    assert np.ptp(d["station_pressure"].values[0]) > 5e3
    with pytest.raises(InputError, match="no pipe is called 'runner 9'; this engine has: inlet, outlet"):
        predict(single(), speeds=[3000], stations=[("runner 9", 0.1)])
    with pytest.raises(InputError, match="station 5000 mm is not on pipe 'outlet', which is 670 mm long"):
        predict(single(), speeds=[3000], stations=[("outlet", 5.0)])
    with pytest.raises(InputError, match="stations along a pipe need the wave model"):
        predict(single(), speeds=[3000], stations=[("outlet", 0.3)], fidelity="lumped")


def test_a_path_where_an_engine_belongs_says_what_to_do():
    with pytest.raises(InputError, match=r"predict wants an engine, not 'x.toml': read the card first"):
        predict("x.toml")
