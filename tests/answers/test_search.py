"""The search over ranges, on a made-up goal that is known: best place, flat width, limits, several variables."""

from pathlib import Path

import numpy as np
import pytest

from pullcast.answers import scoring
from pullcast.answers import search as searches
from pullcast.answers.search import search, trend_of
from pullcast.card.candidates import Span
from pullcast.card.shortlist import read_shortlist
from pullcast.errors import InputError

CONFIGS = Path(__file__).parents[2] / "configs"
CARD = CONFIGS / "shortlists" / "four_runner_search.toml"


def runner(engine):
    """Length of the first runner, m, as the card gives it (the port's own length taken off)."""
    return next(p.length for p in engine.intake.pipes if "runner" in p.name)


@pytest.fixture
def quick(monkeypatch):
    """Goal 200 N m less a parabola about a runner of 300 mm: .5 % lower at 280 and 320 mm."""
    origin = []

    def compute(engines, speeds, fidelity, means, stage, shortlist=None):
        if not origin:
            base = read_shortlist(CARD)
            origin.append(runner(base.engine_at({"intake.runner.length": 300.0})))
        rows = []
        for e in engines:
            away = (runner(e) - origin[0]) / 0.020
            limits = {} if shortlist is None else {c.name: 0.250 + (runner(e) - origin[0])
                                                   for c in shortlist.constraints if c.name == "hood_height"}
            advance = e.cam.intake.centreline_deg
            goal = 200.0 * (1 - 0.005 * away**2) - 0.01 * (advance - 104.0) ** 2
            rows.append(scoring.Row(np.full(len(speeds), goal), limits))
        return rows, ()

    monkeypatch.setattr(searches.scoring, "compute", compute)


def test_best_place_and_flat_width_of_a_parabola(quick):
    found = search(CARD)
    trend = found.trends[0]
    assert found.place["intake.runner.length"] == pytest.approx(300.0, abs=1.0)
    assert trend.best == pytest.approx(300.0, abs=1.0)
    assert trend.flat == pytest.approx((280.0, 320.0), abs=3.0)  # the curve between places is an interpolation
    assert not trend.open_below
    assert not trend.open_above
    assert found.settled
    assert found.engines < 25
    assert "is within 0.5 % of the best" in repr(found)


def test_a_limit_bounds_the_best_place(quick, tmp_path):
    text = CARD.read_text().replace('hood_height = "330 mm"', 'hood_height = "230 mm"')
    found = search(_beside(tmp_path, text))
    assert found.place["intake.runner.length"] <= 280.0
    assert all(x.kept for x in found.limits)
    assert found.trends[0].flat[1] <= 281.0
    with pytest.raises(InputError, match="keeps the limits: height of the intake over its flange"):
        search(_beside(tmp_path, text.replace('"230 mm"', '"110 mm"')))


def test_two_variables_are_both_found(quick, tmp_path):
    more = 'cam.advance = { from = "-8 deg", to = "8 deg" }\n\n[constraints]'
    text = CARD.read_text().replace("[constraints]", more)
    found = search(_beside(tmp_path, text))
    shortlist = read_shortlist(_beside(tmp_path, text))
    engine = shortlist.engine_at(found.place)
    assert found.place["intake.runner.length"] == pytest.approx(300.0, abs=6.0)
    assert engine.cam.intake.centreline_deg == pytest.approx(104.0, abs=2.0)
    assert len(found.trends) == 2
    assert all(len(t.at) >= searches.SLICE - 1 for t in found.trends)


def _beside(tmp_path, text):
    import shutil

    if not (tmp_path / "configs").exists():
        shutil.copytree(CONFIGS, tmp_path / "configs")
    path = tmp_path / "configs" / "shortlists" / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_trend_counts_between_a_kept_and_a_broken_place_as_broken():
    span = Span("x", 0.0, 10.0, "mm")
    u = np.linspace(0, 1, 6)
    gain = np.array([0.0, 0.01, 0.02, 0.03, 0.04, 0.05])
    trend = trend_of(span, u, gain, np.array([True, True, True, True, False, False]))
    assert trend.best == pytest.approx(6.0, abs=0.01)
    assert trend.flat[1] == pytest.approx(6.0, abs=0.01)
    assert trend.flat[0] == pytest.approx(6.0 - 0.00515 / 0.005, abs=0.05)
    alone = trend_of(span, u, gain, np.array([False, False, True, False, False, False]))
    assert alone.best == pytest.approx(4.0, abs=0.01)
    assert trend_of(span, u, gain, np.ones(6, bool)).open_above


def test_a_list_of_candidates_is_no_search():
    with pytest.raises(InputError, match="lists candidates and no ranges: rank them"):
        search(CONFIGS / "shortlists" / "hillclimb_shelf.toml")
