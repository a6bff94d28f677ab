"""The exact Riemann solver against Toro's printed table 4.2 and against the conservation laws themselves."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from validation.reference.riemann import LAX, SOD, TORO_2, TORO_3, TORO_5, State, sample, shock_speed, star

CASES = {"sod": SOD, "lax": LAX, "toro2": TORO_2, "toro3": TORO_3, "toro5": TORO_5}
# p*, u*, rho*L, rho*R as printed by Toro (table 4.2) to the digits there; Lax from the literature
PRINTED = {
    "sod": (0.30313, 0.92745, 0.42632, 0.26557),
    "toro2": (0.00189, 0.0, 0.02185, 0.02185),
    "toro3": (460.894, 19.5975, 0.57506, 5.99924),
    "toro5": (1691.64, 8.68975, 14.2823, 31.0426),
    "lax": (2.46610, 1.52872, 0.344568, 1.30408),
}


@pytest.mark.parametrize("name", PRINTED)
def test_printed_star_states(name):
    left, right, _ = CASES[name]
    got = star(left, right)
    for value, printed in zip(got, PRINTED[name], strict=True):
        assert value == pytest.approx(printed, rel=2e-5, abs=6e-6)


def test_sod_shock_speed():
    left, right, _ = SOD
    assert shock_speed(star(left, right).p, right, 1) == pytest.approx(1.752156, abs=1e-6)


@pytest.mark.parametrize("name", CASES)
def test_integral_conservation(name):
    """Content of [-1, 1] at t = initial content + t (flux in - flux out): holds whatever the wave pattern."""
    left, right, t = CASES[name]
    half = 1.2 * t * max(abs(left.u) + left.sound(1.4), abs(right.u) + right.sound(1.4), 1.0) * 1.5
    x = (np.arange(400000) + 0.5) / 400000 * 2 * half - half
    rho, u, p = sample(left, right, x / t)
    content = np.array([rho, rho * u, p / 0.4 + 0.5 * rho * u**2]).mean(axis=1) * 2 * half

    def kept(s):
        return np.array([s.rho, s.rho * s.u, s.p / 0.4 + 0.5 * s.rho * s.u**2])

    def flux(s):
        e = s.p / 0.4 + 0.5 * s.rho * s.u**2
        return np.array([s.rho * s.u, s.rho * s.u**2 + s.p, s.u * (e + s.p)])

    expected = half * (kept(left) + kept(right)) + t * (flux(left) - flux(right))
    scale = half * (np.abs(kept(left)) + np.abs(kept(right))) + t * (np.abs(flux(left)) + np.abs(flux(right)))
    assert np.all(np.abs(content - expected) < 5e-5 * scale.max())


states = st.tuples(st.floats(0.1, 10), st.floats(-1, 1), st.floats(0.1, 10)).map(lambda v: State(*v))


@given(states, states)
def test_mirror_symmetry(left, right):
    a = star(left, right)
    b = star(State(right.rho, -right.u, right.p), State(left.rho, -left.u, left.p))
    assert b.p == pytest.approx(a.p, rel=1e-9)
    assert b.u == pytest.approx(-a.u, rel=1e-9, abs=1e-9)
    assert b.rho_left == pytest.approx(a.rho_right, rel=1e-9)


def test_vacuum_is_refused():
    with pytest.raises(ValueError, match="vacuum"):
        star(State(1.0, -10.0, 0.4), State(1.0, 10.0, 0.4))
