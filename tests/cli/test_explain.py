"""``pullcast explain`` as typed."""

import json
from pathlib import Path

import pytest

from pullcast.cli import main

CARD = str(Path(__file__).parents[2] / "configs" / "engines" / "lab_single.toml")
QUICK = ["--fidelity", "lumped", "--speeds", "1600,2800", "--workers", "1"]


@pytest.fixture(autouse=True)
def _store(monkeypatch, tmp_path):
    monkeypatch.setenv("PULLCAST_STORE", str(tmp_path / "store" / "points.sqlite3"))


def test_the_page(capsys, tmp_path):
    swaps = ["--swap", "block.compression_ratio=8.6", "--swap", "cam.advance=8 deg"]
    assert main(["explain", CARD, *swaps, *QUICK, "--units", "us", "--out", str(tmp_path / "d")]) == 0
    out = capsys.readouterr().out
    assert "Compression (6.6 to 8.6)" in out
    assert "lb-ft" in out
    assert "by the lumped model" in " ".join(out.split())
    assert "planning estimate" in out
    assert {p.name for p in (tmp_path / "d").iterdir()} == {"lab_single_explained.png", "lab_single_explained.json"}


def test_json_alone_on_stdout(capsys):
    assert main(["explain", CARD, "--swap", "block.compression_ratio=8.6", *QUICK, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert [a["attribute"] for a in document["attributes"]] == ["compression"]
    assert document["band_difference_pct"] > 1.0
    assert document["attributes"][0]["band_pct"] == pytest.approx(document["band_difference_pct"])
    assert document["ledgers"] is None
    assert document["files"] == []


@pytest.mark.parametrize(("args", "text"), [
    (["--swap", "intake"], "give what is changed and what it becomes, as intake=OTHER.toml"),
    (["--swap", "cam.advance=2 deg", "--swap", "cam.advance=4 deg"], "cam.advance is swapped twice"),
    (["--swap", "intake=nowhere.toml"], "nowhere.toml"),
    (["--swap", "cam.advance=2 deg", "--band", "slow"], "--band 'slow': give two speeds in rpm, as 3000:6000"),
    (["--swap", "cam.advance=2 deg", "--out", "x.docx"], "ending in .png, .svg, .pdf, .json, not .docx"),
    (["--swap", "cam.advance=2 deg", "--out", "no/such/x.png"], "there is no folder"),
])
def test_bad_input_is_told_plainly(capsys, args, text):
    assert main(["explain", CARD, *args, *QUICK]) == 2
    assert text in capsys.readouterr().err
