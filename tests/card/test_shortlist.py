"""Shortlist cards: candidates, grids, searches, bands and goals; all problems at once, at their lines."""

import shutil
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.card.band import Band
from pullcast.card.constraints import Constraint, card_value
from pullcast.card.reading import read_engine, with_changes
from pullcast.card.shortlist import read_shortlist
from pullcast.errors import CardError, InputError
from pullcast.results.provenance import values_sha256

CONFIGS = Path(__file__).parents[2] / "configs"
SHIPPED = sorted((CONFIGS / "shortlists").glob("*.toml"))
HEAD = """name = "A list"
base = "engines/hillclimb_v8.toml"
band = { low = "3000 rpm", high = "6000 rpm" }
"""


@pytest.fixture
def written(tmp_path):
    """Write a shortlist beside a copy of the V8's cards, and give its path."""
    shutil.copytree(CONFIGS, tmp_path / "configs")

    def write(text, name="mine.toml"):
        path = tmp_path / "configs" / "shortlists" / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


def problems(path):
    with pytest.raises(CardError) as caught:
        read_shortlist(path)
    return [str(p) for p in caught.value.problems]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_shipped_shortlists_read_and_say_that_they_are_invented(path):
    shortlist = read_shortlist(path)
    assert shortlist.candidates or shortlist.spans
    assert "invented" in shortlist.source
    assert shortlist.band.speeds[0] == shortlist.band.low
    assert shortlist.base.source


def test_candidates_hold_the_engine_that_their_swaps_make(written):
    path = written(HEAD + """
[[candidate]]
name = "warm, advanced"
cam = "cams/v8_warm.toml"
"cam.advance" = "6 deg"
[[candidate]]
name = "squeezed"
block.compression_ratio = 10.6
intake.runner.length = { value = "6 in", within = "0.1 in" }
""")
    shortlist = read_shortlist(path)
    warm, squeezed = shortlist.candidates
    base = read_engine(CONFIGS / "engines/hillclimb_v8.toml")
    assert values_sha256(shortlist.base) == values_sha256(base)
    assert (warm.name, warm.swaps) == ("warm, advanced", {"cam": "cams/v8_warm.toml", "cam.advance": "6 deg"})
    assert warm.engine.cam.intake.centreline_deg == 110.0 - 6.0
    assert warm.engine.cam.intake.durations[0].duration_deg == 230.0
    assert squeezed.engine.block.compression_ratio == 10.6
    assert squeezed.engine.intake.facts["runner_length"] == pytest.approx(6 * 0.0254)
    assert squeezed.engine.cam == base.cam
    assert shortlist.goal == "band torque"
    assert len(shortlist.band.speeds) == 9


def test_a_grid_is_every_combination(written):
    shortlist = read_shortlist(written(HEAD + """
[grid]
cam = ["cams/v8_mild.toml", "cams/v8_warm.toml"]
"cam.advance" = ["0 deg", "4 deg", "8 deg"]
block.compression_ratio = [10.0, 11.0]
"""))
    assert len(shortlist.candidates) == 12
    assert len({values_sha256(c.engine) for c in shortlist.candidates}) == 12
    assert shortlist.candidates[0].name == "cam v8_mild, cam.advance 0 deg, block.compression_ratio 10.0"
    last = shortlist.candidates[-1].engine
    assert (last.cam.intake.centreline_deg, last.block.compression_ratio) == (102.0, 11.0)


def test_a_search_makes_the_engine_at_any_place(written):
    shortlist = read_shortlist(written(HEAD + """
[search]
intake.runner.length = { from = "4 in", to = "8 in" }
block.compression_ratio = { from = 9.0, to = 11.0 }
"""))
    assert shortlist.candidates == ()
    assert [(s.key, s.low, s.high, s.unit) for s in shortlist.spans] == [
        ("intake.runner.length", 4.0, 8.0, "in"), ("block.compression_ratio", 9.0, 11.0, "")]
    engine = shortlist.engine_at({"intake.runner.length": 5.25, "block.compression_ratio": 10.5})
    assert engine.intake.facts["runner_length"] == pytest.approx(5.25 * 0.0254)
    assert engine.block.compression_ratio == 10.5
    with pytest.raises(InputError, match=r"intake\.runner\.length 9 is outside 4 to 8 in"):
        shortlist.engine_at({"intake.runner.length": 9.0, "block.compression_ratio": 10.5})
    with pytest.raises(InputError, match=r"needs intake\.runner\.length, block\.compression_ratio, not block"):
        shortlist.engine_at({"block.compression_ratio": 10.5})


def test_all_problems_come_at_once_with_line_and_key(written):
    found = problems(written("""name = "A list"
base = "engines/hillclimb_v8.toml"
goal = "band torqe"
colour = "red"
[band]
low = "6000 rpm"
high = "3000"
[[candidate]]
name = "one"
cam.advanse = "4 deg"
intake = "intakes/v8_dual_plan.toml"
[[candidate]]
name = "one"
cam.advance = "4 mm"
[[candidate]]
cam = "../../outside.toml"
[[candidate]]
name = "nothing"
[[candidate]]
name = "long rod"
block.rod = "40 mm"
[constraints]
hood_height = "150 kg"
overlap = "3 deg"
valve_acceleration = "9 g"
"""))
    expected = [
        'mine.toml:3: goal: "band torqe" is not one of band torque, band power, lowest torque in band, peak torque, '
        "peak power. Did you mean band torque?",
        "mine.toml:4: colour: this key is not known.",
        'mine.toml:7: band.high: "3000" has no unit; a rotational speed fits: rpm.',
        "mine.toml:10: cam.advanse: this key is not known. Did you mean advance",
        'mine.toml:11: intake: "intakes/v8_dual_plan.toml": no such file. Did you mean v8_dual_plane.toml',
        'mine.toml:13: candidate.1.name: "one" is candidate 1 already. Name each once.',
        'mine.toml:14: cam.advance: "4 mm" is a length; an angle fits: deg, rad.',
        "mine.toml:15: candidate.2.name: a candidate needs a name.",
        'mine.toml:17: candidate.3: "nothing" changes nothing.',
        "mine.toml:21: block.rod:",
        'mine.toml:23: constraints.hood_height: "150 kg" is a mass; a length fits: mm, cm, in.',
        "mine.toml:24: constraints.overlap: this key is not known. Did you mean overlap_at",
        'mine.toml:25: constraints.valve_acceleration: "9 g" is not an acceleration; write it in m/s2',
    ]
    assert len(found) == len(expected), "\n".join(found)
    for text, start in zip(found, expected, strict=True):
        assert text.startswith(start), text


def test_a_broken_base_is_told_once_whatever_the_number_of_candidates(written, tmp_path):
    engine = tmp_path / "configs/engines/hillclimb_v8.toml"
    engine.write_text(engine.read_text().replace('bore = "4.040 in"', 'bore = "4.040"'))
    found = problems(written(HEAD + "".join(
        f'[[candidate]]\nname = "{n}"\ncam.advance = "{n} deg"\n' for n in range(3))))
    assert len(found) == 1
    assert found[0].startswith('hillclimb_v8.toml:9: block.bore: "4.040" has no unit')


def test_a_fault_that_a_swap_makes_on_the_base_says_whose_it_is(written):
    found = problems(written(HEAD + '[[candidate]]\nname = "stroker"\nblock.stroke = "9.8 in"\n'))
    assert len(found) == 1
    assert found[0].startswith("hillclimb_v8.toml:11: block.rod: a rod of")
    assert 'cannot turn a stroke of 248.9 mm (with "stroker").' in found[0]


@pytest.mark.parametrize(("tail", "message"), [
    ("", "mine.toml: there is nothing to compare. Write [[candidate]] tables, or a [grid], or a [search]."),
    ("[grid]\n", "mine.toml:4: grid: the grid is empty"),
    ("[search]\n", "mine.toml:4: search: there is no range to search"),
    ('[grid]\ncam.advance = "4 deg"\n', "mine.toml:5: grid.cam.advance: cam.advance is not a list of values"),
    ('[grid]\ncam.advance = ["4 deg", "4 deg"]\n',
     "mine.toml:5: grid.cam.advance: a value of cam.advance is listed twice"),
    ('[grid]\ncam.advance = ["4 deg", "4 in"]\n', 'mine.toml:5: cam.advance: "4 in" is a length; an angle fits'),
    ('[grid]\ncam.advance = ["4 deg"]\n[search]\ncam.advance = { from = "1 deg", to = "2 deg" }\n',
     "mine.toml:6: search: both [grid] and [search] are given"),
    ('[search]\ncam.advance = "4 deg"\n',
     "mine.toml:5: search.cam.advance: cam.advance is not a range. Write { from"),
    ('[search]\ncam.advance = { from = "1 deg" }\n', "mine.toml:5: search.cam.advance: cam.advance is not a range"),
    ('[search]\ncam.advance = { from = "4 deg", to = "1 deg" }\n',
     "mine.toml:5: search.cam.advance: the range of cam.advance runs from 4 down to 1. Give from below to."),
    ('[search]\nblock.bore = { from = "100 mm", to = "4.1 in" }\n',
     "mine.toml:5: search.block.bore: the range of block.bore starts in mm and ends in in. Write both in one unit."),
    ('[search]\nblock.bore = { from = "100 mm", to = "900 mm" }\n',
     'mine.toml:5: block.bore: "900 mm" is outside what can be'),
    ('[[candidate]]\nname = "x"\ncam = "cams/v8_warm.toml"\ncam.advance = "4 deg"\n', 'write'),
    ('[[candidate]]\nname = "x"\nblock.bore.size = "4 in"\n',
     "mine.toml:6: block.bore.size: change 'block.bore.size': block.bore is not a table"),
])
def test_what_is_to_be_compared_must_be_clear(written, tail, message):
    found = problems(written(HEAD + tail))
    assert len(found) == 1, found
    if message == "write":
        assert found[0].startswith("mine.toml:7: not valid TOML: cannot overwrite a value")
        assert found[0].endswith('a key in the cam is written in quotes: "cam.advance" = "4 deg".')
    else:
        assert found[0].startswith(message), found[0]


def test_a_grid_too_large_is_refused_before_it_is_read(written):
    values = ", ".join(f'"{k} deg"' for k in range(-25, 25))
    ratios = ", ".join(str(9 + k / 20) for k in range(50))
    found = problems(written(HEAD + f"[grid]\ncam.advance = [{values}]\nblock.compression_ratio = [{ratios}]\n"))
    assert found == ["mine.toml:4: grid: the grid makes 2500 candidates, more than 2000. List fewer values."]


@pytest.mark.parametrize(("band", "message"), [
    ('low = "6000 rpm"\nhigh = "3000 rpm"',
     "band.high: the band runs from 6000 down to 3000 rpm. Give low below high."),
    ('low = "3000 rpm"\nhigh = "6000 rpm"\nspeeds = "3000 5000 rpm"',
     "band.speeds: 3000 to 5000 rpm do not cover the"),
    ('low = "3000 rpm"\nhigh = "6000 rpm"\nspeeds = "3000 5000 4000 6000 rpm"',
     "band.speeds: the speeds do not rise"),
    ('low = "3000 rpm"\nhigh = "6000 rpm"\ntime = { speeds = "3000 rpm", share = [1, 2] }',
     "band.time.share: 2 shares for 1 speeds. Give one for each."),
    ('low = "3000 rpm"\nhigh = "6000 rpm"\ntime = { speeds = "3000 4000 rpm", share = [-1, 2] }',
     "band.time.share: a share of time is below zero"),
    ('low = "3000 rpm"\nhigh = "6000 rpm"\ntime = { speeds = "1000 2000 rpm", share = [1, 0] }',
     "band.time.share: no time is spent in the band"),
    ('low = "3000 rpm"\nhigh = "6000 rpm"\ntime = { speeds = "4000 4000 rpm", share = [1, 2] }',
     "band.time.speeds: the speeds do not rise"),
])
def test_bands_that_make_no_sense_are_refused(written, band, message):
    text = f'name = "x"\nbase = "engines/hillclimb_v8.toml"\n[band]\n{band}\n[grid]\ncam.advance = ["0 deg"]\n'
    found = problems(written(text))
    assert len(found) == 1
    assert message in found[0]
    assert found[0].startswith("mine.toml:")


@pytest.mark.parametrize(("base", "message"), [
    ("engines/nope.toml", 'base: "engines/nope.toml": no such file. Cards there: club_four.toml, hillclimb_v8.toml'),
    ("/etc/passwd", "an absolute path is refused"), ("../../x.toml", "leaves the card's project folder"),
])
def test_a_base_that_is_not_there(written, base, message):
    found = problems(written(HEAD.replace("engines/hillclimb_v8.toml", base) + '[grid]\ncam.advance = ["0 deg"]\n'))
    assert len(found) == 1
    assert message in found[0]
    assert found[0].startswith("mine.toml:2: base:")


def test_constraints_known_from_the_card(written):
    shortlist = read_shortlist(written(HEAD + """[grid]
intake = ["intakes/v8_dual_plane.toml", "intakes/v8_single_plenum.toml"]
[constraints]
hood_height = "120 mm"
piston_speed = "18 m/s"
knock_margin = 0.1
valve_acceleration = "1.8e4 m/s2"
"""))
    assert [(k.name, k.value) for k in shortlist.constraints] == [
        ("hood_height", 0.12), ("piston_speed", 18.0), ("valve_acceleration", 18000.0), ("knock_margin", 0.1)]
    low, high = (c.engine for c in shortlist.candidates)
    hood, speed, _, margin = shortlist.constraints
    assert hood.kept(card_value("hood_height", low, 6000.0))
    assert not hood.kept(card_value("hood_height", high, 6000.0))
    assert card_value("piston_speed", low, 6000.0) == pytest.approx(2 * 3.5 * 0.0254 * 100)
    assert speed.kept(17.9)
    assert margin.kept(0.2)
    assert not margin.kept(0.05)
    assert not Constraint("hood_height", 0.1).kept(float("nan"))


def test_overlap_is_counted_at_the_stated_lift():
    engine = with_changes(CONFIGS / "engines/hillclimb_v8.toml", {"cam": "cams/v8_warm.toml"})
    assert card_value("overlap_at_0p050in", engine, 6000.0) == pytest.approx((230 + 235) / 2 - 2 * 110)
    assert card_value("overlap_at_1mm", engine, 6000.0) is None


SPEEDS = np.array([2000.0, 3000.0, 4500.0, 6000.0, 7000.0])


@given(st.lists(st.floats(0, 600), min_size=5, max_size=5), st.floats(0.1, 10), st.floats(0.1, 10))
def test_a_band_mean_is_the_integral_by_time(values, first, last):
    band = Band(2500.0, 6500.0, (), ((3000.0, first), (5500.0, last)))
    fine = np.linspace(2500.0, 6500.0, 40001)
    share = np.interp(fine, [3000.0, 5500.0], [first, last])
    expected = np.trapezoid(share * np.interp(fine, SPEEDS, values), fine) / np.trapezoid(share, fine)
    assert band.mean(SPEEDS, values) == pytest.approx(expected, rel=1e-6, abs=1e-6)
    low, high = band.extremes(SPEEDS, values)
    assert low - 1e-9 <= band.mean(SPEEDS, values) <= high + 1e-9


def test_a_band_not_covered_is_refused():
    with pytest.raises(InputError, match=r"speeds 2000, 3000 rpm must rise and cover the band 2500 to 6500 rpm"):
        Band(2500.0, 6500.0, ()).mean([2000, 3000], [1, 1])


def test_goals_differ_and_two_bands_prefer_different_candidates(written):
    rpm = [3000.0, 4500.0, 6000.0]
    low_end, top_end = [420.0, 410.0, 330.0], [380.0, 405.0, 390.0]
    text = '[grid]\ncam.advance = ["0 deg"]\n'

    def score(goal, torque, band='low = "3000 rpm", high = "6000 rpm"'):
        head = f'name = "x"\nbase = "engines/hillclimb_v8.toml"\ngoal = "{goal}"\nband = {{ {band} }}\n'
        return read_shortlist(written(head + text)).score(rpm, torque)

    assert score("band torque", low_end) == pytest.approx((415 + 370) / 2)
    assert score("lowest torque in band", low_end) == 330.0
    assert score("peak torque", low_end) == 420.0
    assert score("peak power", top_end) == pytest.approx(390 * 6000 * np.pi / 30)
    below, above = 'low = "3000 rpm", high = "4000 rpm"', 'low = "5000 rpm", high = "6000 rpm"'
    assert score("band torque", low_end, below) > score("band torque", top_end, below)
    assert score("band torque", low_end, above) < score("band torque", top_end, above)
    assert score("band power", low_end, above) < score("band power", top_end, above)
