import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from pullcast.gasdata import nodes


def test_chebyshev_gives_a_smooth_surface_back():
    T = nodes.cheb_points(*nodes.EQ_T, nodes.CHEB[0])
    x = nodes.cheb_points(*nodes.EQ_LNP, nodes.CHEB[1])
    surface = np.exp(T[:, None] / 1500.0) * np.sin(x / 3.0)
    c = nodes.cheb_coefficients(surface)
    T2, x2 = nodes.grid_axes()
    rows = nodes.cheb_matrix(T2, *nodes.EQ_T, nodes.CHEB[0])
    columns = nodes.cheb_matrix(x2, *nodes.EQ_LNP, nodes.CHEB[1])
    assert np.allclose(rows @ c @ columns.T, np.exp(T2[:, None] / 1500.0) * np.sin(x2 / 3.0), atol=1e-7)


def test_blend_is_zero_one_and_smooth():
    assert nodes.blend([300.0, 1500.0]).tolist() == [0.0, 0.0]
    assert nodes.blend([1750.0, 3000.0]).tolist() == [1.0, 1.0]
    slope = np.diff(nodes.blend(np.linspace(1490, 1760, 2701))) / 0.1
    assert slope.min() >= 0.0
    assert np.abs(np.diff(slope)).max() < 1e-4  # no jump of slope at the ends


@given(st.lists(st.floats(-1000, 1000), min_size=7, max_size=7), st.floats(250.0, 3000.0))
def test_enthalpy_is_the_integral_of_cp(cp, T):
    h = nodes.integrate_cp(np.array(cp))
    value = np.polynomial.polynomial.polyval
    assert abs(value(0.29815, h)) < 1e-6 * (1 + np.abs(h).max())
    t, step = T * 1e-3, 1e-5
    slope = (value(t + step, h) - value(t - step, h)) / (2 * step * 1000.0)
    assert abs(slope - value(t, cp)) < 1e-5 * (1 + sum(abs(c) for c in cp) * 3**6)


def test_fit_recovers_a_polynomial():
    T = np.linspace(200, 3500, 200)
    true = np.array([1000.0, -50.0, 80.0, -20.0, 5.0, -1.0, 0.1])
    cp = np.polynomial.polynomial.polyval(T * 1e-3, true)
    assert np.allclose(nodes.fit_cp(T, cp, np.ones_like(T), 7), true, rtol=1e-6)
