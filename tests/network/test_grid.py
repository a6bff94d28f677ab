import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.card.engine import End, Pipe, Segment
from pullcast.network.grid import area_at, cut

segment = st.builds(Segment, st.floats(0.01, 1.0), st.floats(1e-5, 1e-2), st.floats(1e-5, 1e-2))


def cone(length, a, b):
    d0, d1 = np.sqrt(4 / np.pi * a), np.sqrt(4 / np.pi * b)
    return np.pi / 12 * length * (d0**2 + d0 * d1 + d1**2)


@given(st.lists(segment, min_size=1, max_size=4), st.floats(0.005, 0.05))
def test_cells_hold_the_volume_and_length_of_the_pipe(segments, cell):
    grid = cut(Pipe("p", End("closed"), End("closed"), tuple(segments)), cell)
    length = sum(s.length for s in segments)
    assert grid.dx * len(grid.volume) == pytest.approx(length)
    exact = sum(cone(s.length, s.area_start, s.area_end) for s in segments)
    assert grid.volume.sum() == pytest.approx(exact, rel=0.05)
    assert (grid.face > 0).all()


def test_taper_is_linear_in_diameter():
    x = np.array([0.0, 0.5, 1.0])
    area = area_at((Segment(1.0, np.pi / 4 * 0.04**2, np.pi / 4 * 0.06**2),), x)
    assert np.sqrt(4 / np.pi * area) == pytest.approx([0.04, 0.05, 0.06])


def test_end_correction_lengthens_without_friction_or_heat():
    seg = Segment(0.3, 1e-3, 1e-3, bend_loss=0.6)
    grid = cut(Pipe("p", End("closed"), End("ambient", end_length=0.02), (seg,)), 0.01)
    assert grid.dx * len(grid.volume) == pytest.approx(0.32)
    assert grid.friction[-1] == 0.0
    assert grid.heat_factor[-1] == 0.0
    assert (grid.loss * grid.dx).sum() == pytest.approx(0.6)


def test_a_pipe_shorter_than_a_cell_is_one_cell():
    assert len(cut(Pipe("p", End("closed"), End("closed"), (Segment(0.004, 1e-3, 1e-3),)), 0.025).volume) == 1
