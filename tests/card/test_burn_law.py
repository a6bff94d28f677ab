"""The card's choice of burn law and what a predicted burn takes from it."""

from pathlib import Path

import pytest

from pullcast.card import read_engine, with_changes
from pullcast.card.classes import CLASSES
from pullcast.errors import CardError

ENGINES = Path(__file__).parents[2] / "configs" / "engines"


def test_wiebe_is_the_default_and_assumes_nothing_of_the_chamber():
    engine = read_engine(ENGINES / "club_four.toml")
    assert engine.burn.law == "wiebe"
    assert not [a for a in engine.assumed if "squish" in a.key or "turbulence" in a.key]


@pytest.mark.parametrize(("card", "shape"), [("club_four", "roof"), ("hillclimb_v8", "wedge")])
def test_flame_takes_its_chamber_from_the_class(card, shape):
    engine = with_changes(ENGINES / f"{card}.toml", {"burn.law": "flame"})
    burn = engine.burn
    assert (burn.law, burn.chamber) == ("flame", shape)
    assert burn.turbulence == CLASSES[engine.engine_class].rows["burn.turbulence"].value
    assumed = {a.key: a for a in engine.assumed}
    for key in ("burn.squish", "burn.squish_clearance", "burn.turbulence"):
        assert assumed[key].low <= assumed[key].value <= assumed[key].high


def test_what_is_stated_is_used():
    changes = {"burn.law": "flame", "burn.chamber": "flat", "burn.plug_offset": "12 mm", "burn.squish": 0.2,
               "burn.turbulence": 1.1}
    burn = with_changes(ENGINES / "hillclimb_v8.toml", changes).burn
    assert (burn.chamber, burn.plug, burn.squish, burn.turbulence) == ("flat", pytest.approx(0.012), 0.0, 1.1)


def test_a_chamber_without_the_flame_is_noted_and_a_plug_outside_refused():
    engine = with_changes(ENGINES / "hillclimb_v8.toml", {"burn.squish": 0.2})
    assert any(f.key == "burn.squish" and 'law = "flame" alone' in f.text for f in engine.findings)
    with pytest.raises(CardError, match=r"a plug 60\.0 mm off the axis is outside the bore"):
        with_changes(ENGINES / "hillclimb_v8.toml", {"burn.law": "flame", "burn.plug_offset": "60 mm"})
    with pytest.raises(CardError, match=r"burn\.law"):
        with_changes(ENGINES / "hillclimb_v8.toml", {"burn.law": "flames"})
