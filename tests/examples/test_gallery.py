"""The gallery: its page is what the script writes, its pictures are there and small, and none is left out."""

import ast
import inspect
import runpy
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "examples" / "guide"
SHOW = ROOT / "sim" / "pullcast" / "show"
MOST_BYTES = 2_000_000


@pytest.fixture(scope="module")
def script():
    return runpy.run_path(str(ROOT / "examples" / "make_gallery.py"))


def figure_functions():
    """(module, name) of every public function of show/*_plots.py that makes a figure."""
    found = []
    for path in sorted(SHOW.glob("*plots.py")):
        names = [n.name for n in ast.parse(path.read_text(encoding="utf-8")).body if isinstance(n, ast.FunctionDef)]
        found += [(path.stem, n) for n in names if n.endswith("_figure") and not n.startswith("_")]
    return found


def panel_functions():
    """Every public function of show/*plots.py that says it draws into an axes."""
    for path in sorted(SHOW.glob("*plots.py")):
        module = import_module(f"pullcast.show.{path.stem}")
        for name, function in vars(module).items():
            if inspect.isfunction(function) and function.__module__ == module.__name__ and not name.startswith("_"):
                yield f"{path.stem}.{name}", function


def test_the_page_and_its_pictures(script):
    shots = list(script["shots"](script["Answers"](False, None)))
    assert (GUIDE / "gallery.md").read_text(encoding="utf-8") == script["page"](shots)
    files = sorted(p.stem for p in (GUIDE / "gallery").iterdir())
    assert files == sorted(s.name for s in shots)
    assert sum(p.stat().st_size for p in (GUIDE / "gallery").iterdir()) <= MOST_BYTES
    assert all(s.command.startswith("pullcast ") for s in shots)


@pytest.mark.parametrize("module_name", figure_functions(), ids=".".join)
def test_every_picture_is_in_the_gallery(module_name):
    text = (ROOT / "examples" / "make_gallery.py").read_text(encoding="utf-8")
    assert f"pc.{module_name[1]}(" in text


def test_every_panel_takes_an_axes_by_name():
    without = [name for name, function in panel_functions()
               if not name.endswith(("_figure",)) and {"Axes", "Axes | None"} & {
                   str(p.annotation) for p in inspect.signature(function).parameters.values()}
               and "ax" not in inspect.signature(function).parameters]
    assert without == []
    figures = [f"{module}.{name}" for module, name in figure_functions()]
    drawn = {name.split(".")[0] for name, function in panel_functions()
             if "ax" in inspect.signature(function).parameters}
    assert {f.split(".")[0] for f in figures} <= drawn  # no figure without panels of its own


@pytest.mark.long
def test_the_script_runs(script, tmp_path):
    files = script["make"](tmp_path, quick=True)
    assert all(f.stat().st_size > 3000 for f in files[1:])


def test_the_pictures_of_the_live_page_are_those_of_its_script(script):
    """Taken in a browser: see tests/browser."""
    photographer = runpy.run_path(str(ROOT / "examples" / "make_live_pictures.py"))
    assert set(photographer["missing"]()) <= {"selenium", "bokeh", "chromium", "chromedriver"}
    shots = script["shots"](script["Answers"](False, None))
    assert set(photographer["VIEWS"]) == {s.name for s in shots if s.draw is None}
