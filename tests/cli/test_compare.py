"""``pullcast compare`` and ``pullcast calibrate`` as typed: the page, JSON alone, ledger, files, errors."""

import json

import numpy as np
import pytest

import model_days
from pullcast.answers.lock import lock
from pullcast.answers.spread import Spread
from pullcast.cli import main

RPM = np.arange(2200.0, 5601.0, 200.0)


def torque(gain=0.0):
    return (1 + gain) * (44.0 - 4.0 * ((RPM - 3900.0) / 1500.0) ** 2)


@pytest.fixture
def day(tmp_path):
    return model_days.write_day(tmp_path, {"A": (RPM, torque()), "B": (RPM, torque(0.04))}, "AAABBBAAA", noise=0.002)


@pytest.fixture
def sealed(tmp_path):
    spread = Spread(("walls.factor",), RPM, np.full((RPM.size, 1), 0.02))
    curves = {"first": torque(0.01), "second": torque(0.03)}
    lock(tmp_path / "s.lock.json", {k: spread.attach(model_days.curve(RPM, v)) for k, v in curves.items()})
    return tmp_path / "s.lock.json"


def test_the_page_of_a_sealed_forecast(day, sealed, capsys, tmp_path):
    args = ["compare", str(day), "--lock", str(sealed), "--forecast", "A=first", "--forecast", "B = second"]
    assert main([*args, "--ledger", str(tmp_path / "l.jsonl"), "--units", "us"]) == 0
    out = capsys.readouterr().out
    assert "forecast sealed" in out
    assert "lb-ft" in out
    assert "right" in out
    assert "ledger of 1 comparison, 1 sealed" in out
    assert "planning estimate" in out
    assert main([*args, "--ledger", str(tmp_path / "l.jsonl")]) == 2
    assert "a pull scores a forecast once" in capsys.readouterr().err


def test_json_alone_and_files(day, sealed, capsys, tmp_path):
    args = ["compare", str(day), "--lock", str(sealed), "--forecast", "A=first", "--forecast", "B=second"]
    assert main([*args, "--json", "--ledger", str(tmp_path / "l.jsonl"), "--out", str(tmp_path / "d")]) == 0
    document = json.loads(capsys.readouterr().out)
    assert [p["error_percent"] for p in document["parts"]] == pytest.approx([1.0, -1.0], abs=0.5)
    assert document["differences"][0]["sign_agrees"] is True
    assert document["differences"][0]["predicted_percent"] == pytest.approx(100 * (1.03 / 1.01 - 1), abs=0.01)
    assert document["ledger"]["coverage"]["80%"]["count"] == 2
    assert {p.name for p in (tmp_path / "d").iterdir()} == {"day.png", "day.json"}
    assert main(["compare", "--ledger", str(tmp_path / "l.jsonl"), "--json", "--out", str(tmp_path / "l.svg")]) == 0
    assert json.loads(capsys.readouterr().out)["comparisons"] == 1
    assert (tmp_path / "l.svg").read_text().startswith("<?xml")


def test_a_saved_curve_is_compared(day, tmp_path, capsys):
    model_days.curve(RPM, torque(0.02)).save(tmp_path / "b.nc")
    assert main(["compare", str(day), "--forecast", f"B={tmp_path / 'b.nc'}", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert [p["part"] for p in document["parts"]] == ["B"]
    assert document["parts"][0]["inside"] is None
    assert "part A (short pipe) has no forecast" in document["notes"]


@pytest.mark.parametrize(("args", "said"), [
    (["compare"], "name the session card"),
    (["compare", "DAY", "--forecast", "B"], "write PART=NAME, each part once"),
    (["compare", "DAY", "--forecast", "B=x.nc", "--quick"], "a forecast made before stays as it is"),
    (["compare", "DAY", "--dyno", "40 %"], "give 0 to 20 %"),
    (["compare", "DAY"], "names no engine card"),
    (["compare", "--ledger", "none.jsonl"], "there is no such ledger yet"),
    (["calibrate", "DAY"], "names no engine card"),
    (["calibrate", "DAY", "--out", "c.docx"], "ending in .toml, .png, .svg, .pdf, .json, not .docx"),
    (["calibrate", "DAY", "--model-error", "x"], "does not start with a number"),
    (["predict", "DAY", "--calibration", "none.toml"], "problem"),
])
def test_bad_input_is_told_plainly(args, said, day, capsys, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PULLCAST_STORE", str(tmp_path / "points.sqlite3"))
    assert main([str(day) if a == "DAY" else a for a in args]) == 2
    assert said in capsys.readouterr().err


def test_an_unknown_that_cannot_be_fitted(capsys, monkeypatch, tmp_path):
    from pathlib import Path

    monkeypatch.setenv("PULLCAST_STORE", str(tmp_path / "points.sqlite3"))
    session = Path(__file__).parents[2] / "configs" / "sessions" / "intake_day.toml"
    assert main(["calibrate", str(session), "--unknown", "friction"]) == 2
    assert "'friction' cannot be calibrated. Did you mean 'friction.factor'" in capsys.readouterr().err
