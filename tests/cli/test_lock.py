"""The verb lock: seals files that predict saved, verifies, and says what was changed."""

import json

import pytest

from pullcast import cli


@pytest.fixture
def run(capsys):
    def start(*args):
        code = cli.main([str(a) for a in args])
        out = capsys.readouterr()
        return code, out.out, out.err

    return start


@pytest.fixture
def curve(sample_curve, tmp_path):
    return sample_curve().save(tmp_path / "four.nc")


def test_seal_then_verify_then_change(run, curve, tmp_path):
    ranking, card = tmp_path / "rank.json", tmp_path / "list.toml"
    ranking.write_text('{"order": ["a", "b"]}')
    card.write_text("goal = 1\n")
    out = tmp_path / "day.lock.json"
    code, said, err = run("lock", curve, "--ranking", ranking, "--text", card, "--note", "spring", "--out", out)
    assert (code, err) == (0, "")
    assert said.startswith(f"Written: {out}\nSealed:  20")
    seal = next(line.split()[1] for line in said.splitlines() if line.startswith("Seal:"))
    assert "Note the seal where it cannot be changed" in said

    code, said, err = run("lock", "--verify", out, "--seal", seal[:12])
    assert (code, err) == (0, "")
    assert said == f"day.lock.json is as it was sealed; seal {seal}\n"

    out.chmod(0o644)
    out.write_text(out.read_text().replace('"order": ["a", "b"]', '"order": ["b", "a"]'))
    code, said, err = run("lock", "--verify", out)
    assert (code, err) == (1, "")
    assert said == "day.lock.json was changed after it was sealed:\n  - the ranking\n"
    code, said, _ = run("lock", "--verify", out, "--json")
    assert code == 1
    assert json.loads(said) == {"lock": str(out), "unchanged": False, "changed": ["the ranking"], "notes": [],
                                "seal": seal}


def test_sealing_as_json(run, curve, tmp_path):
    code, said, err = run("lock", curve, "--out", tmp_path / "a.lock.json", "--json")
    assert (code, err) == (0, "")
    made = json.loads(said)
    assert made["curves"] == ["Kestrel test four"]
    assert made["ranking"] is False
    assert len(made["seal"]) == 64


def test_a_curve_that_did_not_converge_is_sealed_and_ends_with_3(run, sample_curve, tmp_path):
    path = sample_curve(failed=(0,)).save(tmp_path / "four.nc")
    assert run("lock", path, "--out", tmp_path / "a.lock.json")[0] == 3
    assert run("lock", "--verify", tmp_path / "a.lock.json")[0] == 0


@pytest.mark.parametrize(("args", "code", "said"), [
    ((), 2, "name the forecasts to seal and --out NAME.lock.json, or --verify"),
    (("CURVE",), 2, "name the forecasts to seal and --out"),
    (("CURVE", "--out", "a.json"), 2, "a lock's name ends in .lock.json"),
    (("CURVE", "--out", "no/a.lock.json"), 2, "is not there"),
    (("CURVE", "--out", "a.lock.json", "--seal", "12345678"), 2, "goes with --verify"),
    (("CURVE", "--out", "a.lock.json", "--ranking", "no.json"), 2, "--ranking no.json: cannot be read (No such file"),
    (("CURVE", "--out", "a.lock.json", "--ranking", "bad.json"), 2, "--ranking bad.json: is not JSON"),
    (("CURVE", "--out", "a.lock.json", "--text", "CURVE"), 2, "it is not UTF-8 text"),
    (("CURVE", "--verify", "a.lock.json"), 2, "--verify looks at a lock and takes only --seal and --json"),
    (("bad.json", "--out", "a.lock.json"), 2, "a forecast is a curve saved by predict (.nc) or an engine card"),
    (("no.nc", "--out", "a.lock.json"), 2, "no such result file"),
    (("no.toml", "--out", "a.lock.json"), 2, "no such file"),
    (("--verify", "no.lock.json"), 2, "no such lock file"),
    (("--verify", "bad.json"), 1, "is not a lock of pullcast, or was cut short"),
])
def test_bad_input_is_told_and_nothing_is_written(run, curve, tmp_path, monkeypatch, args, code, said):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bad.json").write_text("{")
    before = sorted(tmp_path.iterdir())
    got, out, err = run("lock", *(curve if a == "CURVE" else a for a in args))
    assert (got, out) == (code, "")
    assert said in err
    assert sorted(tmp_path.iterdir()) == before
