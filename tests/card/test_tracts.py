import math

import pytest

from pullcast.card import read_engine_text, with_changes
from pullcast.errors import CardError
from soundness import assert_sound

HEAD = 'name = "x"\nclass = "{}"\n[block]\nbore = "90 mm"\nstroke = "90 mm"\n{}\n'


def engine(engine_class, rest, block=""):
    return read_engine_text(HEAD.format(engine_class, block) + rest, "/", "card")


def pipe(tract, name):
    return next(p for p in tract.pipes if p.name == name)


def test_v8_tracts_by_hand(configs):
    e = with_changes(configs / "engines" / "hillclimb_v8.toml", {})
    runner = pipe(e.intake, "runner 3")
    assert (runner.start.node, runner.end.node) == ("plenum", "port 3")
    assert runner.length == pytest.approx(5.3 * 0.0254)
    assert runner.segments[0].area_start == pytest.approx(2.5 * 0.0254**2)
    assert e.intake.volumes[0].volume == pytest.approx(1.3e-3)
    primary = pipe(e.exhaust, "primary 4")
    assert primary.segments[0].area_start == pytest.approx(math.pi / 4 * ((1.75 - 0.098) * 0.0254) ** 2)
    odd = [p for p in e.exhaust.pipes if p.name in ("primary 1", "primary 3", "primary 5", "primary 7")]
    assert {p.end.node for p in odd} == {"collector 1 merge"}
    assert pipe(e.exhaust, "collector 2").end.node == "muffler 2"
    assert pipe(e.exhaust, "tailpipe 2").end.end_length == pytest.approx(0.6133 * 1.185 * 0.0254)


def test_plenum_in_series_keeps_its_volume(configs):
    e = with_changes(configs / "engines" / "club_four.toml", {"intake": "intakes/four_long_plenum.toml"})
    ducts = [p for p in e.intake.pipes if p.name.startswith("plenum")]
    inside = sum(s.length * s.area_start for p in ducts for s in p.segments)
    assert inside + sum(j.volume for j in e.intake.junctions) == pytest.approx(2.6e-3)
    assert len(e.intake.junctions) == 4
    assert pipe(e.intake, "throttle").end.node == "plenum 1"


def test_dual_plane_feeds_every_other_cylinder(configs):
    e = with_changes(configs / "engines" / "hillclimb_v8.toml", {"intake": "intakes/v8_dual_plane.toml"})
    plane = {p.end.node[-1]: p.start.node for p in e.intake.pipes if p.name.startswith("runner")}
    order = [plane[str(k)] for k in e.block.firing_order]
    assert order == ["plenum a", "plenum b"] * 4


@pytest.mark.parametrize(("style", "n", "layout", "collectors"), [
    ("4-1", 4, "inline", 1), ("4-1", 8, "v", 2), ("4-2-1", 4, "inline", 1), ("4-2-1", 8, "v", 2), ("3-1", 6,
    "inline", 2),
    ("3-1", 6, "v", 2), ("6-2", 6, "inline", 2), ("6-1", 6, "inline", 1), ("2-1", 2, "inline", 1), ("single", 1,
    "single", 0),
    ("single", 4, "inline", 0), ("5-1", 5, "inline", 1), ("3-1", 3, "inline", 1), ("6-1", 12, "v", 2)])
def test_header_styles(style, n, layout, collectors):
    order = f"firing_order = {list(range(1, n + 1))}"
    e = engine("car_four_4v", f'[exhaust]\nstyle = "{style}"\n', f'cylinders = {n}\nlayout = "{layout}"\n{order}')
    assert_sound(e)
    assert sum(p.name.startswith("collector") for p in e.exhaust.pipes) == collectors


def test_pairs_of_a_421_fire_evenly(configs):
    e = with_changes(configs / "engines" / "club_four.toml", {})
    pairs = [{p.name[-1] for p in e.exhaust.pipes if p.end.node == f"collector 1 pair {t}"} for t in (1, 2)]
    assert pairs == [{"1", "4"}, {"3", "2"}]


@pytest.mark.parametrize("kind", ["x", "h"])
def test_crossover_keeps_length(configs, kind):
    swaps = {"exhaust": "exhausts/v8_headers_162_h.toml", "exhaust.crossover.kind": kind}
    e = with_changes(configs / "engines" / "hillclimb_v8.toml", swaps)
    assert_sound(e)
    total = pipe(e.exhaust, "collector 1").length + pipe(e.exhaust, "after crossover 1").length
    assert total == pytest.approx(12 * 0.0254 + 1.6)
    assert pipe(e.exhaust, "collector 1").length == pytest.approx(12 * 0.0254 + 0.35)


def test_log_manifold():
    e = engine("car_four_4v", '[exhaust]\nstyle = "log"\n[exhaust.log]\nid = "50 mm"\nspacing = "95 mm"\n')
    assert_sound(e)
    assert sum(p.name.startswith("log run") for p in e.exhaust.pipes) == 3
    with pytest.raises(CardError, match="a log manifold needs its table"):
        engine("car_four_4v", '[exhaust]\nstyle = "log"\n')


def test_restrictor_is_the_throat_of_its_pipe():
    e = engine("restricted_600", "", 'cylinders = 4\n').intake
    p = pipe(e, "throttle")
    assert p.segments[0].area_start == pytest.approx(0.97 * math.pi / 4 * 0.020**2)
    assert p.segments[-1].area_end > 2 * p.segments[0].area_start
    assert p.start.loss_in < 0.3


def test_individual_throttles_share_the_length_with_the_runner(configs):
    e = with_changes(configs / "engines" / "vintage_twin.toml", {})
    assert [p.length for p in e.intake.pipes] == pytest.approx([0.14, 0.14])
    boxed = with_changes(configs / "engines" / "vintage_twin.toml",
                         {"intake.airbox": {"volume": "3 L", "snorkel_diameter": "50 mm"}})
    assert_sound(boxed)
    assert {p.start.node for p in boxed.intake.pipes if "runner" in p.name} == {"airbox"}


FREE = """
[exhaust]
[[exhaust.pipe]]
name = "primary"
each = "cylinder"
from = "port"
to = "merge"
length = "700 mm"
od = "44 mm"
wall = "1.5 mm"
angle_to = "170 deg"
[[exhaust.pipe]]
name = "pipe"
each = "bank"
from = "merge"
to = "cross"
length = "900 mm"
id = "57 mm"
angle_to = "200 deg"
[[exhaust.pipe]]
name = "tail"
from = "cross"
to = "ambient"
stations = { at = "0 300 800 mm", diameter = "57 70 76 mm" }
[[exhaust.junction]]
name = "merge"
each = "bank"
[[exhaust.junction]]
name = "cross"
volume = "1 L"
"""


def test_free_list_is_written_out_for_each_cylinder_and_bank():
    e = engine("street_2v_v8", FREE)
    assert_sound(e)
    assert len(e.exhaust.pipes) == 11
    assert pipe(e.exhaust, "primary 4").end.node == "merge bank 2"
    assert pipe(e.exhaust, "pipe bank 2").start.node == "merge bank 2"
    assert [s.length for s in pipe(e.exhaust, "tail").segments] == pytest.approx([0.3, 0.5])


@pytest.mark.parametrize(("old", "new", "words"), [
    ('to = "merge"', 'to = "marge"',
     'card:13: exhaust.pipe.0.to: there is no volume or junction "marge". Did you mean merge?'),
    ('each = "cylinder"\n', "", 'only a pipe with each = "cylinder" can end at its "port"'),
    ('length = "700 mm"\n', "", 'pipe "primary" has no length'), ('id = "57 mm"\n', "", 'pipe "pipe" has no section'),
    ('to = "ambient"', 'to = "closed"', "no pipe opens to the air"), ('name = "cross"', 'name = "merge"',
    'the name "merge" is taken'),
    ('at = "0 300 800 mm"', 'at = "0 300 mm"', "2 distances and 3 sections do not pair"),
    ('at = "0 300 800 mm"', 'at = "0 300 200 mm"', "distances must start at 0 and rise"),
    ('wall = "1.5 mm"', 'wal = "1.5 mm"', "card:16: exhaust.pipe.0.wal: this key is not known. Did you mean wall"),
    ('from = "port"', 'from = "port 9"', 'ends at "port 9"'), ('[exhaust]\n', '[exhaust]\nstyle = "4-1"\n',
    "Keep one of the two")])
def test_fault_in_a_free_list(old, new, words):
    assert old in FREE
    with pytest.raises(CardError) as e:
        engine("street_2v_v8", FREE.replace(old, new, 1))
    assert words in str(e.value)
