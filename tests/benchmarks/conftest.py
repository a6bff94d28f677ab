"""Rows of the benchmark table; ``python -m pytest tests/benchmarks --benchmark-only`` writes it (README.md here)."""

import os
import platform
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import pytest

PAGE = Path(__file__).with_name("README.md")
ROWS = pytest.StashKey[list]()
TOP = """# What it costs

Written by `python -m pytest tests/benchmarks --benchmark-only`. Times are of one run on one machine, in
processor seconds unless "wall" is said; compare ratios, not times.
Peers are general-purpose libraries that solve the same equations.
Rows of two processes or threads tell something only where both cores are free for them; they may be from
runs by themselves.

"""


def _version(name):
    try:
        return f"{name} {version(name)}"
    except PackageNotFoundError:
        return f"{name} not installed"


def _machine():
    model = platform.processor() or platform.machine()
    cpu = Path("/proc/cpuinfo")
    if cpu.exists():
        lines = cpu.read_text().splitlines()
        model = next((line.split(":")[1].strip() for line in lines if "model name" in line), model)
    names = ", ".join(map(_version, ("numpy", "numba", "scipy", "cantera", "clawpack")))
    system = f"{platform.system()}, Python {platform.python_version()}"
    load = os.getloadavg()[0]
    return f"Machine: {model}, {os.cpu_count()} cores, {system}; {names}. Load at the end: {load:.1f}.\n\n"


def pytest_configure(config):
    config.stash[ROWS] = []


@pytest.fixture
def row(request):
    """Add a row to the table: what is compared, ours, the peer's, the ratio or verdict, a remark."""
    return lambda *cells: request.config.stash[ROWS].append(cells)


def pytest_sessionfinish(session):
    rows = session.config.stash[ROWS]
    if not rows or not session.config.getoption("benchmark_only", default=False):
        return
    head = "| what | pullcast | beside it | ratio or bound | remark |\n|---|---|---|---|---|\n"
    body = "".join(f"| {' | '.join(map(str, r))} |\n" for r in rows)
    PAGE.write_text(TOP + _machine() + head + body, encoding="utf-8")
