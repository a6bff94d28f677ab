"""The chamber's shape: volumes by rays against the crank's, squish edges, refusals."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.errors import InputError
from pullcast.network.chamber_shape import SHAPES, Chamber, front, front_table

BORE, STROKE = 0.09, 0.09
SWEPT = math.pi / 4 * BORE**2 * STROKE


@given(shape=st.sampled_from(SHAPES), ratio=st.floats(7.0, 13.0), squish=st.floats(0.0, 0.35),
       plug=st.floats(0.0, 0.02), travel=st.floats(0.0, 0.06))
def test_fronts_fill_the_chamber(shape, ratio, squish, plug, travel):
    clearance = SWEPT / (ratio - 1)
    c = Chamber(shape, BORE, STROKE, clearance, plug, 0.0 if shape == "flat" else squish)
    _, behind = front(c, travel)
    assert (np.diff(behind) >= 0).all()
    assert behind[-1] == pytest.approx(clearance + math.pi / 4 * BORE**2 * travel, rel=0.03)


def test_a_central_plug_under_a_flat_head_sees_a_disc():
    """Once the sphere touches both head and piston its area is 2 pi r h, until it reaches the bore."""
    c = Chamber("flat", BORE, STROKE, SWEPT / 9)
    area, behind = front(c, 0.0)
    h = c.clearance
    r = np.sqrt((behind / math.pi + h**3 / 3) / h)
    between = (r > 1.3 * h) & (r < 0.48 * BORE)
    assert between.sum() > 20
    assert area[between] == pytest.approx(2 * math.pi * r[between] * h, rel=0.04)


def test_table_ends_at_no_front():
    table = front_table(Chamber("wedge", BORE, STROKE, SWEPT / 9, 0.012, 0.25))
    assert (table[:, -1] == 0).all()
    assert (table[:, :-1] > 0).all()


def test_squish_edge_of_a_wedge_is_its_chord():
    assert Chamber("wedge", BORE, STROKE, SWEPT / 9, 0.0, 0.5).edge == pytest.approx(BORE, rel=1e-6)


@pytest.mark.parametrize(("changes", "text"), [
    ({"shape": "dome"}, "no chamber shape 'dome'; there are roof, wedge, flat"),
    ({"plug": 0.05}, "a plug 50 mm off the axis is outside a bore of 90 mm"),
    ({"squish": 0.8}, "squish share 0.8 is outside 0 to 0.7"),
])
def test_refusals(changes, text):
    with pytest.raises(InputError, match=text):
        Chamber(**({"shape": "roof", "bore": BORE, "stroke": STROKE, "clearance_volume": 6e-5} | changes))
