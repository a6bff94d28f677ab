"""Ranking as a whole: on a made-up torque law that is quick, and once on a shipped engine with both models."""

import dataclasses
import json
import math
import shutil
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import truncnorm

from pullcast.answers import rank as ranks
from pullcast.answers import scoring
from pullcast.answers.plan import plan
from pullcast.answers.rank import rank
from pullcast.answers.ranking_file import ranking_document, read_ranking, save_ranking
from pullcast.answers.sampling import Entrant, at, draws, engine_at, factors_of
from pullcast.card.shortlist import read_shortlist
from pullcast.errors import InputError, SolveError, StoreError
from pullcast.show.rank_tables import broken_lines

CONFIGS = Path(__file__).parents[2] / "configs"
HEAD = """name = "A list"
base = "{base}"
goal = "{goal}"
band = {{ low = "{low} rpm", high = "{high} rpm", speeds = "{speeds} rpm" }}
"""
RATIO = '[[candidate]]\nname = "ratio"\nblock.compression_ratio = 11.0\n'
LATE = '[[candidate]]\nname = "late"\ncam.advance = "-6 deg"\n'
EARLY = '[[candidate]]\nname = "early"\ncam.advance = "8 deg"\n'


@pytest.fixture(scope="module")
def cards(tmp_path_factory):
    """A copy of the shipped cards."""
    return shutil.copytree(CONFIGS, tmp_path_factory.mktemp("cards") / "configs")


@pytest.fixture
def listed(cards):
    """A shortlist on a shipped engine from its text."""
    def make(text, goal="band torque", low=3000, high=6000, speeds="3000 4500 6000", engine="hillclimb_v8"):
        path = cards / "shortlists" / "mine.toml"
        head = HEAD.format(base=f"engines/{engine}.toml", goal=goal, low=low, high=high, speeds=speeds)
        path.write_text(head + text, encoding="utf-8")
        return read_shortlist(path)
    return make


def law(engine, rpm, fidelity):
    """Torque of a made-up law: ratio lifts all, a late cam turns the curve about 4500 rpm, unknowns move both."""
    late = engine.cam.intake.centreline_deg - 106.0
    x = (rpm - 4500.0) / 1500.0
    lumped = fidelity == "lumped"
    gain = 0.03 * (engine.block.compression_ratio - 10.0) + (0.004 + 0.002 * lumped) * late * x
    gain += 0.03 * (engine.walls.factor - 1.0) * (engine.block.compression_ratio - 10.0)
    gain += 0.001 * late * (engine.burn.duration_10_90_deg - 27.0)
    return 400.0 * (1.0 + gain) - 40.0 * (engine.friction.factor - 1.0) - 30.0 * x * x


@pytest.fixture
def quick(monkeypatch):
    """Compute with ``law``; count what was computed."""
    done = {"wave": 0, "lumped": 0}

    def compute(engines, speeds, fidelity, means, stage, shortlist=None):
        done[fidelity] += len(engines) * len(speeds)
        rows = []
        for e in engines:
            limits = {} if shortlist is None else {
                c.name: scoring.limit_value(c, e, [{"torque": law(e, s, fidelity)} for s in speeds], 6000.0)
                for c in shortlist.constraints if c.kind.variable in ("", "torque")}
            rows.append(scoring.Row(np.array([law(e, s, fidelity) for s in speeds]), limits))
        return rows, ()

    monkeypatch.setattr(ranks.scoring, "compute", compute)
    return done


def test_two_bands_on_crossing_curves_give_different_winners(listed, quick):
    low = rank(listed(LATE + EARLY, low=3000, high=4500, speeds="3000 3800 4500"), samples=0)
    high = rank(listed(LATE + EARLY, low=4500, high=6000, speeds="4500 5200 6000"), samples=0)
    assert low.places[0].name == "early"
    assert high.places[0].name == "late"


def test_the_goal_sorts_and_a_peak_only_when_asked_for(listed, quick):
    band = rank(listed(LATE + EARLY + RATIO), samples=0)
    assert band.goal == "band torque"
    assert [p.gain for p in band.places] == sorted((p.gain for p in band.places), reverse=True)
    assert not any("peak" in n for n in band.notes)
    assert any("goal is a peak" in n for n in rank(listed(LATE, goal="peak torque"), samples=0).notes)


def test_clones_come_out_as_no_difference(listed, quick):
    clones = "".join(f'[[candidate]]\nname = "clone {k}"\nblock.compression_ratio = 10.6\n' for k in range(8))
    for seed in range(5):
        r = rank(listed(clones), samples=8, seed=seed)
        assert r.winner == ""
        assert {r.verdicts[f"clone {a}", f"clone {b}"] for a in range(8) for b in range(a)} == {"identical"}
        assert "No winner" in r.headline()


def test_a_clone_of_the_base_gains_nothing(listed, quick):
    r = rank(listed('[[candidate]]\nname = "same"\nblock.compression_ratio = 10.1\n'), samples=8)
    assert r.places[0].verdict == "identical"
    assert (r.places[0].low, r.places[0].high) == (0.0, 0.0)


def test_limits_are_kept_or_the_candidate_is_set_behind(listed, quick):
    limits = '[constraints]\ndriveline_torque = "410 N m"\nhood_height = "150 mm"\n'
    r = rank(listed(RATIO + EARLY + limits), samples=8)
    assert [p.name for p in r.places] == ["early", "ratio"]
    broken = r.place("ratio").limits
    assert [x.name for x in broken if not x.kept] == ["driveline_torque"]
    assert r.place("ratio").best == 0.0
    assert r.place("ratio").low is not None
    assert r.winner != "ratio"


def test_a_limit_that_none_keeps_is_set_aside(listed, quick):
    limits = '[constraints]\ndriveline_torque = "100 N m"\n'
    r = rank(listed(RATIO + EARLY + limits), samples=8)
    assert [p.name for p in r.places] == ["ratio", "early"]
    assert all(p.kept and not p.limits[0].kept and p.limits[0].aside for p in (*r.places, r.base))
    assert r.winner == "ratio"
    assert any("No engine on the list keeps the limit on" in n for n in r.notes)
    text = "\n".join(broken_lines(r))
    assert text.count("All break: ") == 1
    day = plan(r, parts=1, refit=0.002)
    assert any("ratio breaks a limit of the shortlist" in n for n in day.notes)
    one_keeps = rank(listed(RATIO + EARLY + limits.replace("100", "410")), samples=8)
    assert not any(x.aside for p in one_keeps.places for x in p.limits)


def test_screening_carries_the_best_and_states_the_agreement(listed, quick):
    ratios = "".join(f'[[candidate]]\nname = "r{k}"\nblock.compression_ratio = {10.2 + 0.1 * k}\n' for k in range(8))
    r = rank(listed(ratios), screen=3, samples=0)
    assert [p.name for p in r.places] == ["r7", "r6", "r5"]
    assert {p.fidelity for p in r.places} == {"wave"}
    assert r.screened.carried == ("r7", "r6", "r5")
    assert set(r.agreement.names) == {"r7", "r6", "r5", *r.screened.controls}
    assert r.agreement.rank_correlation == pytest.approx(1.0)
    assert quick == {"wave": 3 * 6, "lumped": 3 * 9}
    values = ", ".join(f"{9 + 0.1 * k:.1f}" for k in range(20))
    many = rank(listed(f"[grid]\nblock.compression_ratio = [{values}]"), samples=0)
    assert len(many.places) == ranks.SCREENED_TO
    assert any("the lumped model chose" in n for n in many.notes)


def turned(engine, rpm, fidelity):
    """A law by which the lumped model orders cams the other way round."""
    late = engine.cam.intake.centreline_deg - 106.0
    return 400.0 + (1.0 if fidelity == "wave" else -1.0) * late * (rpm - 2000.0) / 1000.0


def test_what_was_only_to_compare_is_ranked_when_waves_find_it_better(listed, quick, monkeypatch):
    text = "".join(f'[[candidate]]\nname = "c{k}"\ncam.advance = "{k} deg"\n' for k in range(-6, 10, 3))

    monkeypatch.setitem(globals(), "law", turned)
    r = rank(listed(text), samples=8, screen=2)
    assert r.screened.names[:2] == ("c9", "c6")
    assert r.screened.carried == ("c9", "c6", "c-3", "c-6")
    assert r.screened.controls == ()
    assert [p.name for p in r.places] == ["c-6", "c-3", "c6", "c9"]
    assert any("c-3, c-6: left behind by the lumped model" in n for n in r.notes)
    assert set(r.screened.names) >= {r.screened.behind_name}
    assert r.screened.behind_name in ("c0", "c3")


def test_limits_of_a_screening_are_moved_by_what_waves_make_of_the_base(listed, quick, monkeypatch):
    limits = '[constraints]\ndriveline_torque = "420 N m"\nhood_height = "150 mm"\n'
    text = "".join(f'[[candidate]]\nname = "r{k}"\nblock.compression_ratio = {10.3 + 0.4 * k}\n' for k in range(4))
    shortlist, plain = listed(text + limits), law
    whole = rank(shortlist, samples=0)
    assert [p.name for p in whole.places if p.kept] == ["r2", "r1", "r0"]  # r3 breaks by waves

    def high(engine, rpm, fidelity):
        return plain(engine, rpm, fidelity) + 15.0 * (fidelity == "lumped")

    monkeypatch.setitem(globals(), "law", high)
    few = rank(shortlist, samples=0, screen=1)  # unmoved, r1 and r2 would seem to break the limit
    assert few.screened.carried == ("r2",)
    assert few.places[0].kept


def test_lumped_alone_reckons_with_its_gap_to_waves(listed, quick):
    wave = rank(listed(RATIO + LATE, low=4500, high=6000, speeds="4500 5200 6000"), samples=16)
    lumped = rank(listed(RATIO + LATE, low=4500, high=6000, speeds="4500 5200 6000"), samples=16, fidelity="lumped")
    assert {p.fidelity for p in lumped.places} == {"lumped"}
    assert lumped.agreement.names
    for name in ("ratio", "late"):
        a, b = wave.place(name), lumped.place(name)
        assert b.high - b.low > a.high - a.low
    assert lumped.verdicts["late", "base"] == "no difference" or lumped.pairs["late", "base"] < 0.99


def test_a_list_that_the_lumped_model_does_not_order_says_so(listed, quick, monkeypatch):
    text = "".join(f'[[candidate]]\nname = "c{k}"\ncam.advance = "{k} deg"\n' for k in range(-6, 7, 3))

    monkeypatch.setitem(globals(), "law", turned)
    whole = rank(listed(text), samples=0)
    assert any("does not order this list as waves do (rank correlation -1.00 on 5 engines)" in n
               and "all 5 are ranked by waves here" in n for n in whole.notes)
    assert any("carry all 5 to waves (--screen 5)" in n for n in rank(listed(text), samples=0, screen=2).notes)


def test_the_spread_is_learned_from_draws_by_waves(listed, quick):
    text = RATIO + LATE
    told = rank(listed(text), samples=16)
    assert told.wave_draws == 8
    alone = rank(listed(text), samples=16, wave_draws=0)
    assert alone.wave_draws == 0
    assert told.place("ratio").gain == alone.place("ratio").gain
    low, high = told.apart["ratio", "late"]
    assert told.apart["late", "ratio"] == pytest.approx((-high, -low))
    assert rank(listed(text), samples=2).wave_draws == 0
    before = dict(quick)
    rank(listed(text), samples=16)
    assert quick["wave"] - before["wave"] == 3 * 3 + 8 * 3 * 3  # three engines at three speeds, eight draws


def test_draws_by_waves_that_did_not_converge_leave_the_spread_to_the_lumped_model(listed, quick, monkeypatch):
    shortlist, made = listed(RATIO + LATE), ranks.scoring.compute

    def compute(engines, speeds, fidelity, means, stage, shortlist=None):
        rows, warnings = made(engines, speeds, fidelity, means, stage, shortlist)
        lost = 5 * 3 if "by waves" in stage else 0  # of eight draws of three engines
        broken = scoring.Row(np.full(len(speeds), math.nan), {}, "it broke")
        return [broken if i < lost else r for i, r in enumerate(rows)], warnings

    alone = rank(shortlist, samples=16, wave_draws=0)
    monkeypatch.setattr(ranks.scoring, "compute", compute)
    r = rank(shortlist, samples=16)
    assert r.wave_draws == 0
    assert r.apart == alone.apart
    assert "5 of 8 draws by waves were left out: an engine did not converge there" in r.notes
    assert any("too few to learn a spread from: it is the lumped model's" in n for n in r.notes)


def test_the_unknown_that_decides_is_named(listed, quick):
    r = rank(listed(RATIO + '[[candidate]]\nname = "more"\nblock.compression_ratio = 11.3\n'), samples=32)
    assert r.influence.key == "walls.factor"
    assert r.influence.share > 0.5
    assert r.influence.measured >= r.influence.chance


def test_chances_come_true_over_engines_drawn_from_the_ranges(listed, quick):
    shortlist = listed(RATIO + LATE + EARLY + '[[candidate]]\nname = "both"\nblock.compression_ratio = 10.5\n'
                       'cam.advance = "0 deg"\n')
    said, true, inside, bands = [], [], 0, 0
    entrants = [Entrant("base", {}, shortlist.base),
                *(Entrant(c.name, c.swaps, c.engine) for c in shortlist.candidates)]
    factors = factors_of(entrants)
    random = np.random.default_rng(4)
    rankings = [rank(shortlist, samples=32, seed=s, spread="wave") for s in range(3)]
    for _ in range(300):
        z = dict(zip(factors, truncnorm.rvs(-2, 2, size=len(factors), random_state=random), strict=True))
        gains = {}
        for e in entrants:
            engine = engine_at(shortlist.base_path, e, z)
            torque = [law(engine, s, "wave") for s in shortlist.band.speeds]
            gains[e.name] = shortlist.score(shortlist.band.speeds, torque)
        for r in rankings:
            for p in r.places:
                gain = gains[p.name] / gains["base"] - 1.0
                inside += p.low <= gain <= p.high
                bands += 1
            said += list(r.pairs.values())
            true += [gains[a] > gains[b] for a, b in r.pairs]
    said, true = np.array(said), np.array(true)
    sure, right = np.maximum(said, 1 - said), np.where(said > 0.5, true, ~true)
    assert 0.70 <= inside / bands <= 0.90
    assert right.mean() == pytest.approx(sure.mean(), abs=0.07)


def test_common_unknowns_enter_once_and_a_part_keeps_its_own():
    shortlist = read_shortlist(CONFIGS / "shortlists" / "hillclimb_shelf.toml")
    base = Entrant("base", {}, shortlist.base)
    some = {c.name: Entrant(c.name, c.swaps, c.engine) for c in shortlist.candidates}
    dual, both = some["dual plane"], some["warm cam, dual plane"]
    assert base.factor("friction.factor") == dual.factor("friction.factor")
    assert dual.factor("intake.roughness") == both.factor("intake.roughness") != base.factor("intake.roughness")
    assert dual.factor("intake.wall_temperature") == base.factor("intake.wall_temperature")
    assert dual.factor("intake.roughness").label == "intake.roughness of v8_dual_plane"
    factors = factors_of([base, *some.values()])
    assert len(set(factors)) == len(factors)
    z = draws(factors, 4, 0)[0]
    moved = engine_at(shortlist.base_path, dual, dict(zip(factors, z, strict=True)))
    k = factors.index(base.factor("friction.factor"))
    row = next(a for a in shortlist.base.assumed if a.key == "friction.factor")
    assert moved.friction.factor == pytest.approx(at(row, z[k]), rel=1e-8)
    assert at(row, 2.0) == row.high
    assert at(row, -2.0) == row.low
    assert at(row, 0.0) == row.value


def test_every_assumed_key_of_the_shipped_engines_can_be_drawn():
    for path in sorted((CONFIGS / "engines").glob("*.toml")):
        from pullcast.card import read_engine

        base = Entrant("base", {}, read_engine(path))
        factors = factors_of([base])
        engine = engine_at(path, base, dict(zip(factors, draws(factors, 2, 1)[0], strict=True)))
        assert engine != base.engine


def test_what_cannot_be_ranked_is_refused(listed, quick):
    with pytest.raises(InputError, match=r"is a search over intake\.runner\.length: use search for it"):
        rank(CONFIGS / "shortlists" / "four_runner_search.toml")
    with pytest.raises(InputError, match="fidelity 'waves' is not known; there are wave and lumped"):
        rank(listed(RATIO), fidelity="waves")
    with pytest.raises(InputError, match="screen carries the best from the lumped model"):
        rank(listed(RATIO), fidelity="lumped", screen=2)
    with pytest.raises(InputError, match="spread wave does not go with fidelity lumped"):
        rank(listed(RATIO), fidelity="lumped", spread="wave")
    with pytest.raises(InputError, match="3 draws by waves are too few to learn a spread from: give at least 4"):
        rank(listed(RATIO), wave_draws=3)
    before = dict(quick)
    with pytest.raises(InputError, match="12 samples: give a power of two"):
        rank(listed(RATIO), samples=12)
    assert quick == before
    with pytest.raises(InputError, match="at least one"):
        rank(listed(RATIO), screen=0)


def test_a_base_without_a_curve_stops_and_a_candidate_without_one_is_named(listed, monkeypatch):
    def compute(engines, speeds, fidelity, means, stage, shortlist=None):
        bad = [e.block.compression_ratio == spoiled for e in engines]
        return [scoring.Row(np.full(len(speeds), math.nan if b else 400.0), {}, "it broke" if b else "")
                for b in bad], ()

    monkeypatch.setattr(ranks.scoring, "compute", compute)
    spoiled = 11.0
    r = rank(listed(EARLY + RATIO), samples=4)
    assert [p.name for p in r.places] == ["early", "ratio"]
    assert r.places[1].trouble == "it broke"
    assert "ratio" not in {a for a, _ in r.pairs}
    spoiled = 10.1
    with pytest.raises(SolveError, match="the base engine gives no band torque to compare with: it broke"):
        rank(listed(RATIO), samples=4)


def test_a_ranking_is_written_and_read_back(listed, quick, tmp_path):
    r = rank(listed(RATIO + LATE + '[constraints]\nhood_height = "150 mm"\n'), samples=8)
    path = save_ranking(r, tmp_path / "r.json")
    again = read_ranking(path)
    assert ranking_document(again) == ranking_document(r)
    assert again.headline() == r.headline()
    json.dumps(ranking_document(r), allow_nan=False)
    document = ranking_document(r)
    document["candidates"][0]["change_low_percent"].pop()
    path.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(StoreError, match="has not one value for each of the 3 speeds"):
        read_ranking(path)
    path.write_text("{}", encoding="utf-8")
    with pytest.raises(StoreError, match="is not a ranking of pullcast"):
        read_ranking(path)
    with pytest.raises(InputError, match="no such ranking"):
        read_ranking(tmp_path / "none.json")


def test_a_place_says_what_it_is(listed, quick):
    r = rank(listed(RATIO), samples=8)
    assert "1 ratio: +2." in repr(r)
    assert "clear" in repr(r.places[0])
    assert repr(dataclasses.replace(r.places[0], trouble="it broke")) == "ratio: it broke"


@pytest.mark.slow
def test_on_a_shipped_engine_by_both_models(listed):
    text = ('[[candidate]]\nname = "ratio"\nblock.compression_ratio = 12.0\n'
            '[[candidate]]\nname = "small throttle"\nintake.throttle.diameter = "46 mm"\n'
            '[constraints]\nvalve_acceleration = "20000 m/s2"\npiston_speed = "25 m/s"\ninjector_duty = "95 %"\n')
    shortlist, ticks = listed(text, low=4000, high=7000, speeds="4000 5500 7000", engine="club_four"), []
    r = rank(shortlist, samples=8, wave_draws=4, on_stage=lambda stage, t: ticks.append((stage, t.done, t.total)))
    assert [p.name for p in r.places] == ["ratio", "small throttle"]
    assert r.verdicts["ratio", "small throttle"] == "clear"
    assert r.winner == "ratio"
    assert r.places[1].high < 0.0
    assert all(x.value is not None for x in r.places[0].limits)
    ended = {stage for stage, done, total in ticks if done == total}
    assert ended >= {"wave", "lumped, to compare", "spread, lumped samples", "spread, 4 draws by waves"}
