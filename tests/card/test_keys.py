"""Every key of a card has a meaning, every meaning a key; the page of keys is fresh."""

from pathlib import Path

import pytest

from pullcast.card.classes import CLASSES
from pullcast.card.keys import key_tables, meaning, meanings
from pullcast.show.card_keys import ELSE, card_keys_page

PAGE = Path(__file__).parents[2] / "examples" / "guide" / "card_keys.md"


def test_every_key_has_a_meaning():
    without = [f"{t.model}.{k.name}" for t in key_tables() for k in t.keys if not k.meaning]
    assert without == [], "say in sim/pullcast/card/meanings.toml what they mean"


def test_every_meaning_has_a_key():
    """A key that is gone takes its meaning along; a collector has a tube's keys too."""
    held = {t.model: {k.name for k in t.keys} for t in key_tables()}
    assert [f"{m}.{name}" for m, told in meanings().items() for name in told if name not in held[m]] == []
    assert [f"{m}.{name}" for m, told in ELSE.items() for name in told if name not in held[m]] == []


def test_page_is_fresh():
    remedy = "run: python -m pullcast.show.card_keys --out examples/guide/card_keys.md"
    assert PAGE.read_text(encoding="utf-8") == card_keys_page(), remedy


def test_every_class_default_stands_on_the_page():
    """A class row fills a key that a card may hold, or one that is worked out from several keys."""
    places = {f"{p.strip('[]')}.{k.name}" for t in key_tables() for p in t.places for k in t.keys}
    rows = {key for c in CLASSES.values() for key in c.rows}
    assert rows - places <= {"exhaust.tailpipe.loss"}


@pytest.mark.parametrize(("place", "text"), [
    ("exhaust.collector.od", "outside diameter of the tube, as shops state it"),
    ("intake.pipe.loss_from", "loss coefficient of flow into the pipe at its start"),
    ("mixture.lambda", "air over the air that burns the fuel completely"), ("no.such", ""), ("cam.intake.none", "")])
def test_meaning(place, text):
    assert meaning(place) == text


def test_bounds_and_choices_are_read_from_the_models():
    found = {(t.model, k.name): k for t in key_tables() for k in t.keys}
    assert (found["BlockCard", "bore"].low, found["BlockCard", "bore"].high) == (0.020, 0.250)
    assert found["LobeCard", "ivc"].quantity == "angle"
    assert found["MixtureCard", "lambda"].high == 1.4
    assert found["WallsCard", "model"].choices == ("hohenberg", "woschni", "annand")
    assert found["BlockCard", "banks"].form == "list of lists of whole numbers"
    assert found["LimitsCard", "injector_flow"].form == "value and unit"
    assert found["PipeCard", "flanged"].form == "true or false"
    assert found["BlockCard", "bore"].needed
