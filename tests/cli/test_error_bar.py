"""predict --error-bar on a shipped card, nothing replaced."""

import json
from pathlib import Path

from pullcast import cli

CARD = str(Path(__file__).resolve().parents[2] / "configs" / "engines" / "vintage_twin.toml")
ASK = ["predict", CARD, "--speeds", "3000", "--cell", "60 mm", "--workers", "1", "--error-bar"]


def test_the_bar_stands_beside_the_curve(capsys):
    assert cli.main([*ASK, "--json"]) == 0
    doc = json.loads(capsys.readouterr().out)
    (row,) = doc["error_bar"]
    assert row["speed_rpm"] == 3000.0
    parts = [abs(row[k]) for k in ("cells_pct", "steps_pct", "cycles_pct")]
    assert abs(row["torque_error_pct"] - sum(parts)) < 1e-9
    assert 0.0 < row["torque_error_pct"] < 5.0
    assert cli.main(ASK) == 0
    assert "numerical error of torque within" in " ".join(capsys.readouterr().out.split())


def test_no_bar_for_the_lumped_model(capsys):
    assert cli.main([*ASK, "--fidelity", "lumped"]) == 2
    assert "--error-bar is an estimate of the wave model's error" in " ".join(capsys.readouterr().err.split())
