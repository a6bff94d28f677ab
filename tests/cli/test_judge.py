"""``pullcast judge`` as typed: the page, JSON alone on stdout, pictures, errors, columns asked once."""

import io
import json
import shutil
from pathlib import Path

import pytest

from pullcast.cli import judge_columns, main
from pullcast.pulls.session_card import read_session

SESSIONS = Path(__file__).parents[2] / "configs" / "sessions"


def test_the_page(capsys):
    assert main(["judge", str(SESSIONS / "intake_day.toml"), "--units", "us"]) == 0
    out = capsys.readouterr().out
    assert "resolved gain" in out
    assert "lb-ft" in out
    assert "runs 1 to 13: sweep inertia put back: +10 N m on average" in out
    assert "throttle stop" in out
    assert "planning estimate" in out


def test_json_alone_and_files(capsys, tmp_path):
    code = main(["judge", str(SESSIONS / "intake_day.toml"), "--json", "--out", str(tmp_path / "d")])
    document = json.loads(capsys.readouterr().out)
    assert code == 0
    d = document["differences"][0]
    assert d["percent_low"] < d["percent"] < d["percent_high"]
    assert d["difference_Nm"] == pytest.approx(11.3, abs=0.5)
    assert document["return_good"] is True
    assert len(document["pulls"]) == 13
    assert {p.name for p in (tmp_path / "d").iterdir()} == {"intake_day.png", "intake_day.json"}
    assert json.loads((tmp_path / "d" / "intake_day.json").read_text())["differences"][0]["resolved"] is True


def test_peaks_only_as_json(capsys, tmp_path):
    picture = tmp_path / "p.svg"
    assert main(["judge", str(SESSIONS / "peaks_only.toml"), "--json", "--out", str(picture)]) == 0
    document = json.loads(capsys.readouterr().out)
    assert [d["verdict"] for d in document["differences"]] == ["resolved loss", "resolved loss"]
    assert document["returns"] == [{"fit": 0, "off_percent": None, "allowed_percent": None, "good": True,
                                    "stated": True}]
    assert picture.read_text().startswith("<?xml")


def test_bad_input_is_told_plainly(capsys, tmp_path):
    assert main(["judge", str(tmp_path / "none.toml")]) == 2
    assert "no such file" in capsys.readouterr().err
    assert main(["judge", str(SESSIONS / "intake_day.toml"), "--out", "x.docx"]) == 2
    assert "ending in .png, .svg, .pdf, .json, not .docx" in capsys.readouterr().err


class Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.fixture
def bare(tmp_path):
    """A copy of the demo day without its mapping, headings renamed so that no guess is possible."""
    shutil.copytree(SESSIONS / "pulls", tmp_path / "pulls")
    for file in (tmp_path / "pulls").iterdir():
        file.write_bytes(file.read_bytes().replace(b"Engine;Tq", b"Kanal1;Kanal2").replace(b"RPM;lbft", b"-;-"))
    text = (SESSIONS / "intake_day.toml").read_text()
    start, end = text.index("[columns]"), text.index("[[run]]")
    card = tmp_path / "day.toml"
    card.write_text((text[:start] + text[end:]).replace('engine = "../engines/hillclimb_v8.toml"', ""))
    return card


def test_columns_are_asked_once_and_kept(bare, monkeypatch, capsys):
    monkeypatch.setattr("sys.stdin", Terminal("2\ny\n3\n9\n2\n"))
    judge_columns.settle(bare)
    said = capsys.readouterr().err
    assert "2: Kanal1" in said
    assert "A number from 1 to 2, please." in said
    kept = read_session(bare).mapping
    assert kept.columns["rpm"].label == 2
    assert kept.columns["torque"].unit == "lb-ft"
    judge_columns.settle(bare)  # does not ask again: nothing is left to read
    assert capsys.readouterr().err == ""
    assert main(["judge", str(bare)]) == 0


def test_without_a_terminal_nothing_is_asked(bare, capsys):
    assert main(["judge", str(bare)]) == 2
    assert "no column is named like engine speed" in capsys.readouterr().err
