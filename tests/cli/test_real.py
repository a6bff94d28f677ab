"""The command on shipped cards, nothing replaced."""

import json
from pathlib import Path

import pytest

from pullcast import cli
from pullcast.results.curve import Curve
from pullcast.solve import jobs

ENGINES = sorted((Path(__file__).resolve().parents[2] / "configs" / "engines").glob("*.toml"))


@pytest.mark.parametrize("card", ENGINES, ids=lambda card: card.stem)
def test_check_of_every_shipped_engine(card, capsys):
    assert cli.main(["check", str(card), "--json"]) == 0
    doc = json.loads(capsys.readouterr().out)
    assert len(doc["derived"]) > 10
    assert not [f for f in doc["findings"] if f["level"] == "contradiction"]
    for row in doc["assumed"]:
        assert row["low"] <= row["value"] <= row["high"], row


def test_predict_writes_what_it_prints(tmp_path, capsys):
    card = next(c for c in ENGINES if c.stem == "lab_single")
    code = cli.main(["predict", str(card), "--speeds", "2000,2500", "--workers", "1", "--traces", "--json",
                     "--out", str(tmp_path / "out")])
    assert code == 0
    doc = json.loads(capsys.readouterr().out)
    assert doc["all_converged"]
    assert [Path(f).name for f in doc["files"]] == ["lab_single.nc", "lab_single.csv", "lab_single.png",
                                                    "lab_single_cycle.png"]
    curve = Curve.load(tmp_path / "out" / "lab_single.nc")
    for point, torque, bmep in zip(doc["points"], curve.dataset["torque"].values, curve.dataset["bmep"].values,
                                   strict=True):
        assert point["torque_Nm"] == torque
        assert 4.0 < bmep / 1e5 < 13.0
        assert point["power_kW"] == pytest.approx(torque * point["speed_rpm"] * 3.141592653589793 / 30e3)
    assert curve.dataset["cylinder_pressure"].dims == ("speed", "cylinder", "angle")
    at = curve.dataset["cylinder_pressure"].isel(speed=0, cylinder=0)
    assert 340 < int(at.idxmax()) < 400
    assert curve.dataset.attrs["card"].count("bore") >= 1


def test_predict_goes_on_from_its_store(tmp_path, capsys, monkeypatch):
    card, store = next(c for c in ENGINES if c.stem == "lab_single"), tmp_path / "points.sqlite3"
    args = ["predict", str(card), "--fidelity", "lumped", "--workers", "1", "--json", "--store", str(store)]
    marched = []
    march = jobs.solve_job

    def stopped(job):
        if len(marched) == 2:
            raise KeyboardInterrupt
        marched.append(job.rpm)
        return march(job)

    def instead(m, solve):
        m.setattr(jobs.run, "__kwdefaults__", jobs.run.__kwdefaults__ | {"solve": solve})

    with monkeypatch.context() as m:
        instead(m, stopped)
        assert cli.main([*args, "--speeds", "2000,2400,2800"]) not in (0, 3)
    capsys.readouterr()
    with monkeypatch.context() as m:
        instead(m, lambda job: marched.append(job.rpm) or march(job))
        assert cli.main([*args, "--speeds", "2000,2400,2800"]) == 0
        first = json.loads(capsys.readouterr().out)["points"]
        assert len(marched) == 3
        assert sorted(marched) == [2000.0, 2400.0, 2800.0]
        assert cli.main([*args, "--speeds", "2000,2400,2800"]) == 0
        assert len(marched) == 3
    assert json.loads(capsys.readouterr().out)["points"] == first
    assert cli.main([*args[:-2], "--speeds", "2000,2400,2800"]) == 0
    assert json.loads(capsys.readouterr().out)["points"] == first


def test_a_store_that_is_none_is_named(tmp_path, capsys):
    bad = tmp_path / "points.sqlite3"
    bad.write_text("not a store")
    assert cli.main(["predict", str(ENGINES[0]), "--speeds", "3000", "--store", str(bad)]) == 1
    assert "is not a store of pullcast" in capsys.readouterr().err
