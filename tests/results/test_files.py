import csv
import json

import numpy as np
import pytest

from pullcast.errors import InputError, StoreError
from pullcast.results.curve import Curve
from pullcast.results.files import write_whole
from pullcast.results.records import document, rows


@pytest.mark.parametrize("failed", [(), (1,)])
def test_netcdf_round_trip(tmp_path, sample_curve, failed):
    curve = sample_curve(failed=failed, traces=True).corrected(1.01, "j1349", "note")
    path = curve.save(tmp_path / "pull.nc")
    back = Curve.load(path)
    assert set(back.dataset) == set(curve.dataset)
    for name in curve.dataset:
        a, b = curve.dataset[name], back.dataset[name]
        if name == "status":
            assert a.values.tolist() == b.values.tolist()
        else:
            np.testing.assert_array_equal(a.values, b.values, err_msg=name)
        assert b.attrs["units"] == a.attrs["units"]
        assert b.dtype.kind == a.dtype.kind, name
    assert back.dataset.attrs == curve.dataset.attrs
    assert repr(back) == repr(curve)
    assert back.dataset.attrs["card"].endswith("# ±\n")
    assert [p.name for p in tmp_path.iterdir()] == ["pull.nc"]


def test_saving_twice_replaces(tmp_path, sample_curve):
    sample_curve().save(tmp_path / "a.nc")
    sample_curve(speeds=(1000, 2000)).save(tmp_path / "a.nc")
    assert Curve.load(tmp_path / "a.nc").speeds.tolist() == [1000, 2000]


def test_a_failed_write_leaves_nothing(tmp_path):
    def broken(path):
        path.write_text("half")
        raise OSError(28, "No space left on device")

    (tmp_path / "old.csv").write_text("whole")
    with pytest.raises(StoreError, match=r"old.csv: cannot be written \(No space left on device\)"):
        write_whole(tmp_path / "old.csv", broken)
    assert [p.name for p in tmp_path.iterdir()] == ["old.csv"]
    assert (tmp_path / "old.csv").read_text() == "whole"


def test_missing_folder(tmp_path, sample_curve):
    with pytest.raises(StoreError, match=r"No such file or directory.*Choose a folder that exists"):
        sample_curve().save(tmp_path / "none" / "a.csv")


def test_wrong_suffix(tmp_path, sample_curve):
    with pytest.raises(InputError, match=r"a curve is saved as \.nc or \.csv, not \.xlsx"):
        sample_curve().save(tmp_path / "a.xlsx")


def test_loading_what_is_not_a_result(tmp_path):
    with pytest.raises(InputError, match="no such result file"):
        Curve.load(tmp_path / "none.nc")
    bad = tmp_path / "bad.nc"
    bad.write_text("not netcdf")
    with pytest.raises(StoreError, match="cannot be read as netCDF"):
        Curve.load(bad)
    import xarray as xr

    xr.Dataset({"x": ("t", [1.0])}).to_netcdf(tmp_path / "other.nc", engine="h5netcdf")
    with pytest.raises(StoreError, match="is netCDF but not a result of pullcast"):
        Curve.load(tmp_path / "other.nc")


def test_a_newer_layout_is_refused(tmp_path, sample_curve):
    path = tmp_path / "new.nc"
    sample_curve().dataset.assign_attrs(pullcast_result=99).to_netcdf(path, engine="h5netcdf")
    with pytest.raises(StoreError, match="written in layout 99 by a newer pullcast"):
        Curve.load(path)


def test_csv(tmp_path, sample_curve):
    curve = sample_curve(failed=(1,))
    with curve.save(tmp_path / "a.csv", "us").open(encoding="utf-8", newline="") as file:
        body = list(csv.DictReader(file))
    assert [float(r["speed_rpm"]) for r in body] == curve.speeds.tolist()
    assert float(body[0]["torque_lbft"]) == pytest.approx(curve.dataset["torque"].values[0] / 1.3558179483)
    assert body[1]["torque_lbft"] == ""
    assert body[1]["status"].startswith("broke down")
    assert body[0]["basis"] == "observed"
    assert float(body[0]["trapped_mass_mg_cyl4"]) == pytest.approx(1.03 * 1100)


def test_csv_leaves_traces_out(sample_curve):
    header, _ = rows(sample_curve(traces=True).dataset)
    assert not [h for h in header if "lift" in h]


def test_document_is_strict_json(sample_curve):
    curve = sample_curve(failed=(0,), traces=True)
    doc = json.loads(json.dumps(document(curve), allow_nan=False))
    assert doc["points"][0]["torque_Nm"] is None
    assert doc["points"][0]["converged"] is False
    assert doc["points"][1]["torque_Nm"] == pytest.approx(curve.dataset["torque"].values[1])
    assert len(doc["points"][1]["cylinder_pressure_kPa"]) == 4
    assert len(doc["points"][1]["cylinder_pressure_kPa"][0]) == 720
    assert doc["peak_power"]["power_kW"] == pytest.approx(curve.peak_power.value / 1e3)
    assert doc["weather"] == {"pressure_kPa": pytest.approx(98.9), "temperature_degC": pytest.approx(22.0),
                              "humidity_pct": pytest.approx(45.0)}
    assert doc["all_converged"] is False


@pytest.mark.parametrize(("spoil", "message"), [
    (lambda d: d.attrs.pop("source"), "no source"),
    (lambda d: d.attrs.update(displacement="big"), "displacement is 'big'"),
    (lambda d: d.attrs.update(assumed="[1]"), "what was assumed is broken"),
    (lambda d: d.attrs.update(assumed="["), "what was assumed is broken"),
    (lambda d: d.attrs.update(pullcast_result="x"), "its layout 'x' is none"),
    (lambda d: d.update({"junk": d["torque"]}), "unknown variable 'junk'"),
    (lambda d: d.update({"bmep": ("other", [1.0])}), "bmep over other"),
    (lambda d: d.update({"power": d["status"]}), "power without numbers"),
    (lambda d: d.update({"speed": d["speed"].values[::-1]}), "speeds that do not rise")])
def test_a_spoilt_result_is_refused_in_words(sample_curve, tmp_path, spoil, message):
    dataset = sample_curve().dataset.copy()
    dataset.attrs["pullcast_result"] = 1
    spoil(dataset)
    path = tmp_path / "spoilt.nc"
    dataset.to_netcdf(path, engine="h5netcdf")
    with pytest.raises(StoreError, match=message):
        Curve.load(path)
