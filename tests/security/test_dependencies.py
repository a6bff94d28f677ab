"""What is installed beside the program: all needed, licences known, no known hole as far as that can be asked."""

import ast
import importlib.metadata
import importlib.util
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]
PROJECT = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
# packages used otherwise than by an import of their name: by file format, plug-in or command
BY_NAME = {"h5netcdf": "engine of the netCDF files", "pandas": "xarray stands on it; bounded here",
           "pytest-xdist": "option of pytest", "ruff": "command", "pytest-benchmark": "fixture",
           "import-linter": "command"}
# licences that let a program under BSD-3-Clause be used and passed on with them installed beside it
FREE = re.compile(r"\b(BSD|0BSD|MIT|Apache|ISC|Zlib|CC0|PSF|Python Software Foundation|MPL|Mozilla|HPND|Unlicense)\b")


def names(lines):
    return [re.match(r"[\w.-]+", line.strip())[0] for line in lines]


CORE = names(PROJECT["dependencies"])
EXTRAS = sorted({n for extra in PROJECT["optional-dependencies"].values() for n in names(extra)})


def imports_of(*folders):
    found = set()
    for path in (p for folder in folders for p in (TOP / folder).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {a.name.split(".")[0].lower() for a in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                found.add((node.module or "").split(".")[0].lower())
    return found


def test_nothing_is_asked_for_that_is_not_used():
    ours, all_of_us = imports_of("sim"), imports_of("sim", "tests", "validation", "examples")
    idle = [n for n in CORE if n.lower() not in ours and n not in BY_NAME]
    idle += [n for n in EXTRAS if n.lower().replace("-", "_") not in all_of_us and n not in BY_NAME]
    assert not idle


@pytest.mark.parametrize("name", sorted({*CORE, *EXTRAS}))
def test_its_licence_is_known_and_free(name):
    try:
        data = importlib.metadata.metadata(name)
    except importlib.metadata.PackageNotFoundError:
        pytest.skip(f"{name} is an extra that is not installed here")
    kinds = [c for c in data.get_all("Classifier") or [] if c.startswith("License")]
    said = " ".join([data.get("License-Expression") or "", (data.get("License") or "")[:60], *kinds])
    assert FREE.search(said), f"{name}: {said or 'no licence stated'}"
    assert not re.search(r"\b(A?GPL|General Public License)\b", said.replace("LGPL", "")), said


@pytest.mark.long
def test_no_dependency_has_a_published_hole():
    """Asks a database of advisories, through pip-audit where that is installed; skipped where it cannot be asked."""
    if importlib.util.find_spec("pip_audit") is None:
        pytest.skip("nothing is installed that asks a database of advisories: pip install pip-audit")
    asked = subprocess.run([sys.executable, "-m", "pip_audit", "--local", "--progress-spinner", "off", "--format",
                            "json", "--timeout", "15"], capture_output=True, text=True, check=False, timeout=600)
    try:
        report = json.loads(asked.stdout)
    except json.JSONDecodeError:
        pytest.skip(f"no database of advisories could be reached: {asked.stderr.strip().splitlines()[-1:]}")
    ours = {n.lower() for n in (*CORE, *EXTRAS)}
    holes = {d["name"]: [v["id"] for v in d["vulns"]] for d in report["dependencies"]
             if d.get("vulns") and d["name"].lower() in ours}
    assert not holes
