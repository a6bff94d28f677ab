"""What a march costs: ``python -m pytest tests/benchmarks --benchmark-only``; not timed in the ordinary tests."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pullcast.card import read_engine
from pullcast.card.engine import End, Pipe, Segment
from pullcast.gasdata.tables import gas_table
from pullcast.kernels.march import march_time
from pullcast.network.arrays import assemble, set_gas
from pullcast.network.components import Network
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import settle

CARDS = Path(__file__).parents[2] / "configs" / "engines"


def pipes(cells, count=22):
    """``count`` closed pipes of together about ``cells`` cells, full of waves of warm mixed gas."""
    gas = gas_table("petrol", 0.88)
    length = 0.025 * cells / count
    network = Network(tuple(Pipe(f"p{i}", End("closed"), End("closed"), (Segment(length, 1.5e-3, 1e-3),))
                            for i in range(count)))
    model, names = assemble(network, gas, 0.025)
    for a, b in zip(names.first, names.last, strict=True):
        wave = 1e5 * (1 + 0.3 * np.sin(np.linspace(0, 6, b - a + 3)))
        set_gas(gas, model.flow, slice(a - 1, b + 2), wave, 500.0, 0.02, 0.5)
    return model


@pytest.mark.benchmark(group="one V8 point, 4000 rpm")
@pytest.mark.parametrize("how", ["wave", "lumped"])
def test_v8_point(benchmark, how):
    """One point of the V8 in at most 1.5 s on one core by waves."""
    engine = read_engine(CARDS / "hillclimb_v8.toml")
    run = settle if how == "wave" else settle_lumped
    run(engine, 4000.0)
    point = benchmark.pedantic(run, (engine, 4000.0), rounds=5)
    assert point.converged
    assert benchmark.stats.stats.min < 1.5


@pytest.mark.benchmark(group="cells")
@pytest.mark.parametrize("cells", [175, 350, 700, 1400])
def test_cell_update(benchmark, cells):
    """Time per cell and step in ``extra_info``; should not depend on the number of cells."""
    model = pipes(cells)
    march_time(model, 1e-4, 0.8, 1e-3, 10**6)
    steps = [0]

    def go():
        steps[0] = march_time(model, 5e-3, 0.8, 1e-3, 10**6)[3]

    benchmark.pedantic(go, rounds=5)
    real = int(model.ducts.real.sum())
    benchmark.extra_info["ns_per_cell_and_step"] = 1e9 * benchmark.stats.stats.min / steps[0] / real


@pytest.mark.benchmark(group="growth with cylinders")
@pytest.mark.parametrize("card", ["lab_single", "vintage_twin", "club_four", "touring_six", "hillclimb_v8"])
def test_cycle_cost(benchmark, card):
    """Three cycles at 3000 rpm, whatever the convergence."""
    engine = read_engine(CARDS / f"{card}.toml")
    numerics = replace(Numerics(), min_cycles=3, max_cycles=3, tolerance=0.0)
    settle(engine, 3000.0, numerics)
    benchmark.pedantic(settle, (engine, 3000.0, numerics), rounds=3)
