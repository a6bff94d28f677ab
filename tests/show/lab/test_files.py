import pytest

from pullcast.card import read_engine_text
from pullcast.errors import CardError, Problem
from pullcast.show.lab.bench import Bench, set_up
from pullcast.show.lab.files import card_file, faults_of, file_name, seen_card
from pullcast.solve.keys import march_sha256


@pytest.mark.parametrize(("name", "file"), [
    ("Kestrel hill-climb V8", "kestrel_hill_climb_v8.toml"), ("../../etc/passwd", "etc_passwd.toml"),
    ("<script>alert(1)</script>", "script_alert_1_script.toml"), ("\0\n", "engine.toml"), ("C:\\x", "c_x.toml"),
    ("ü" * 300, "engine.toml"), ("a" * 300, "a" * 60 + ".toml")])
def test_file_names_are_plain(name, file):
    assert file_name(name, ".toml") == file


def test_a_saved_card_reads_to_the_engine_on_the_page(shelf):
    bench = Bench("engines/touring_six.toml").with_knob("advance", "3").with_knob("runner_length", "350")
    setup = set_up(bench, shelf)
    name, text = card_file(setup)
    assert name == "kestrel_touring_six.toml"
    assert march_sha256(read_engine_text(text)) == march_sha256(setup.engine)


def test_a_card_being_typed_is_told_its_faults_by_line(shelf):
    text = set_up(Bench("engines/lab_single.toml"), shelf).text
    assert seen_card(text, shelf, text) == {"text": text, "faults": [], "told": "It reads well.", "edited": False}
    bad = seen_card(text.replace("85.0 mm", "85.0 inches"), shelf, text)
    assert bad["edited"]
    assert bad["faults"][0].startswith("line ")
    assert "block.bore" in bad["faults"][0]


def test_a_contradiction_is_told_while_typing(shelf):
    text = set_up(Bench("engines/lab_single.toml"), shelf).text
    seen = seen_card(text.replace('advance = "0 deg"', 'advance = "0 deg"\nintake.centreline = "100 deg"', 1)
                     .replace("[cam.intake]", "# [cam.intake]", 1), shelf, text)
    assert seen["faults"] or "contrad" in seen["told"] or "It reads, but" in seen["told"]


def test_many_faults_are_counted():
    problems = [Problem("x", k, "a.b", "wrong") for k in range(100)]
    told = faults_of(CardError(problems))
    assert len(told) == 31
    assert told[-1] == "and 70 more"


def test_remarks_of_a_card_opened_and_saved_again_survive(shelf):
    own = "# by the engine room's own tape\n" + card_file(set_up(Bench("engines/touring_six.toml"), shelf))[1]
    setup = set_up(Bench(text=own).with_knob("advance", "3").with_knob("lambda", "0.9"), shelf)
    text = card_file(setup)[1]
    assert "# by the engine room's own tape" in text
    again = card_file(set_up(Bench(text=text), shelf))[1]
    assert again == text
    remarks = [line for line in own.splitlines() if line.startswith("#") and "Written by" not in line]
    assert len(remarks) > 5
    assert all(line in text for line in remarks)
