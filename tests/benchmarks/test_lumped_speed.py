"""What the lumped fidelity costs; candidates over worker processes are in ``test_rank_speed.py``."""

import time
from pathlib import Path

import numpy as np
import pytest

from pullcast.card import read_engine
from pullcast.card.reading import with_changes
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.sweep import settle_many, sweep

V8 = Path(__file__).parents[2] / "configs" / "engines" / "hillclimb_v8.toml"
CURVE = np.linspace(1500.0, 6500.0, 12).tolist()


def clocks(work):
    """Wall and processor seconds of some work."""
    wall, cpu = time.monotonic(), time.process_time()
    work()
    return time.monotonic() - wall, time.process_time() - cpu


@pytest.mark.benchmark(group="lumped")
def test_curve_of_twelve_speeds(benchmark, row):
    """A V8 curve of 12 speeds with the building of its network: at most 300 ms wall on two free cores."""
    sweep(read_engine(V8), CURVE[:1], fidelity="lumped", workers=1)

    def least(workers):
        engines = [read_engine(V8) for _ in range(5)]
        return min(clocks(lambda e=e: sweep(e, CURVE, fidelity="lumped", workers=workers)) for e in engines)

    one = least(1)
    two = benchmark.pedantic(least, (2,), rounds=1)
    row("V8 curve, 12 speeds, lumped, built anew", f"2 threads: {1e3 * two[0]:.0f} ms wall",
        f"1 thread: {1e3 * one[0]:.0f} ms wall, {1e3 * one[1]:.0f} ms", "at most 300 ms wall", "")
    assert one[1] <= 0.5


@pytest.mark.benchmark(group="lumped")
def test_points_side_by_side(benchmark, row):
    """Points a second one by one against many asked for at once."""
    engines = [with_changes(V8, {"block.compression_ratio": 9.0 + 0.02 * k}) for k in range(8)]
    pairs = [(e, rpm) for e in engines for rpm in CURVE[::2]]
    settle_lumped(*pairs[0])
    alone = clocks(lambda: [settle_lumped(*pair) for pair in pairs])
    many = benchmark.pedantic(lambda: clocks(lambda: settle_many(*zip(*pairs, strict=True), workers=2)), rounds=1)
    row("V8 points, lumped", f"many at once, 2 threads: {len(pairs) / many[0]:.0f} a second wall",
        f"one by one: {len(pairs) / alone[0]:.0f} a second wall", f"{alone[0] / many[0]:.2f} times",
        "8 candidates x 6 speeds, bit for bit the same points")
    assert many[0] < 1.3 * alone[0]
