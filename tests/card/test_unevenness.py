"""How unevenly the mixture is taken to be: within a cylinder, and from cylinder to cylinder by preparation."""

from pathlib import Path

import pytest

from pullcast.card import read_engine, with_changes
from pullcast.errors import CardError

ENGINES = Path(__file__).parents[2] / "configs" / "engines"


@pytest.mark.parametrize(("card", "between"), [("hillclimb_v8", 0.05), ("club_four", 0.02), ("vintage_twin", 0.02),
                                               ("lab_single", 0.0)])
def test_one_carburettor_for_several_cylinders_scatters_most(card, between):
    """The twin has a carburettor for each cylinder, the single nothing to scatter between."""
    engine = read_engine(ENGINES / f"{card}.toml")
    assert engine.mixture.between == between
    assert ("mixture.between_cylinders" in {a.key for a in engine.assumed}) == (between > 0.0)


def test_both_scatters_add_as_squares():
    changes = {"mixture.spread": 0.03, "mixture.between_cylinders": 0.04}
    assert with_changes(ENGINES / "club_four.toml", changes).mixture.unevenness == pytest.approx(0.05)


def test_more_than_can_be_is_refused():
    with pytest.raises(CardError, match=r"mixture\.between_cylinders"):
        with_changes(ENGINES / "club_four.toml", {"mixture.between_cylinders": 0.3})
