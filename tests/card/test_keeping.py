"""A card written again keeps the words of its files, and says what it should whatever was changed."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.card.keeping import composed, kept_text, plain, value_end
from pullcast.card.tree import change, plant
from pullcast.card.writing import engine_text
from pullcast.sheets.files import parse_sheet, read_sheet

CONFIGS = Path(__file__).parents[2] / "configs"
ENGINES = sorted((CONFIGS / "engines").glob("*.toml"))
CARD = '''# the engine of the year
name = "one"  # its name
class = "lab_single"

# what was measured
[block]
layout = "single"
bore = "85 mm"   # with the gauge, twice
stroke = { value = "90 mm", within = "0.1 mm" } # by tape
firing_order = [
  1, # the only one
]

[cam.intake]
# the lobe
lash = "0.1 mm"

[[intake.volume]]
name = "box"     # tin
volume = "5 L"

[[intake.volume]]
name = "can"
volume = "7 L"

# the end
'''


def tree_of(text=CARD):
    return plant(parse_sheet(text, "card"), CONFIGS)


@pytest.mark.parametrize("path", ENGINES, ids=lambda p: p.stem)
def test_every_shipped_engine_is_one_file_with_every_remark_of_its_parts(path):
    tree = plant(read_sheet(path, path.name), path.parent)
    text = kept_text(tree)
    assert tomllib.loads(text) == plain(tree.data)
    for sheet in (tree.main, *tree.sheets.values()):
        for line in sheet.text.splitlines():
            if line.lstrip().startswith("#"):
                assert line in text, sheet.name


def test_a_change_is_made_in_place_and_the_remark_beside_it_stays():
    tree = tree_of()
    change(tree, {"block.bore": "87 mm", "block.stroke": "91 mm", "block.firing_order": [2], "intake.volume.1.volume":
                  "8 L", "cam.intake.lash": None, "cam.intake.rocker_ratio": 1.5, "mixture.lambda": 0.9,
                  "label": "two"})
    text = kept_text(tree)
    assert tomllib.loads(text) == plain(tree.data)
    for line in ('name = "one"  # its name', 'bore = "87 mm"   # with the gauge, twice', 'stroke = "91 mm" # by tape',
                 "firing_order = [2]", "# the lobe", "rocker_ratio = 1.5", 'volume = "8 L"',
                 "[mixture]\nlambda = 0.9", 'name = "box"     # tin', "# the end", "# what was measured\n[block]"):
        assert line in text, line
    assert text.index('label = "two"') < text.index("[block]")


def test_a_part_swapped_takes_the_place_of_the_cards_own():
    tree = tree_of(CARD + '[cam.exhaust]\nlash = "0.2 mm"\n')
    change(tree, {"cam": "cams/lab_low.toml", "fuel": "methane"})
    text = engine_text(tree)
    assert tomllib.loads(text) == plain(tree.data)
    assert "# the lobe" not in text
    assert "from cams/lab_low.toml" in text
    assert '[fuel]\nkey = "methane"' in text


@pytest.mark.parametrize("more", [
    '[day]\naltitude = "300 m"\n', 'text = """\n[block]\nbore = 3 # no remark\n"""\n', '"a.b" = 1\n',
    "x = 'a # b'\n", '[run]\nspeeds."from" = "1 rpm"\n', 'y = [[1, 2], ["]"]] # z\n'])
def test_texts_of_every_kind_are_taken_as_they_are(more):
    tree = tree_of(CARD + more)
    assert composed(tree).rstrip() == (CARD + more).rstrip()
    change(tree, {"block.bore": "60 mm"})
    assert tomllib.loads(kept_text(tree)) == plain(tree.data)


@pytest.mark.parametrize("swaps", [{"block.stroke.value": "92 mm"}, {"intake.volume": []},
                                   {"intake.volume": [{"name": "one", "volume": "1 L"}]},
                                   {"day.altitude": {"value": "3 m", "within": "1 m"}}, {"head": {"valves": 2}}])
def test_whatever_has_no_place_in_the_words_is_still_written(swaps):
    tree = tree_of()
    change(tree, swaps)
    assert tomllib.loads(engine_text(tree)) == plain(tree.data)


KEYS = st.sampled_from(["block.bore", "block.layout", "cam.intake.lash", "cam.advance", "intake.volume.0.volume",
                        "new", "mixture.lambda", "cam", "block"])
VALUES = st.one_of(st.none(), st.booleans(), st.integers(-9, 9), st.text(max_size=6), st.floats(-1, 1),
                   st.lists(st.integers(0, 3), max_size=2), st.fixed_dictionaries({"value": st.just("1 mm")}))


@given(st.dictionaries(KEYS.filter(lambda k: k not in {"cam", "block"}), VALUES, max_size=4))
def test_any_changes_read_back(swaps):
    tree = tree_of()
    change(tree, swaps)
    assert tomllib.loads(engine_text(tree)) == plain(tree.data)


@given(st.text(alphabet='"\'#[]{}\\\n ab,=', max_size=25))
def test_where_a_value_ends_is_where_the_reader_says(text):
    try:
        found = tomllib.loads("k = " + text)
    except tomllib.TOMLDecodeError:
        return
    end = value_end(text, 0)
    assert tomllib.loads("k = " + text[:end] + " # remark\n").get("k") == found["k"]
    assert text[:end] == text[:end].rstrip()
