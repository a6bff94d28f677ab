"""How cost grows: with processes, cells, cylinders and candidates; and what memory a worker takes."""

import resource
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.benchmarks.test_march_speed import pipes

from pullcast.answers import scoring
from pullcast.card import read_engine
from pullcast.card.reading import with_changes
from pullcast.kernels.march import march_time
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import settle
from pullcast.solve.sweep import _processes, sweep

CARDS = Path(__file__).parents[2] / "configs" / "engines"
V8 = CARDS / "hillclimb_v8.toml"
FOUR_STROKES = replace(Numerics(), min_cycles=3, max_cycles=3, tolerance=0.0)


def fit(x, y):
    """Straight line through measured costs: its start, its slope, its worst miss over the largest."""
    slope, base = np.polyfit(x, y, 1)
    return base, slope, float(np.abs(np.polyval([slope, base], x) - y).max() / max(y))


def least(work, times=5):
    taken = []
    for _ in range(times):
        begin = time.process_time()
        work()
        taken.append(time.process_time() - begin)
    return min(taken)


def memory_of(rpm):
    """Largest memory of the process that marches this, bytes."""
    settle(read_engine(V8), rpm)
    return 1024 * resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


@pytest.mark.benchmark(group="processes")
def test_two_processes(benchmark, row):
    """A V8 curve of 16 points by one worker process and by two, in wall time: efficiency at least 0.85."""
    engine, speeds = read_engine(V8), np.linspace(2500.0, 6500.0, 16)
    sweep(engine, speeds[:1], workers=1)

    def wall(workers):
        begin = time.monotonic()
        points = sweep(engine, speeds, workers=workers)
        assert all(p.converged for p in points)
        return time.monotonic() - begin

    one = min(wall(1) for _ in range(2))
    two = benchmark.pedantic(wall, (2,), rounds=3)
    two = min(two, benchmark.stats.stats.min)
    row("V8 curve, 16 points by waves", f"2 processes: {two:.2f} s wall", f"1 process: {one:.2f} s wall",
        f"efficiency {one / two / 2:.2f} (wanted 0.85)", "bit for bit the same points")
    assert one / two / 2 >= 0.85


@pytest.mark.benchmark(group="memory")
def test_memory_of_a_worker(benchmark, row):
    """At most 400 MB."""
    with _processes(1) as pool:
        taken = benchmark.pedantic(lambda: pool.submit(memory_of, 4000.0).result(), rounds=1) / 1e6
    row("memory of a worker, V8 by waves", f"{taken:.0f} MB", "", "at most 400 MB", "most of it numba and numpy")
    assert taken <= 400.0


@pytest.mark.benchmark(group="growth")
def test_cells(benchmark, row):
    """Linear in the number of cells."""
    cells, costs = np.array([350, 700, 1400, 2800]), []
    for n in cells:
        model = pipes(n)
        steps = march_time(model, 1e-3, 0.8, 1e-3, 10**6)[3]
        costs.append(1e6 * least(lambda m=model: march_time(m, 1e-3, 0.8, 1e-3, 10**6)) / steps)
    base, slope, miss = benchmark.pedantic(fit, (cells, costs), rounds=1)
    row("a step over cells", f"{base:.1f} us + {1e3 * slope:.1f} ns a cell", "22 pipes, 350 to 2800 cells",
        f"straight line within {100 * miss:.0f} %", "")
    assert miss < 0.1


@pytest.mark.benchmark(group="growth")
def test_cylinders(benchmark, row):
    """About linear in the cylinders (engines differ in pipes too)."""
    cards = ("lab_single", "vintage_twin", "club_four", "touring_six", "hillclimb_v8")
    engines = [read_engine(CARDS / f"{c}.toml") for c in cards]
    costs = [1e3 * least(lambda e=e: settle(e, 3000.0, FOUR_STROKES), 3) / 3 for e in engines]
    counts = np.array([e.block.cylinders for e in engines])
    base, slope, miss = benchmark.pedantic(fit, (counts, costs), rounds=1)
    row("a cycle at 3000 rpm over cylinders", f"{base:.1f} ms + {slope:.1f} ms a cylinder",
        "shipped engines of 1 to 8",
        f"straight line within {100 * miss:.0f} %", "pipes and their shortest cells differ from engine to engine")
    assert miss < 0.4


@pytest.mark.benchmark(group="growth")
def test_candidates(benchmark, row):
    """Linear in the number of candidates, lumped."""
    counts, costs = np.array([10, 20, 40, 80]), []
    speeds = [3000.0, 4000.0, 5000.0]
    for n in counts:
        engines = [with_changes(V8, {"block.compression_ratio": 9.0 + 0.01 * k}) for k in range(n)]
        means = scoring.Means(workers=1)
        costs.append(least(lambda es=engines, m=means: scoring.compute(es, speeds, "lumped", m, "speed"), 2))
    base, slope, miss = benchmark.pedantic(fit, (counts, costs), rounds=1)
    row("a lumped screening of 3 speeds over candidates", f"{1e3 * base:.0f} ms + {1e3 * slope:.1f} ms a candidate",
        "10 to 80 candidates", f"straight line within {100 * miss:.0f} %", "")
    assert miss < 0.1
