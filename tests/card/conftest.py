"""A whole engine in one card, to be spoiled by the tests; and the folder of shipped cards."""

from pathlib import Path

import pytest

from pullcast.card import read_engine_text
from pullcast.card.starter import starter
from pullcast.errors import CardError

CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture
def configs():
    return CONFIGS


@pytest.fixture
def base():
    """The hill-climb card's text; part files are found from its folder."""
    return (CONFIGS / "engines" / "hillclimb_v8.toml").read_text(encoding="utf-8")


@pytest.fixture
def read():
    """Read card text as if it stood in configs/engines."""
    return lambda text: read_engine_text(text, CONFIGS / "engines", "card.toml")


@pytest.fixture
def four():
    return starter("car_four_4v")


@pytest.fixture
def faults(read):
    """The messages of a card that cannot be read."""
    def run(text):
        with pytest.raises(CardError) as e:
            read(text)
        return str(e.value)
    return run
