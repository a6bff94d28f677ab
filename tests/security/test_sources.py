"""What the program's own text may not contain: ways to run what stands in a file; and what it depends on."""

import ast
import importlib.metadata
import re
import sys
import tomllib
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]
SOURCES = sorted((TOP / "sim" / "pullcast").rglob("*.py"))
RUNNERS = {"eval", "exec", "compile", "__import__", "execfile"}
MODULES = {"pickle", "cPickle", "dill", "cloudpickle", "joblib", "marshal", "shelve", "yaml", "ruamel", "xmlrpc",
           "jsonpickle"}
CALLS = {"os.system", "os.popen", "subprocess.getoutput", "subprocess.getstatusoutput", "tempfile.mktemp", "pd.eval",
         "pandas.eval", "pd.read_pickle", "pandas.read_pickle", "runpy.run_path"}
WIDE = {"pd.eval", "df.eval", "frame.eval"}
COMES_WITH = {"tornado": "bokeh", "markupsafe": "jinja2", "llvmlite": "numba", "pydantic-core": "pydantic"}
SUBPROCESS = {"solve/warm.py"}  # starts its own interpreter on its own code


def dotted(node):
    """Name of what is called: "os.system"."""
    parts = []
    while isinstance(node, ast.Attribute):
        parts.append(node.attr)
        node = node.value
    return ".".join([node.id, *reversed(parts)]) if isinstance(node, ast.Name) else ""


def faults_of(text):
    """Everything in a source text that could run what it reads."""
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else [node.module or ""]
            found += [f"line {node.lineno}: imports {n}" for n in names if n.split(".")[0] in MODULES]
        if isinstance(node, ast.Call):
            name = dotted(node.func)
            if name in RUNNERS or name in CALLS or name in WIDE:
                found.append(f"line {node.lineno}: calls {name}")
            for k in node.keywords:
                true = isinstance(k.value, ast.Constant) and k.value.value is True
                if k.arg in ("shell", "allow_pickle") and true:
                    found.append(f"line {node.lineno}: {k.arg}=True")
                if k.arg == "autoescape" and not true:
                    found.append(f"line {node.lineno}: a page without escaping")
            if name in ("np.load", "numpy.load") and not any(
                    k.arg == "allow_pickle" and isinstance(k.value, ast.Constant) and k.value.value is False
                    for k in node.keywords):
                found.append(f"line {node.lineno}: np.load without allow_pickle=False")
            if name.endswith("Environment") and not any(k.arg == "autoescape" for k in node.keywords) and (
                    "jinja" in text):
                found.append(f"line {node.lineno}: a page without escaping")
    return found


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.relative_to(TOP / "sim" / "pullcast").as_posix())
def test_nothing_read_is_ever_run(path):
    assert not faults_of(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("text", [
    "eval(x)", "import pickle", "from yaml import load", "np.load(f)", "np.load(f, allow_pickle=True)",
    "os.system(x)", "run(x, shell=True)", "from jinja2 import Environment\nEnvironment()", "pd.read_pickle(f)",
    "exec(open(f).read())"])
def test_the_watchman_sees_what_he_should(text):
    assert faults_of(text)


def test_other_programs_are_started_in_one_place_only():
    started = {p.relative_to(TOP / "sim" / "pullcast").as_posix() for p in SOURCES
               if re.search(r"^\s*(import|from) subprocess|multiprocessing\.Process\(|os\.exec|os\.spawn",
                            p.read_text(encoding="utf-8"), re.M)}
    assert started <= SUBPROCESS


def declared():
    """Name -> lower bound of every dependency in pyproject.toml."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lines = project["dependencies"] + [d for extra in project["optional-dependencies"].values() for d in extra]
    found = {}
    for line in lines:
        name, low = re.fullmatch(r"([A-Za-z0-9_.-]+)(?:>=([\d.]+))?(?:,?<[\d.]+)?", line.strip()).groups()
        found[name.lower().replace("_", "-")] = low
    return found


def test_every_dependency_has_a_lower_bound_that_is_met():
    for name, low in declared().items():
        assert low is not None, f"{name} has no lower bound"
        try:
            there = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:
            continue  # an extra that is not installed here
        assert _numbers(there) >= _numbers(low), f"{name} {there} is older than {low}"


def test_every_import_is_declared():
    names = {n.lower().replace("_", "-") for n in declared()}
    ours = set()
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                ours |= {a.name.split(".")[0] for a in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                ours.add((node.module or "").split(".")[0])
    outside = {n for n in ours if n not in sys.stdlib_module_names and n != "pullcast"}
    assert {n.lower().replace("_", "-") for n in outside} - set(COMES_WITH) <= names
    assert set(COMES_WITH.values()) <= names


def _numbers(version):
    return tuple(int(n) for n in re.findall(r"\d+", version.split("+")[0])[:3])
