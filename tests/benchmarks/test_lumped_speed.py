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
    """A V8 curve of 12 speeds with the building of its network; at most 60 ms wall on two free cores were wanted."""
    sweep(read_engine(V8), CURVE[:1], fidelity="lumped", workers=1)

    def least(workers):
        engines = [read_engine(V8) for _ in range(5)]
        return min(clocks(lambda e=e: sweep(e, CURVE, fidelity="lumped", workers=workers)) for e in engines)

    one = least(1)
    two = benchmark.pedantic(least, (2,), rounds=1)
    row("V8 curve, 12 speeds, lumped, built anew", f"2 threads: {1e3 * two[0]:.0f} ms wall",
        f"1 thread: {1e3 * one[0]:.0f} ms wall, {1e3 * one[1]:.0f} ms", "wanted 60 ms wall",
        "eight speeds march side by side")
    assert one[1] <= 0.3


@pytest.mark.benchmark(group="lumped")
def test_points_side_by_side(benchmark, row):
    """Points a second one by one against many asked for at once."""
    engines = [with_changes(V8, {"block.compression_ratio": 9.0 + 0.02 * k}) for k in range(8)]
    pairs = [(e, rpm) for e in engines for rpm in CURVE[::2]]
    settle_lumped(*pairs[0])
    alone = clocks(lambda: [settle_lumped(*pair) for pair in pairs])
    beside = clocks(lambda: settle_many(*zip(*pairs, strict=True), workers=1))
    many = benchmark.pedantic(lambda: clocks(lambda: settle_many(*zip(*pairs, strict=True), workers=2)), rounds=1)
    one_by_one = f"one by one: {len(pairs) / alone[0]:.0f} a second wall"
    for how, taken in (("1 thread", beside), ("2 threads", many)):
        row("V8 points, lumped", f"side by side, {how}: {len(pairs) / taken[0]:.0f} a second wall", one_by_one,
            f"{alone[0] / taken[0]:.2f} times", "8 candidates x 6 speeds, bit for bit the same points")
    assert beside[1] < alone[1]
