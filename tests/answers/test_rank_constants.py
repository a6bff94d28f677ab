"""What a ranking takes for granted about its models, measured anew on the shelves of three shipped engines.

Minutes of computing, so not run by default. How: every candidate of a shelf is marched by both models at the cards'
values and at eight draws of what the cards leave open; by waves also on finer cells. Then

gap       lumped less wave gain at the cards' values, for one swapped part or value, root mean square
misfit    what is left between the deviations of the gains at the draws by both models, over the lumped deviation
numerical change of a gain from 25 to 15 mm cells, root mean square
"""

import shutil
from dataclasses import replace

import numpy as np
import pytest
from validation.parts.rank_chances.case import CONFIGS, SHELVES, shelf

from pullcast.answers import scoring
from pullcast.answers.agreement import USUAL_GAP
from pullcast.answers.rank import MISFIT, NUMERICAL
from pullcast.answers.sampling import Entrant, draws, engine_at, factors_of
from pullcast.solve.numerics import Numerics

DRAWS = 8


def gains(shortlist, engines, fidelity, cell=0.025):
    """Gains of engines in rows of one base and its candidates."""
    speeds, means = list(shortlist.band.speeds), scoring.Means(numerics=replace(Numerics(), cell=cell))
    rows, _ = scoring.compute(engines, speeds, fidelity, means, "")
    goal = scoring.scores(shortlist, speeds, rows).reshape(-1, 1 + len(shortlist.candidates))
    return goal / goal[:, :1] - 1.0


def measured(name, configs):
    """Gap (candidates,), deviations at the draws by both models (draws, candidates), grid changes (candidates,)."""
    shortlist = shelf(name, configs)
    some = [Entrant("base", {}, shortlist.base), *(Entrant(c.name, c.swaps, c.engine) for c in shortlist.candidates)]
    factors = factors_of(some)
    z = draws(factors, DRAWS, 5)
    middle = [e.engine for e in some]
    drawn = [engine_at(shortlist.base_path, e, dict(zip(factors, row, strict=True))) for row in z for e in some]
    lumped, wave = (gains(shortlist, [*middle, *drawn], fidelity) for fidelity in ("lumped", "wave"))
    fine = gains(shortlist, middle, "wave", 0.015)
    return (lumped[0] - wave[0])[1:], (lumped[1:] - lumped[0])[:, 1:], (wave[1:] - wave[0])[:, 1:], (
        wave[0] - fine[0])[1:]


def rms(x):
    return float(np.sqrt(np.nanmean(np.square(x))))


@pytest.mark.long
def test_the_constants_of_a_ranking_are_what_three_engines_show(tmp_path):
    configs = shutil.copytree(CONFIGS, tmp_path / "configs")
    found = {name: measured(name, configs) for name in SHELVES}
    for name, (gap, lumped, wave, grid) in found.items():
        print(f"{name}: gap {rms(gap):.4f}, misfit {rms(wave - lumped) / rms(lumped):.2f}, grid {rms(grid):.5f}")
    gap = rms(np.concatenate([x[0] for x in found.values()]))
    misfit = np.sqrt(np.mean([(rms(wave - lumped) / rms(lumped)) ** 2 for _, lumped, wave, _ in found.values()]))
    grid = rms(np.concatenate([x[3] for x in found.values()]))
    print(f"all: gap {gap:.4f} ({USUAL_GAP}), misfit {misfit:.2f} ({MISFIT}), grid {grid:.5f} ({NUMERICAL})")
    assert gap / 1.5 < USUAL_GAP < 1.5 * gap
    assert misfit / 1.5 < MISFIT < 1.5 * misfit
    assert grid / 2.0 < NUMERICAL < 2.0 * grid
