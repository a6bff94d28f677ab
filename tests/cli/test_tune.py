"""``pullcast tune`` on a shipped card, lumped so that it is quick."""

import json
from pathlib import Path

import pytest

from pullcast import cli

CARD = Path(__file__).parents[2] / "configs" / "engines" / "vintage_twin.toml"
QUICK = ("--fidelity", "lumped", "--speeds", "2500,4500", "--workers", "1")


def run(capsys, *args):
    code = cli.main(["tune", str(CARD), *args])
    done = capsys.readouterr()
    return code, done.out, done.err


def test_tables_and_lines_for_the_card(capsys):
    code, out, _ = run(capsys, *QUICK, "--units", "us")
    assert code == 0
    for text in ("held back where the end gas would knock", "lb-ft", "best economy", 'speeds = "2500 4500 rpm"',
                 "spark_at_speeds", "Each of 2 injectors at 80 % duty", "A planning estimate"):
        assert text in " ".join(out.split())


def test_json_and_files(capsys, tmp_path):
    code, out, _ = run(capsys, *QUICK, "--tune", "mbt", "--once", "--json", "--out", str(tmp_path))
    assert code == 0
    got = json.loads(out)
    assert [s["speed_rpm"] for s in got["speeds"]] == [2500.0, 4500.0]
    assert all(s["spark_deg"] == s["mbt_deg"] for s in got["speeds"])
    assert "marched_again" not in got["speeds"][0]
    assert {Path(f).name for f in got["files"]} == {f"vintage_twin_tune{s}" for s in (".json", ".png", "_burn.png")}
    for name in got["files"]:
        assert Path(name).stat().st_size > 1000
    assert json.loads((tmp_path / "vintage_twin_tune.json").read_text())["tune"] == "mbt"


def test_no_mixture(capsys):
    assert "best economy" not in run(capsys, *QUICK, "--no-mixture", "--once")[1]


def test_what_ifs_and_an_accelerating_pull(capsys):
    cases = ("--what-if", "ratio 9.5", "--what-if", "Altitude 5000 ft", "--what-if", "fuel e85")
    code, out, _ = run(capsys, *QUICK, "--no-mixture", "--once", *cases, "--pull", "600 rpm/s", "--inertia",
                       "0.35 kg m2", "--json")
    got = json.loads(out)
    assert code == 0
    torque = {(r["what"], r["speed_rpm"]): r["torque_Nm"] for r in got["what_if"]}
    for rpm in (2500.0, 4500.0):
        old = torque["as the card has it", rpm]
        assert 0.80 < torque["altitude 5000 ft", rpm] / old < 0.87  # pressure there 0.832 of sea level's
        (split,) = [r for r in got["fuel_split"] if r["speed_rpm"] == rpm]
        parts = split["cooling_Nm"] + split["energy_Nm"] + split["knock_Nm"]
        assert parts == pytest.approx(torque["fuel e85", rpm] - old, rel=1e-9)
    pull = got["pull"]
    assert pull["hidden_torque_Nm"] == pytest.approx(21.99, abs=0.01)  # 0.35 kg m2 at 62.8 rad/s2
    assert pull["time_s"][-1] == pytest.approx(2000.0 / 600.0, abs=0.05)
    code, out, _ = run(capsys, *QUICK, "--no-mixture", "--once", "--what-if", "octane 80", "--units", "us")
    assert code == 0
    for text in ("octane 80", "as the card has it", "lb-ft"):
        assert text in out


def test_motored_with_the_throttle_closed(capsys):
    four = ["tune", str(CARD.with_name("club_four.toml")), "--fidelity", "lumped", "--speeds", "3000", "--workers",
            "1", "--no-mixture", "--once", "--motored"]
    assert cli.main([*four, "--json"]) == 0
    (row,) = json.loads(capsys.readouterr().out)["motored"]
    assert row["converged"]
    assert row["plenum_pressure_kPa"] < 60.0
    assert row["torque_Nm"] < 0.0 < row["fmep_bar"]
    assert cli.main(four) == 0
    assert "Motored, throttle closed, nothing burned" in capsys.readouterr().out


@pytest.mark.parametrize(("args", "text"), [
    (("--motored",), "has no throttle plate to close"),
    (("--what-if", "turbo"), "'turbo' is no what-if: give one of 'ratio 11', 'octane 95'"),
    (("--what-if", "altitude 300"), "what if 'altitude 300': \"300\" has no unit"),
    (("--what-if", "fuel diesel"), "what if 'fuel diesel': "),
    (("--pull", "600 rpm/s"), "needs both: --pull '600 rpm/s' and --inertia '0.35 kg m2'"),
    (("--pull", "600 rpm", "--inertia", "0.3 kg m2"), "--pull: "),
    (("--pull", "-600 rpm/s", "--inertia", "0.3 kg m2"), "--pull '-600 rpm/s' must be above zero"),
    (("--out", "a.txt"), "give a folder, or a file ending in .png, .svg, .pdf, .json, not .txt"),
    (("--out", "nowhere/a.png"), "there is no folder"),
    (("--speeds", "fast"), "is not a number"),
    (("--tune", "fixed"), "is not one of"),
])
def test_refusals(capsys, args, text):
    code, out, err = run(capsys, *args)
    assert (code, out) == (2, "")
    assert text in err
