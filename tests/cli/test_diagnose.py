"""``pullcast diagnose`` as typed, on a small engine."""

import json
import shutil
from pathlib import Path

import pytest

from pullcast.cli import main

CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture
def session(tmp_path, monkeypatch):
    """A steady-state A-B-A of the teaching single in which B lost 6 % at every speed."""
    monkeypatch.setenv("PULLCAST_STORE", str(tmp_path / "store" / "points.sqlite3"))
    shutil.copytree(CONFIGS, tmp_path / "configs")
    folder = tmp_path / "configs" / "sessions"
    lines, rows = [], [("A", 1.0), ("A", 1.003), ("B", 0.94), ("B", 0.943), ("A", 0.999), ("A", 1.002)]
    for i, (part, factor) in enumerate(rows, 1):
        table = [f"{rpm},{factor * (26.0 - ((rpm - 2200) / 1000) ** 2 * 3):.3f}" for rpm in range(1400, 3401, 100)]
        (folder / f"pull{i}.csv").write_text("rpm,torque Nm\n" + "\n".join(table) + "\n")
        lines.append(f'[[run]]\npart = "{part}"\nfile = "pull{i}.csv"\nkind = "steady"\n')
    card = folder / "day.toml"
    card.write_text(
        'title = "A day"\n[source]\ndata = "invented"\n[session]\nengine = "../engines/lab_single.toml"\n'
        'baseline = "A"\nbasis = "observed"\nrecorded = "observed"\n[judge]\nband = ["1600 rpm", "3200 rpm"]\n'
        '[parts]\nA = "as it was"\nB = "another air box"\n[weather]\npressure = "990 hPa"\n'
        'temperature = "18 degC"\nhumidity = "50 %"\n' + "\n".join(lines))
    return card


def test_the_page_and_files(session, capsys, tmp_path):
    out = tmp_path / "out"
    assert main(["diagnose", str(session), "--fidelity", "lumped", "--workers", "1", "--out", str(out)]) == 0
    told = capsys.readouterr().out
    assert "What it may be" in told
    assert "Do this next:" in told
    assert "planning estimate" in told
    document = json.loads((out / "day.json").read_text())
    assert sum(c["chance"] for c in document["causes"]) == pytest.approx(1.0)
    assert {"measurement", "not explained"} <= {c["cause"] for c in document["causes"]}
    assert document["measured_pct"][3] == pytest.approx(-6.0, abs=0.6)


def test_peaks_alone_cannot_be_diagnosed(capsys):
    assert main(["diagnose", str(CONFIGS / "sessions" / "peaks_only.toml"), "--fidelity", "lumped"]) == 2
    assert "no curve was measured of part" in capsys.readouterr().err
