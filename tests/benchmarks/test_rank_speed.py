"""How fast candidates are ranked: run with ``pytest tests/benchmarks/test_rank_speed.py --benchmark-only``.

The bounds hold on two free cores; the rates are printed.
"""

import os
import time
from dataclasses import replace
from pathlib import Path

from pullcast.answers import scoring
from pullcast.answers.rank import rank
from pullcast.card.reading import read_engine, with_changes
from pullcast.card.shortlist import read_shortlist

CONFIGS = Path(__file__).parents[2] / "configs"
V8 = CONFIGS / "engines" / "hillclimb_v8.toml"


def lumped(count, speeds, workers):
    engines = [with_changes(V8, {"block.compression_ratio": 9.0 + 0.01 * k}) for k in range(count)]
    start = time.monotonic()
    rows, _ = scoring.compute(engines, speeds, "lumped", scoring.Means(workers=workers), "speed")
    assert not [r.trouble for r in rows if r.trouble]
    return time.monotonic() - start


def test_two_hundred_candidates_by_nine_speeds(benchmark, row):
    speeds = [2800.0 + 400.0 * k for k in range(9)]
    lumped(1, speeds[:1], 1)
    one = lumped(200, speeds, 1)
    taken = benchmark.pedantic(lumped, (200, speeds, 2), rounds=1)
    benchmark.extra_info |= {"candidates_per_second_1_worker": 200 / one,
                             "candidates_per_second_2_workers": 200 / taken}
    print(f"\n200 candidates x 9 speeds, lumped, 2 workers: {taken:.1f} s, {200 / taken:.2f} candidates/s; "
          f"1 worker {200 / one:.2f} candidates/s; load {os.getloadavg()[0]:.1f}")
    row("200 candidates x 9 speeds, V8, lumped", f"2 processes: {taken:.1f} s wall, {200 / taken:.1f} candidates/s",
        f"1 process: {one:.1f} s wall, {200 / one:.1f} candidates/s",
        f"efficiency {one / taken / 2:.2f} (wanted 0.85; bound 60 s)", "")
    assert taken <= 60.0 * max(1.0, os.getloadavg()[0] / 2.0)


def test_six_finalists_by_twelve_speeds_by_waves(benchmark, row):
    shortlist = read_shortlist(CONFIGS / "shortlists" / "hillclimb_shelf.toml")
    engines = [c.engine for c in shortlist.candidates][:6]
    speeds = [1500.0 + 450.0 * k for k in range(12)]
    scoring.compute([read_engine(V8)], speeds[-1:], "wave", scoring.Means(workers=1), "warm")

    def waves(some, workers):
        start = time.monotonic()
        scoring.compute(some, speeds, "wave", scoring.Means(workers=workers), "speed")
        return time.monotonic() - start

    one = waves(engines[:2], 1)
    taken = benchmark.pedantic(waves, (engines, 2), rounds=1)
    print(f"\n6 finalists x 12 speeds by waves, 2 workers: {taken:.1f} s; load {os.getloadavg()[0]:.1f}")
    row("6 finalists x 12 speeds, V8, waves", f"2 processes: {taken:.1f} s wall, {6 / taken:.2f} candidates/s",
        f"1 process: {2 / one:.2f} candidates/s", f"{3 * one / taken:.2f} times (bound 60 s)", "")
    assert taken <= 60.0 * max(1.0, os.getloadavg()[0] / 2.0)


def test_what_is_typed_by_default(benchmark, row):
    """Gains by waves, the lumped model beside them, draws by both models, what decides: the whole of ``rank``."""
    shelf = read_shortlist(CONFIGS / "shortlists" / "hillclimb_shelf.toml")
    band = replace(shelf.band, low=1500.0, high=6450.0, speeds=tuple(1500.0 + 450.0 * k for k in range(12)))
    shortlist = replace(shelf, band=band, candidates=shelf.candidates[:6])
    scoring.compute([shelf.base], [6000.0], "wave", scoring.Means(workers=1), "warm")

    def ranked():
        start = time.monotonic()
        found = rank(shortlist, workers=2)
        assert found.wave_draws == 8
        return time.monotonic() - start

    taken = benchmark.pedantic(ranked, rounds=1)
    print(f"\nrank of 6 parts x 12 speeds as by default, 2 workers: {taken:.1f} s; load {os.getloadavg()[0]:.1f}")
    row("rank of 6 parts x 12 speeds, V8, as by default", f"2 processes: {taken:.1f} s wall",
        "8 of 32 draws by waves too", "(bound 60 s)", "")
    assert taken <= 60.0 * max(1.0, os.getloadavg()[0] / 2.0)
