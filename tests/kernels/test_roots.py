"""The face state at an end must lie on the wave from inside and on the relation of what is outside."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pullcast.kernels.orifice import critical_ratio, psi, psi_of
from pullcast.kernels.roots import open_in, open_out, orifice_in, orifice_out
from pullcast.kernels.wave import wall_pressure, wave_rho, wave_w

G, R = 1.4, 287.05
inside = st.tuples(st.floats(0.3e5, 4e5), st.floats(250.0, 1200.0), st.floats(-150.0, 150.0))
ratio = st.floats(0.02, 0.95)


def state(p, T, w):
    return p / (R * T), w, p, math.sqrt(G * R * T)


@given(inside, ratio, st.floats(1.02, 6.0), st.floats(280.0, 2000.0))
@settings(max_examples=200)
def test_orifice_in(inner, k, over, T0):
    r, w, p, a = state(*inner)
    pw = wall_pressure(r, w, p, a, G)
    p0 = pw * over
    pf, wf, rf = orifice_in(0.9 * p0, pw, r, w, p, a, G, k, p0, T0, R, G)
    cp = G * R / (G - 1)
    flow = k * psi(pf / p0, G) * p0 / math.sqrt(R * T0)
    assert rf * wf == pytest.approx(flow, rel=2e-6, abs=1e-6)
    assert pf / (rf * R) + wf * wf / (2 * cp) == pytest.approx(T0, rel=1e-8)
    mach = wf / math.sqrt(G * pf / rf)
    assert mach <= 1 + 1e-9
    if mach < 0.999:
        assert wave_w(pf, r, w, p, a, G) == pytest.approx(wf, rel=1e-9, abs=1e-6)


@given(inside, ratio, st.floats(0.1, 0.98))
@settings(max_examples=200)
def test_orifice_out(inner, k, under):
    r, w, p, a = state(*inner)
    assume(w > -0.5 * a)
    pw = wall_pressure(r, w, p, a, G)
    p0 = pw * under
    pf, wf, rf = orifice_out(0.9 * pw, pw, r, w, p, a, G, k, p0)
    m2 = wf * wf * rf / (G * pf)
    pt = pf * (1 + 0.2 * m2) ** 3.5
    tt = pf / (rf * R) * (1 + 0.2 * m2)
    assert -rf * wf == pytest.approx(k * psi(p0 / pt, G) * pt / math.sqrt(R * tt), rel=2e-6, abs=1e-5)
    assert wave_w(pf, r, w, p, a, G) == pytest.approx(wf, rel=1e-9, abs=1e-6)
    assert rf == pytest.approx(wave_rho(pf, r, p, G))
    assert m2 <= 1 + 1e-6


@given(inside, ratio, st.floats(0.1, 0.98))
def test_without_choking_the_flow_out_is_bernoullis(inner, k, under):
    r, w, p, a = state(*inner)
    assume(w > -0.5 * a)
    pw = wall_pressure(r, w, p, a, G)
    p0 = pw * under
    pf, wf, rf = orifice_out(0.9 * pw, pw, r, w, p, a, G, k, p0, 1)
    m2 = wf * wf * rf / (G * pf)
    assert m2 <= 1 + 1e-6  # the pipe itself keeps its speed of sound
    if m2 < 0.999 and pf > 1.000001 * p0:  # nor does its pressure fall below the one outside
        pt = pf * (1 + 0.2 * m2) ** 3.5
        density = pt / (pf / rf * (1 + 0.2 * m2))
        assert -rf * wf == pytest.approx(k * math.sqrt(2 * density * (pt - p0)), rel=2e-6, abs=1e-5)


@given(inside, ratio, st.floats(1.02, 6.0), st.floats(280.0, 2000.0))
def test_without_choking_the_flow_in_is_bernoullis(inner, k, over, T0):
    r, w, p, a = state(*inner)
    pw = wall_pressure(r, w, p, a, G)
    p0 = pw * over
    pf, wf, rf = orifice_in(0.9 * p0, pw, r, w, p, a, G, k, p0, T0, R, G, 1)
    mach = wf / math.sqrt(G * pf / rf)
    assert mach <= 1 + 1e-9
    if mach < 0.999:
        assert rf * wf == pytest.approx(k * math.sqrt(2 * p0 / (R * T0) * (p0 - pf)), rel=2e-6, abs=1e-6)


@pytest.mark.parametrize("gamma", [1.3, 1.4])
def test_both_flow_functions_agree_for_small_differences(gamma):
    assert psi_of(0.999, gamma, 1) == pytest.approx(psi(0.999, gamma), rel=1e-3)
    assert psi_of(0.3, gamma, 0) == psi(0.3, gamma)
    assert psi_of(0.3, gamma, 1) > 1.5 * psi(0.3, gamma)


@given(inside, st.floats(0.0, 2.0), st.floats(1.01, 1.6), st.floats(280.0, 900.0))
def test_open_in_keeps_total_pressure_less_loss(inner, k, over, T0):
    r, w, p, a = state(*inner)
    pw = wall_pressure(r, w, p, a, G)
    p0 = pw * over
    pf, wf, rf = open_in(0.95 * p0, pw, r, w, p, a, G, k, p0, T0, R, G)
    T = pf / (rf * R)
    mach = wf / math.sqrt(G * R * T)
    assert mach <= 1 + 1e-9
    if mach < 0.999:
        total = pf * (T0 / T) ** (G / (G - 1))
        assert total + 0.5 * k * rf * wf**2 == pytest.approx(p0, rel=1e-7)


@given(inside, st.floats(0.6, 0.99))
def test_open_out_is_at_outside_pressure_or_sonic(inner, under):
    r, w, p, a = state(*inner)
    pw = wall_pressure(r, w, p, a, G)
    pf, wf, rf = open_out(p, pw, r, w, p, a, G, 0.0, pw * under)
    mach = -wf / math.sqrt(G * pf / rf)
    assert pf == pytest.approx(pw * under, rel=1e-9) or mach == pytest.approx(1.0, abs=1e-6) or mach > 1


@pytest.mark.parametrize(("gamma", "critical", "choked"), [
    (1.40, 0.528282, 0.684731), (1.35, 0.536851, 0.676145), (1.30, 0.545728, 0.667262)])
def test_critical_ratio_and_choked_function(gamma, critical, choked):
    """Heywood 1988, app. C: relations recomputed to six digits."""
    assert critical_ratio(gamma) == pytest.approx(critical, abs=1e-6)
    assert psi(0.0, gamma) == pytest.approx(choked, abs=1e-6)
