"""The command on shipped cards, nothing replaced."""

import json
from pathlib import Path

import pytest

from pullcast import cli
from pullcast.results.curve import Curve

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
