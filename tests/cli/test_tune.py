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


@pytest.mark.parametrize(("args", "text"), [
    (("--out", "a.txt"), "give a folder, or a file ending in .png, .svg, .pdf, .json, not .txt"),
    (("--out", "nowhere/a.png"), "there is no folder"),
    (("--speeds", "fast"), "is not a number"),
    (("--tune", "fixed"), "is not one of"),
])
def test_refusals(capsys, args, text):
    code, out, err = run(capsys, *args)
    assert (code, out) == (2, "")
    assert text in err
