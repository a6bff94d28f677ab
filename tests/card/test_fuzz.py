"""Whatever is typed into a card, only CardError or InputError comes out, with a place and no traceback."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pullcast.card import read_engine_text, with_changes
from pullcast.card.starter import starter
from pullcast.errors import InputError
from soundness import assert_sound

ENGINES = Path(__file__).parents[2] / "configs" / "engines"
CARDS = [ENGINES / "club_four.toml", ENGINES / "lab_single.toml", ENGINES / "touring_six.toml"]
TEXT = starter("street_2v_v8")
LINES = [i for i, line in enumerate(TEXT.split("\n")) if " = " in line and not line.startswith("#")]
VALUES = ["nan", "-1", "0", '"0 mm"', '"-3 deg"', '"1e9 mm"', "[]", "{}", '""', "true", '"inf"', "1979-05-27",
          "[[1], [2]]",
          '"5 kg"', "{ value = 3 }", '"é mm"', "'x'", '{ value = "1 mm", within = "1 kg" }']


@given(st.sampled_from(LINES), st.sampled_from(VALUES))
@settings(max_examples=120)
def test_any_value_anywhere(where, value):
    lines = TEXT.split("\n")
    lines[where] = lines[where].split(" = ")[0] + " = " + value
    attempt("\n".join(lines))


@given(st.integers(0, len(TEXT) - 2), st.integers(1, 8), st.text(max_size=4))
@settings(max_examples=120)
def test_any_damage_anywhere(at, length, put):
    attempt(TEXT[:at] + put + TEXT[at + length:])


def attempt(text):
    try:
        engine = read_engine_text(text, "/", "card")
    except InputError as e:
        told = str(e)
        if not told.startswith("card"):
            pytest.fail(told)
    else:
        assert_sound(engine)


KEYS = ["cam.advance", "cam.intake.lash", "intake", "intake.runner.length", "intake.plenum.length", "exhaust.style",
        "exhaust.primary", "block.firing_order", "run.speeds", "head.intake.flow.flows", "day", "fuel", "burn",
        "cam.phasing",
        "intake.pipe", "exhaust.groups", "intake.plenum.order", "a.b.c", "", ".", "name", "class",
        "intake.volume.0.volume", "block.banks",
        "exhaust.pairs", "intake.planes", "intake.style", "exhaust.log", "exhaust.crossover", "head.intake.stations",
        "intake.runner.stations", "exhaust.muffler", "exhaust.tailpipe", "intake.airbox", "intake.restrictor",
        "exhaust.pipe", "exhaust.junction", "block.cylinders", "block.layout", "intake.runner.lengths",
        "limits.injector_flow",
        "cam.intake.table", "exhaust.primary.step", "intake.throttle"]
RAW = ["", "x", "4 deg", "1 mm", 0, -1, float("nan"), True, [], [[1, 2]], {}, {"value": "1 mm"}, "1 2 3 rpm",
       "../x.toml", None,
       "individual", "dual_plane", "single", "log", "h", "v", "flat", 2, 6, 12, {"kind": "h", "distance": "100 mm"},
       {"at": "0 100 mm", "area": "10 12 cm2"}, {"volume": "5 L"}, {"length": "300 mm"}, {"id": "50 mm",
                                                                                          "spacing": "90 mm"},
       [[1, 2], [3, 4]], [{"name": "a", "from": "ambient", "to": "port 1", "length": "1 m", "diameter": "40 mm"}],
       [{"name": "a", "each": "cylinder", "from": "j", "to": "port", "length": "1 m", "diameter": "40 mm"}],
       [{"name": "j", "each": "bank"}], [{"length": "200 mm", "od": "45 mm"}], {"rating": "500 cfm"}]


@given(st.sampled_from(CARDS), st.dictionaries(st.sampled_from(KEYS), st.sampled_from(RAW), min_size=1, max_size=3))
@settings(max_examples=120)
def test_any_change(card, swaps):
    try:
        engine = with_changes(card, swaps)
    except InputError as e:
        if not str(e).strip():
            pytest.fail("an empty message")
    else:
        assert_sound(engine)


def test_damage_is_really_tried():
    with pytest.raises(InputError):
        read_engine_text(TEXT.replace("bore", "boar", 1), "/", "card")
