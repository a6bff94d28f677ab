from pathlib import Path

import pytest

from pullcast.show.lab.shelf import Shelf

CONFIGS = Path(__file__).parents[3] / "configs"


@pytest.fixture(scope="session")
def shelf():
    return Shelf(CONFIGS)
