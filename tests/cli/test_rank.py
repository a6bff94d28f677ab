"""The verbs rank and plan: tables, JSON, files, refusals; computing replaced by a made-up torque law."""

import json

import numpy as np
import pytest

from pullcast.answers import scoring
from pullcast.cli import main

SHELF = "configs/shortlists/hillclimb_shelf.toml"
SEARCH = "configs/shortlists/four_runner_search.toml"


@pytest.fixture
def quick(monkeypatch):
    def compute(engines, speeds, fidelity, means, stage, shortlist=None):
        rows = []
        for e in engines:
            runner = next(p.length for p in e.intake.pipes if "runner" in p.name)
            gain = 0.02 * (e.block.compression_ratio - 10.0) - (runner - 0.3) ** 2 + 0.01 * (e.walls.factor - 1.0)
            limits = {} if shortlist is None else {c.name: 0.1 for c in shortlist.constraints}
            curve = [400.0 * (1 + gain) - 1e-6 * (s - 4000.0) ** 2 for s in speeds]
            rows.append(scoring.Row(np.array(curve), limits))
        return rows, ()

    monkeypatch.setattr(scoring, "compute", compute)


def test_rank_prints_and_writes_and_plan_reads_it(quick, capsys, tmp_path):
    out = tmp_path / "r.json"
    files = ["--out", str(out), "--out", str(tmp_path / "r.png")]
    assert main(["rank", SHELF, "--samples", "8", "--no-store", *files]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "all gains by the wave model" in text
    assert "Lumped against wave gains of 7 engines" in text
    assert (tmp_path / "r.png").stat().st_size > 10_000
    assert main(["plan", str(out), "--parts", "1", "--refit", "0.1 %", "--out", str(tmp_path / "day.html")]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "# Dyno day: The V8's shelf" in text
    assert "A-B-A" in text
    assert (tmp_path / "day.html").read_text(encoding="utf-8").startswith("<!doctype html>")
    assert main(["plan", str(out), "--refit", "0.1 %", "--hours", "2"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "so cut into 2 days, each from base to base and judged by itself" in text
    assert "takes " in text
    assert "more than 2, and cannot be cut" in text
    assert main(["plan", str(out), "--hours", "30"]) == 2


def test_json_is_clean(quick, capsys):
    assert main(["rank", SHELF, "--samples", "0", "--no-store", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["fidelity"] == "wave"
    assert len(document["candidates"]) == 7
    assert main(["rank", SEARCH, "--no-store", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["trends"][0]["unit"] == "mm"
    assert document["best"][0]["value"] > 200.0


def test_search_prints_its_flat_width(quick, capsys, tmp_path):
    assert main(["rank", SEARCH, "--no-store", "--out", str(tmp_path / "s.svg")]) == 0
    assert "is within 0.5 % of the best" in " ".join(capsys.readouterr().out.split())
    assert (tmp_path / "s.svg").exists()


@pytest.mark.parametrize(("args", "said"), [
    (["rank", SHELF, "--out", "x.xyz"], "--out x.xyz: give a folder, or a file ending in .json"),
    (["rank", SEARCH, "--screen", "3", "--no-store"], "--screen goes with candidates"),
    (["rank", SHELF, "--samples", "7", "--no-store"], "7 samples: give a power of two"),
    (["rank", SHELF, "--scheduler", "nowhere", "--no-store"], "--scheduler 'nowhere': give the scheduler's address"),
    (["plan", "none.json"], "none.json: no such ranking"),
    (["plan", "none.json", "--noise", "much"], '--noise "much": give a percentage'),
])
def test_what_cannot_be_is_refused(quick, capsys, args, said):
    code = main(args)
    error = capsys.readouterr().err
    assert code == 2
    assert said in error
