"""Engines between two others: ends exact, groups that do not differ absent, every mixture a sound engine."""

import itertools
from dataclasses import replace
from pathlib import Path

import pytest

from engines import single, twin
from pullcast.answers.attributes import ALL, LOBES, between, differing
from pullcast.answers.tract_mix import INTAKE, merged, mixed, plate_areas
from pullcast.card.engine import Duration, Segment
from pullcast.card.reading import read_engine, with_changes
from pullcast.errors import InputError
from pullcast.network.build import build
from pullcast.solve.keys import march_sha256

V8 = Path(__file__).parents[2] / "configs" / "engines" / "hillclimb_v8.toml"


def names(a, b):
    return [x.name for x in differing(a, b)]


def longer(engine, length=0.3, taper=1.0):
    pipes = tuple(replace(p, segments=tuple(replace(s, length=length, area_start=s.area_start * taper)
                                            for s in p.segments)) if "port" in p.end.node else p
                  for p in engine.intake.pipes)
    return replace(engine, intake=replace(engine.intake, pipes=pipes))


def test_identical_engines_differ_in_nothing():
    assert names(twin(), twin()) == []
    assert names(twin(), replace(twin(), name="another", text="# comment")) == []


@pytest.mark.parametrize(("swaps", "wanted"), [
    ({"intake.runner.length": "8 in"}, ["runner length"]),
    ({"cam.advance": "8 deg"}, ["cam advance"]),
    ({"block.compression_ratio": 11.0}, ["compression"]),
    ({"cam": "cams/v8_warm.toml"}, ["cam duration", "cam lift", "lobe separation"]),
    ({"intake": "intakes/v8_dual_plane.toml"},
     ["runner length", "runner section", "runner bends", "plenum volume", "intake layout"]),
    ({"exhaust": "exhausts/v8_headers_162_h.toml"},
     ["primary length", "primary diameter", "collector", "exhaust layout"]),
])
def test_what_a_swap_changes_is_found(swaps, wanted):
    assert names(read_engine(V8), with_changes(V8, swaps)) == wanted


def test_ends_are_the_engines_themselves():
    a, b = read_engine(V8), with_changes(V8, {"intake": "intakes/v8_dual_plane.toml", "cam": "cams/v8_warm.toml"})
    found = names(a, b)
    assert between(a, b, set(), found) is a
    assert march_sha256(between(a, b, found, found)) == march_sha256(b)


def test_every_mixture_is_an_engine_that_builds():
    a, b = read_engine(V8), with_changes(V8, {"intake": "intakes/v8_dual_plane.toml"})
    found = names(a, b)
    seen = set()
    for k in range(len(found) + 1):
        for take in itertools.combinations(found, k):
            e = between(a, b, take, found)
            build(e)
            seen.add(march_sha256(e))
            runner = next(p for p in e.intake.pipes if p.name == "runner 1")
            source = b if "runner length" in take else a
            assert runner.length == pytest.approx(next(p for p in source.intake.pipes if p.name == "runner 1").length)
            assert plate_areas(e.intake) == pytest.approx(plate_areas(a.intake))
            room = sum(v.volume for v in e.intake.volumes)
            assert room == pytest.approx(9e-4 if "plenum volume" in take else 1.3e-3)
    assert len(seen) == 2 ** len(found)


def test_stretches_are_merged_over_relative_length():
    taper = (Segment(0.2, 1e-3, 2e-3), Segment(0.2, 2e-3, 2e-3))
    bent = (Segment(0.1, 1e-3, 1e-3, bend_loss=0.4),)
    warm = (Segment(0.3, 1e-3, 1e-3, wall_temperature=350.0), Segment(0.1, 1e-3, 1e-3, wall_temperature=310.0))
    made = merged(taper, bent, warm, (Segment(0.8, 1e-3, 1e-3),))
    assert sum(s.length for s in made) == pytest.approx(0.8)
    assert sum(s.bend_loss for s in made) == pytest.approx(0.4)
    assert made[0].area_start == pytest.approx(1e-3)
    assert made[-1].area_end == pytest.approx(2e-3)
    mean = sum(s.length * s.wall_temperature for s in made) / 0.8
    assert mean == pytest.approx(340.0)


def test_taking_section_alone_keeps_the_length():
    a, b = twin(), longer(twin(), 0.3, 1.4)
    assert names(a, b) == ["runner length", "runner section"]
    tract = mixed(a.intake, b.intake, {"runner section"}, INTAKE)
    runner = next(p for p in tract.pipes if p.name == "runner 1")
    assert runner.length == pytest.approx(0.18)
    assert runner.segments[0].area_start == pytest.approx(1.4 * a.intake.pipes[0].segments[0].area_start)


def test_lobes_that_do_not_fit_each_other_are_one_group():
    a = single()
    small = replace(a.cam.intake, lift=0.0016, durations=(Duration(1.5e-4, 256.0), Duration(4e-4, 212.0)))
    b = replace(a, cam=replace(a.cam, intake=small))
    assert names(a, b) == [LOBES]
    assert between(a, b, {LOBES}, [LOBES]) is b
    assert between(a, b, {LOBES}, ALL).cam.intake.lift == 0.0016


def test_engines_of_different_size_are_refused():
    with pytest.raises(InputError, match="single has 1 cylinders, twin 2: a difference is split"):
        differing(single(), twin())


def test_a_throttle_body_in_the_runner_stays_one():
    """Only the runner behind the body is stretched: nothing but the length differs."""
    card = V8.parent / "vintage_twin.toml"
    assert names(read_engine(card), with_changes(card, {"intake.runner.length": "260 mm"})) == ["runner length"]
