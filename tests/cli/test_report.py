"""The verb report: what it takes, what it refuses before any work, exit codes, files whole or not there."""

import json

import pytest

from pullcast.answers import curves
from pullcast.answers.lock import lock
from pullcast.cli import main

SESSION = "configs/sessions/intake_day.toml"
CARD = "configs/engines/lab_single.toml"


@pytest.fixture
def saved(sample_curve, tmp_path):
    return sample_curve().save(tmp_path / "pull.nc")


def test_a_curve_and_a_lock_become_page_and_print(saved, sample_curve, capsys, tmp_path):
    sealed = tmp_path / "spring.lock.json"
    lock(sealed, [sample_curve()])
    out = tmp_path / "out"
    assert main(["report", str(saved), str(sealed), "--out", str(out), "--paper", "letter", "--note", "mine"]) == 0
    assert "Written:" in capsys.readouterr().out
    page = (out / "pull_report.html").read_text(encoding="utf-8")
    assert "size: letter" in page
    assert "<li>mine</li>" in page
    assert (out / "pull_report.pdf").read_bytes().startswith(b"%PDF")


def test_an_engine_card_is_forecast_and_a_point_that_failed_ends_with_3(sample_curve, monkeypatch, capsys, tmp_path):
    monkeypatch.setattr(curves, "predict", lambda engine, **how: sample_curve(failed=(2,), engine=engine.name))
    assert main(["report", CARD, "--out", str(tmp_path / "a.html"), "--json"]) == 3
    told = json.loads(capsys.readouterr().out)
    assert told["title"] == "Forecast of Aldermoor teaching single"
    assert told["chapters"][0] == "Curves"
    assert told["files"] == [str(tmp_path / "a.html")]
    assert "follows from the card" in (tmp_path / "a.html").read_text(encoding="utf-8")


def test_a_session_is_judged(capsys, tmp_path):
    assert main(["report", SESSION, "--units", "us", "--question", "Is it worth it?", "--out",
                 str(tmp_path / "day.html")]) == 0
    page = (tmp_path / "day.html").read_text(encoding="utf-8")
    assert "Is it worth it?" in page
    assert "throttle stop had slipped" in page  # the pull that was left out, with its reason
    assert "lb-ft" in page


@pytest.mark.parametrize(("what", "more", "code", "message"), [
    ("none.nc", [], 2, "none.nc: no such file"),
    ("junk.nc", [], 1, "junk.nc: cannot be read as netCDF"),
    ("junk.json", [], 1, "junk.json: cannot be read as a saved document"),
    ("junk.lock.json", [], 1, "junk.lock.json"),
    ("junk.toml", [], 2, "not valid TOML"),
    ("junk.txt", [], 2, "name files ending in .toml, .nc, .json, .jsonl, not .txt"),
    (".", [], 2, "is a folder"),
    ("pull.nc", ["--swap", "cam.advance=6 deg"], 2, "--swap explains a swap on one engine card; none named"),
    ("pull.nc", ["--diagnose"], 2, "--diagnose is for one session card; none named"),
    ("pull.nc", ["--forecast", "A=a"], 2, "name a session and a lock as well"),
    ("pull.nc", ["--paper", "a5"], 2, "--paper"),
])
def test_refusals_leave_no_file(saved, capsys, tmp_path, what, more, code, message):
    for name in ("junk.nc", "junk.json", "junk.lock.json", "junk.toml", "junk.txt"):
        (tmp_path / name).write_text("= junk", encoding="utf-8")
    out = tmp_path / "x.html"
    assert main(["report", str(tmp_path / what), "--out", str(out), *more]) == code
    assert message in " ".join(capsys.readouterr().err.split())
    assert not out.exists()


@pytest.mark.parametrize(("out", "message"), [
    ("a.docx", "a file ending in .html, .pdf, not .docx"), ("none/a.html", "there is no folder")])
def test_where_it_cannot_write_it_says_so_at_once(saved, capsys, tmp_path, out, message):
    assert main(["report", str(saved), "--out", str(tmp_path / out)]) == 2
    assert message in " ".join(capsys.readouterr().err.split())


def test_without_the_library_for_print_it_says_what_to_install(saved, monkeypatch, capsys, tmp_path):
    from pullcast.cli import report_sources

    monkeypatch.setattr(report_sources, "find_spec", lambda name: None)
    assert main(["report", str(saved), "--out", str(tmp_path / "a.pdf")]) == 2
    assert "pip install 'pullcast[report]'" in capsys.readouterr().err
    assert main(["report", str(saved), "--out", str(tmp_path / "a.html")]) == 0
