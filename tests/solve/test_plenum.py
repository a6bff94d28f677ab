"""A plenum as one volume feeds all runners alike; given a length it has waves, and its size and feeding matter."""

from pathlib import Path

import numpy as np
import pytest

from pullcast.card import with_changes
from pullcast.kernels import layout as L
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import settle

CARD = Path(__file__).parents[2] / "configs" / "engines" / "club_four.toml"


def trapped(**changes):
    """Trapped mass of each cylinder at 6500 rpm, mg."""
    swaps = {f"intake.plenum.{key}": value for key, value in changes.items()}
    return 1e6 * settle(with_changes(CARD, swaps), 6500.0, Numerics(cell=0.03)).out[:, L.C_TRAPPED]


@pytest.fixture(scope="module")
def one_volume():
    return trapped()


@pytest.fixture(scope="module")
def in_series():
    return trapped(length="380 mm")


def uneven(mass):
    return np.ptp(mass) / mass.mean()


def test_one_volume_feeds_evenly(one_volume):
    assert uneven(one_volume) < 2e-3


def test_with_a_length_it_feeds_unevenly(in_series):
    assert 0.01 < uneven(in_series) < 0.15


def test_a_smaller_plenum_with_a_length_is_more_uneven_and_takes_less(in_series):
    small = trapped(length="380 mm", volume="1.2 L")
    assert uneven(small) > 1.5 * uneven(in_series)
    assert small.mean() < 0.995 * in_series.mean()
