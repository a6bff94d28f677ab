from pathlib import Path

import pytest

from pullcast.card import read_engine_text
from pullcast.card.reading import resolve_tree
from pullcast.card.tree import change, plant
from pullcast.card.writing import card_text, engine_text
from pullcast.sheets.files import read_sheet
from pullcast.solve.keys import march_sha256

ENGINES = sorted((Path(__file__).parents[2] / "configs/engines").glob("*.toml"))


def planted(path):
    return plant(read_sheet(path, path.name), path.parent)


@pytest.mark.parametrize("path", ENGINES, ids=lambda p: p.stem)
def test_a_written_card_reads_to_the_same_engine(path):
    tree = planted(path)
    again = read_engine_text(engine_text(tree))
    assert march_sha256(again) == march_sha256(resolve_tree(tree))
    assert again.name == resolve_tree(tree).name


def test_a_changed_card_keeps_its_changes_and_drops_keys_set_to_none():
    tree = planted(ENGINES[1])
    change(tree, {"cam": "cams/v8_warm.toml", "cam.advance": "2 deg", "cam.intake.lash": None})
    text = engine_text(tree)
    assert march_sha256(read_engine_text(text)) == march_sha256(resolve_tree(tree))
    assert 'advance = "2 deg"' in text
    assert "parts" not in text


def test_text_with_quotes_and_newlines_survives():
    import tomllib

    data = {"name": 'a "b"\\ \n\x7f é', "source": {"odd key.": "x"}, "list": [[1, 2], [3]],
            "pipe": [{"name": "p", "length": {"value": "1 mm", "within": "0.1 mm"}}]}
    assert tomllib.loads(card_text(data)) == data


def test_what_no_card_can_hold_is_refused():
    with pytest.raises(TypeError, match="a card cannot hold"):
        card_text({"name": object()})
