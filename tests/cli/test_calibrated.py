"""A calibration card from end to end: ``predict --calibration`` and ``rank --calibration``, nothing replaced."""

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from pullcast.answers.calibrate import finished
from pullcast.answers.calibration import UsedPull
from pullcast.answers.calibration_card import save_calibration
from pullcast.answers.fit import Errors, fit
from pullcast.answers.session_engine import Setting
from pullcast.answers.torque_model import TorqueModel
from pullcast.answers.unknowns import priors_of
from pullcast.card import read_engine
from pullcast.cli import main

CONFIGS = Path(__file__).parents[2] / "configs"
SPEEDS = [2000.0, 2600.0, 3200.0]
HIDDEN = {"friction.factor": 1.08, "head.flow_factor": 0.94}
LIST = """name = "Two for the single"
base = "engines/lab_single.toml"
band = { low = "2000 rpm", high = "3200 rpm", speeds = "2000 2600 3200 rpm" }
[[candidate]]
name = "ratio"
block.compression_ratio = 8.0
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Cards, a shortlist and a calibration of the lab single to pulls of known friction and flow."""
    folder = tmp_path_factory.mktemp("calibrated")
    shutil.copytree(CONFIGS, folder / "configs")
    (folder / "configs" / "shortlists" / "two.toml").write_text(LIST, encoding="utf-8")
    engine = read_engine(folder / "configs" / "engines" / "lab_single.toml")
    model = TorqueModel(engine, priors_of(engine, list(HIDDEN)), SPEEDS, fidelity="lumped", workers=1)
    seen, errors = model.torque([list(HIDDEN.values())])[0], Errors(np.full(3, 0.001), 0.002, 0.002)
    made = finished(engine, model.priors, fit(model, seen, errors), np.array(SPEEDS), seen, errors,
                    Setting(engine.day, 1.0, "observed"), "lumped", (UsedPull("day", 1, "A", "ab" * 32),),
                    datetime(2026, 5, 2, 12, 0, tzinfo=UTC))
    save_calibration(made, folder / "c.toml")
    return folder, made, seen


@pytest.fixture(autouse=True)
def own_store(monkeypatch, tmp_path_factory):
    monkeypatch.setenv("PULLCAST_STORE", str(tmp_path_factory.getbasetemp() / "calibrated.sqlite3"))


def document(args, capsys):
    assert main([*args, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_predict_stands_at_the_calibrated_values(place, capsys):
    folder, made, seen = place
    card = str(folder / "configs" / "engines" / "lab_single.toml")
    args = ["predict", card, "--speeds", "2000,2600,3200", "--fidelity", "lumped", "--workers", "1"]
    plain = [p["torque_Nm"] for p in document(args, capsys)["points"]]
    fitted = [p["torque_Nm"] for p in document([*args, "--calibration", str(folder / "c.toml")], capsys)["points"]]
    assert fitted == pytest.approx(made.after, rel=2e-3)
    assert fitted == pytest.approx(seen, rel=0.01)
    assert all(b < a for a, b in zip(plain, fitted, strict=True))
    assert fitted[-1] < 0.97 * plain[-1]


def test_rank_draws_about_the_calibrated_values(place, capsys):
    folder, made, _ = place
    args = ["rank", str(folder / "configs" / "shortlists" / "two.toml"), "--fidelity", "lumped", "--samples", "4",
            "--workers", "1"]
    plain = document(args, capsys)
    fitted = document([*args, "--calibration", str(folder / "c.toml")], capsys)
    assert fitted["base"]["torque_Nm"] == pytest.approx(made.after, rel=5e-3)  # the middle of four draws
    assert fitted["base"]["torque_Nm"][2] < 0.985 * plain["base"]["torque_Nm"][2]
    for d in (plain, fitted):
        one = d["candidates"][0]
        assert one["gain_low_percent"] < one["gain_percent"] < one["gain_high_percent"]


def test_a_calibration_of_another_engine_is_refused(place, capsys):
    folder, _, _ = place
    card = str(folder / "configs" / "engines" / "club_four.toml")
    assert main(["predict", card, "--calibration", str(folder / "c.toml")]) == 2
    assert "does not fit" in capsys.readouterr().err
    search = str(folder / "configs" / "shortlists" / "four_runner_search.toml")
    assert main(["rank", search, "--calibration", str(folder / "c.toml"), "--no-store"]) == 2
    assert "does not fit" in capsys.readouterr().err


def test_a_search_stands_at_the_calibrated_values(place, capsys):
    folder, made, _ = place
    path = folder / "configs" / "shortlists" / "range.toml"
    ranges = "[search]\nblock.compression_ratio = { from = 6, to = 7 }\n"
    path.write_text(LIST.split("[[")[0] + ranges, encoding="utf-8")
    args = ["rank", str(path), "--fidelity", "lumped", "--workers", "1"]
    plain = document(args, capsys)
    fitted = document([*args, "--calibration", str(folder / "c.toml")], capsys)
    band = np.trapezoid(made.after, SPEEDS) / (SPEEDS[-1] - SPEEDS[0])
    assert fitted["base_score"] == pytest.approx(band, rel=5e-3)
    assert fitted["base_score"] < 0.985 * plain["base_score"]
    at = [t["gain_percent"] for t in fitted["trends"]]
    own = np.interp(6.6, fitted["trends"][0]["at"], at[0])  # the card's own ratio: every place is calibrated too
    assert own == pytest.approx(0.0, abs=0.3)
