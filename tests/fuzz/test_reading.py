"""Bent files of every kind: read or refused with a place and a reason; no traceback, hang, or number that is none.

The whole campaign (20,000 cards, 1,000 of each other kind) is marked long; PULLCAST_FUZZ sets its count and
PULLCAST_FUZZ_SEED its seed.
"""

import os

import bent_files
import pytest
import reading_cards

COUNT = int(os.environ.get("PULLCAST_FUZZ", "20000"))
SEED = int(os.environ.get("PULLCAST_FUZZ_SEED", "20261125"))


def test_bent_cards_in_short(tmp_path):
    tally = reading_cards.campaign(300, 1, tmp_path)
    assert not tally.faults
    assert tally.ends["refused"] > 100
    assert tally.ends["accepted"] > 20


def test_bent_files_in_short(tmp_path):
    tally = bent_files.campaign(12, 1, tmp_path)
    assert not tally.faults
    assert sum(tally.ends.values()) == 12 * 11


@pytest.mark.long
def test_bent_cards(tmp_path):
    tally = reading_cards.campaign(COUNT, SEED, tmp_path)
    assert not tally.faults
    assert sum(tally.ends.values()) == COUNT


@pytest.mark.long
def test_bent_files(tmp_path):
    tally = bent_files.campaign(COUNT // 20, SEED, tmp_path)
    assert not tally.faults


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ('"86 10**10**10 mm"', "is not known"),
        ('"86 mm**(1e9)"', "is not known"),
        ("9" * 5000, "thousands of digits"),
        ("9" * 400, "is not a finite number"),
        ("[" * 100 + "]" * 100, "deep in each other"),
        ('"1,5 mm"', "a decimal takes a point"),
        ('{ unit = "mm", values = 4 }', "is not known"),
    ],
)
def test_values_that_once_broke_the_reader(value, words):
    from pullcast.card import read_engine_text
    from pullcast.card.starter import starter
    from pullcast.errors import CardError

    text = starter("car_four_4v").replace('bore = "86 mm"', f"bore = {value}", 1)
    with pytest.raises(CardError, match=words):
        read_engine_text(text, name="card.toml")


@pytest.mark.parametrize("flow", ["0 cc/min", "-300 cc/min"])
def test_an_injector_that_passes_nothing_is_refused(flow):
    from pullcast.card import read_engine_text
    from pullcast.card.starter import starter
    from pullcast.errors import CardError

    with pytest.raises(CardError, match="flow is above zero"):
        read_engine_text(starter("car_four_4v") + f'\n[limits]\ninjector_flow = "{flow}"\n', name="card.toml")
