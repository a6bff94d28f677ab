"""The verbs check, new and validate; the reader of cards is a stand-in."""

import importlib
import json
import sys
from pathlib import Path
from types import SimpleNamespace as Bag

import pytest

import pullcast.card
from pullcast import cli
from pullcast.card.engine import Assumed, Finding

TOP = Path(__file__).resolve().parents[2]


@pytest.fixture
def run(monkeypatch, capsys):
    def start(*args, findings=()):
        engine = Bag(name="Kestrel", engine_class="twin", source="invented", cam=Bag(tappet_diameter=None),
                     assumed=(Assumed("walls.piston", 540.0, 500.0, 580.0, "K", "class default"),))
        number = Bag(name="displacement", value=7e-4, unit_quantity="displacement", note="")
        monkeypatch.setitem(vars(pullcast.card), "read_engine", lambda path: engine)
        for name, value in (("derived", lambda engine: (number,)), ("checks", lambda engine: findings),
                            ("starter", lambda name: f"# {name}\n")):
            monkeypatch.setitem(sys.modules, f"pullcast.card.{name}", Bag(**{name: value}))
        code = cli.main(list(args))
        out = capsys.readouterr()
        return code, out.out, out.err

    return start


def test_check(run):
    code, out, err = run("check", "a.toml")
    assert (code, err) == (0, "")
    for text in ("displacement", "0.7 L", "walls.piston", "Nothing on the card contradicts itself"):
        assert text in out


def test_a_contradiction_is_2_a_doubt_is_0(run):
    assert run("check", "a.toml", findings=(Finding("doubt", "k", "t"),))[0] == 0
    code, out, _ = run("check", "a.toml", "--json", findings=(Finding("contradiction", "k", "t", "r"),))
    assert code == 2
    assert json.loads(out)["findings"] == [{"level": "contradiction", "key": "k", "text": "t", "remedy": "r"}]


def test_new_prints_or_writes_but_does_not_replace(run, tmp_path):
    assert run("new", "twin")[:2] == (0, "# twin\n")
    card = tmp_path / "a.toml"
    assert run("new", "twin", "--out", str(card))[0] == 0
    assert card.read_text() == "# twin\n"
    code, _, err = run("new", "lab_single", "--out", str(card))
    assert code == 2
    assert "is there already; choose another name, or --force" in err
    assert card.read_text() == "# twin\n"
    assert run("new", "lab_single", "--out", str(card), "--force")[0] == 0
    assert card.read_text() == "# lab_single\n"
    assert "a card ends in .toml" in run("new", "twin", "--out", str(tmp_path / "a.txt"))[2]


def test_new_lists_the_classes(run):
    from pullcast.card.classes import CLASSES

    out = run("new")[1]
    assert [line.split()[0] for line in out.splitlines()] == list(CLASSES)


@pytest.fixture
def harness(monkeypatch):
    monkeypatch.syspath_prepend(str(TOP))
    return importlib.import_module("validation.harness"), importlib.import_module("validation.page")


@pytest.fixture
def two_cases(harness, monkeypatch, tmp_path):
    for tier, body in (("exact", "[relative('a', 's', 2.0, 2.001, 1e-3, 'm')]"),
                       ("parts", "[absolute('b', 's', 1.0, 1.2, 0.1, 'Pa', 'n'), at_most('c', 's', 3.0, 2.0)]")):
        case = tmp_path / tier / "one"
        case.mkdir(parents=True)
        (case / "case.py").write_text("from validation.harness import absolute, at_most, relative\n"
                                      f"def checks():\n    return {body}\n")
    (tmp_path / "README.md").write_text("before\n<!-- table: begin -->\nold\n<!-- table: end -->\nafter\n")
    checks, page = harness
    monkeypatch.setattr(page, "cases", lambda only=(): checks.cases(tmp_path, only))
    written = page.write_readme
    monkeypatch.setattr(page, "write_readme", lambda outcomes: written(outcomes, tmp_path / "README.md"))
    return tmp_path


def test_validate_runs_all_and_writes_the_page(two_cases, run):
    code, out, _ = run("validate")
    assert code == 1
    assert "2 of 3 checks passed in 2 cases." in out
    assert out.count("FAIL") == 1
    page = (two_cases / "README.md").read_text()
    assert page.startswith("before\n")
    assert page.endswith("after\n")
    assert "old" not in page
    assert "| [one](parts/one/) | b (n) | s | 1 Pa | 1.2 Pa | ±0.1 Pa | **fail** |" in page
    assert "| [one](exact/one/) | a | s | 2 m | 2.001 m | ±0.1 % | pass |" in page


def test_validate_some(two_cases, run):
    code, out, _ = run("validate", "exact/", "--json")
    assert code == 0
    assert json.loads(out)["cases"][0]["checks"][0]["passed"] is True
    assert "old" in (two_cases / "README.md").read_text()
    code, out, err = run("validate", "none/")
    assert (code, out) == (2, "")
    assert "no case matches none/; there are: exact/one, parts/one" in err


def test_a_case_that_breaks_or_is_empty_fails(two_cases, run):
    (two_cases / "exact/one/case.py").write_text("def checks():\n    return 1 / 0\n")
    (two_cases / "parts/one/case.py").write_text("def checks():\n    return []\n")
    code, out, _ = run("validate", "--json")
    errors = [c["error"] for c in json.loads(out)["cases"]]
    assert code == 1
    assert errors == ["ZeroDivisionError: division by zero (case.py:2)", "the case gave no checks"]


def test_validate_without_the_source(run, monkeypatch):
    verb = importlib.import_module("pullcast.cli.validate")
    monkeypatch.setattr(verb, "__file__", str(Path(sys.prefix) / "a/b/c/d.py"))
    code, _, err = run("validate")
    assert code == 2
    assert "not part of an installed pullcast" in err


def test_checks_mean_something(harness):
    h, _ = harness
    nan = float("nan")
    assert h.relative("a", "s", -2.0, -2.01, 0.01).passed
    assert not h.relative("a", "s", -2.0, 2.0, 0.01).passed
    assert not h.absolute("a", "s", 1.0, nan, 1e9).passed
    assert not h.at_most("a", "s", nan, 1.0).passed
    assert not h.at_most("a", "s", 1.0, 1.1).passed
    assert h.at_least("a", "s", 1.0, 1.1).passed
    assert not h.at_least("a", "s", 1.0, float("inf")).passed
    for bad, text in (({"tolerance": -1.0}, "zero or more"), ({"tolerance": nan}, "zero or more"),
                      ({"kind": "about"}, "is not one of"), ({"kind": "rel", "expected": 0.0}, "about zero")):
        values = {"name": "a", "source": "s", "expected": 1.0, "got": 1.0, "tolerance": 0.1} | bad
        with pytest.raises(ValueError, match=text):
            h.Check(**values)


def test_page_needs_its_markers(harness, tmp_path):
    _, page = harness
    (tmp_path / "README.md").write_text("no markers")
    with pytest.raises(ValueError, match="needs the markers"):
        page.write_readme([], tmp_path / "README.md")
