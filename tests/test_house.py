"""The house stands: import contracts, lint, agreed top level, and nothing in it that should not be."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TOP = {"README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml", "sim", "configs", "tests",
       "validation", "examples"}


def tool(name):
    path = Path(sys.executable).parent / name
    return str(path) if path.exists() else shutil.which(name)


def tracked():
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout")
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout.split("\n")


def test_import_contracts():
    done = subprocess.run([tool("lint-imports")], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:]


def test_ruff():
    done = subprocess.run([tool("ruff"), "check", "--output-format", "concise", "."], cwd=ROOT, capture_output=True,
                          text=True, check=False)
    assert done.returncode == 0, done.stdout[-3000:]


def test_top_level_holds_only_the_agreed_names():
    tops = {name.split("/")[0] for name in tracked() if name}
    assert not {t for t in tops if not t.startswith(".")} - TOP


def test_no_machine_paths_in_tracked_text():
    pattern = re.compile(r"(?<![\w.])/(work|root|home|tmp)/[a-z]")
    bad = []
    for name in tracked():
        if not name.endswith((".py", ".md", ".toml")) or name.startswith("tests/test_house"):
            continue
        if pattern.search((ROOT / name).read_text(encoding="utf-8")):
            bad.append(name)
    assert not bad


@pytest.mark.parametrize("module", ["pullcast", "pullcast.cli"])
def test_importing_stays_light(module):
    """None of the heavy libraries loads with the package or the command's help."""
    heavy = ["numba", "matplotlib", "cantera", "xarray", "pandas", "scipy", "pint"]
    code = f"import sys, {module}; print([m for m in {heavy!r} if m in sys.modules])"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert out.strip() == "[]"
