"""Waves, acoustics, vessel and manufactured fields: the references checked against what they must obey."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from validation.reference import acoustics as ac
from validation.reference import vessel, waves
from validation.reference.manufactured import Manufactured
from validation.reference.steady import orifice_flux

C = ac.sound_speed(293.15)


def test_simple_wave_numbers():
    assert pytest.approx(343.232, abs=5e-4) == C
    assert waves.particle_velocity(1.5, C) == pytest.approx(102.342, abs=1e-3)
    assert waves.wave_speed(1.5, C) == pytest.approx(466.042, abs=1e-3)
    assert waves.at_closed_end(1.5) == pytest.approx(2.200588, abs=1e-6)
    assert waves.from_open_end(1.5) == pytest.approx(0.650247, abs=1e-6)


def test_weak_waves_are_linear():
    """A wave of 1e-6 doubles at a wall and turns over at an opening."""
    assert (waves.at_closed_end(1 + 1e-6) - 1) / 1e-6 == pytest.approx(2, abs=1e-5)
    assert (waves.from_open_end(1 + 1e-6) - 1) / 1e-6 == pytest.approx(-1, abs=1e-5)
    assert (waves.inflow_reflection(1 - 1e-6) - 1) / 1e-6 == pytest.approx(1, abs=1e-5)


@given(st.floats(0.6, 0.99))
def test_inflow_keeps_total_temperature(ratio):
    """At the face a^2 + 0.2 u^2 = a0^2 with the two waves put together."""
    xi, xr = waves.amplitude(ratio), waves.amplitude(waves.inflow_reflection(ratio))
    x, u = xi + xr - 1, 5 * (xr - xi)
    assert x**2 + 0.2 * u**2 == pytest.approx(1, rel=1e-10)
    assert u > 0


def test_simple_wave_solves_the_equations():
    """Mass conservation by differences of the exact field in x and t."""
    def pulse(x):
        return 40 * np.exp(-(((x - 0.5) / 0.1) ** 2))

    x, t, h = np.linspace(0.6, 1.1, 60), 1e-3, 1e-6
    a = waves.simple_wave(pulse, x, t - h, C, 1e5, 1.2)
    b = waves.simple_wave(pulse, x, t + h, C, 1e5, 1.2)
    c = waves.simple_wave(pulse, x - 343 * h, t, C, 1e5, 1.2)
    d = waves.simple_wave(pulse, x + 343 * h, t, C, 1e5, 1.2)
    rate = (b[0] - a[0]) / (2 * h)
    flux = (d[0] * d[1] - c[0] * c[1]) / (2 * 343 * h)
    assert np.max(np.abs(rate + flux)) < 1e-4 * np.max(np.abs(rate))


def test_broken_wave_is_refused():
    with pytest.raises(ValueError, match="broken"):
        waves.simple_wave(lambda x: 80 * np.exp(-((x / 0.05) ** 2)), np.linspace(0, 2, 10), 0.01, C, 1e5, 1.2)


def test_step_and_junction_are_one():
    """A junction of two pipes is an area step; three equal pipes reflect -1/3 and pass 2/3."""
    reflected, passed = ac.junction((3.0, 1.0))
    assert reflected == pytest.approx(ac.step_reflection(3.0, 1.0))
    assert passed == pytest.approx(1 + reflected)
    assert ac.junction((1.0, 1.0, 1.0)) == pytest.approx((-1 / 3, 2 / 3))


def test_expansion_chamber():
    """Transfer matrices give the closed form; at its peak with area ratio 9 13.171 dB."""
    for kl in (0.3, 1.0, np.pi / 2, 2.5):
        t = ac.pipe(kl / 0.4, 0.4, 9e-3, 410.0)
        assert ac.transmission_loss(t, 1e-3, 1e-3, 410.0) == pytest.approx(ac.chamber_transmission_loss(kl, 1.0, 9.0))
    assert ac.chamber_transmission_loss(np.pi / 2, 1.0, 9.0) == pytest.approx(13.171, abs=5e-4)


def test_cone_is_many_short_pipes():
    """The cone's matrix against 4000 short straight pipes, widening and narrowing."""
    k, length, z, n = 7.0, 0.5, 410.0, 4000
    for r1, r2 in ((0.02, 0.05), (0.05, 0.02)):
        r = r1 + (r2 - r1) * (np.arange(n) + 0.5) / n
        steps = np.eye(2)
        for radius in r:
            steps = steps @ ac.pipe(k, length / n, np.pi * radius**2, z)
        whole = ac.cone(k, length, np.pi * r1**2, np.pi * r2**2, z)
        assert np.allclose(whole, steps, rtol=1e-3, atol=1e-3 * np.abs(whole).min(axis=1, keepdims=True))


@given(st.floats(0.1, 30), st.floats(0.1, 1), st.floats(1e-4, 1e-2), st.floats(1e-4, 1e-2))
def test_lossless_elements_are_reciprocal(k, length, a, b):
    """The determinant of a passive lossless two-port is one."""
    assert np.linalg.det(ac.cone(k, length, a, b, 410.0)) == pytest.approx(1, abs=1e-6)


def test_quarter_wave_branch_blocks():
    """At its quarter-wave frequency a closed branch stops the wave; half way its loss is the two-port formula's."""
    k = np.pi / 2 / 0.3
    t = ac.branch(ac.closed_branch(k * (1 - 1e-9), 0.3, 1e-3, 410.0))
    assert ac.transmission_loss(t, 1e-3, 1e-3, 410.0) > 100
    t = ac.branch(ac.closed_branch(k / 2, 0.3, 1e-3, 410.0))
    assert ac.transmission_loss(t, 1e-3, 1e-3, 410.0) == pytest.approx(10 * np.log10(1.25))


def test_pipe_frequencies_with_end_corrections():
    """Closed pipe L 0.3 m, r 0.02 m at 293.15 K: bare, unflanged, flanged."""
    for k, hz in ((0.0, 286.027), (ac.UNFLANGED, 274.791), (ac.FLANGED, 271.172)):
        assert ac.quarter_wave(C, 0.3 + k * 0.02) == pytest.approx(hz, abs=1e-3)


def test_helmholtz():
    """Neck r 0.02, L 0.3 flanged twice, 5 litres: lumped, distributed; and their agreement if short."""
    area, length = np.pi * 0.02**2, 0.3 + 2 * ac.FLANGED * 0.02
    assert ac.helmholtz_lumped(C, length, area, 5e-3) == pytest.approx(47.467, abs=1e-3)
    assert ac.helmholtz_distributed(C, length, area, 5e-3) == pytest.approx(46.815, abs=1e-3)
    assert ac.helmholtz_distributed(C, length, area, 5e-3, 2) == pytest.approx(519.900, abs=1e-3)
    short = ac.helmholtz_distributed(C, 0.01, area, 1.0)
    assert short == pytest.approx(ac.helmholtz_lumped(C, 0.01, area, 1.0), rel=1e-4)


def test_cone_closed_at_its_apex_sounds_like_an_open_pipe():
    """A cone complete to its apex has the frequencies c/(2 L) (Kinsler & Frey); a straight one c/(4 L)."""
    assert ac.cone_closed_open(C, 0.5, 1e-9, 2e-3) == pytest.approx(ac.half_wave(C, 0.5), rel=2e-3)
    assert ac.cone_closed_open(C, 0.5, 1e-3, 1.0001e-3) == pytest.approx(ac.quarter_wave(C, 0.5), rel=1e-4)


def test_engelman():
    """c 1125 ft/s, A 2.5 in2, L 12 in, V 43.75 in3, ratio 10: 5417 rpm."""
    inch = 0.0254
    rpm = ac.engelman_rpm(1125 * 0.3048, 2.5 * inch**2, 12 * inch, 43.75 * inch**3, 10.0)
    assert rpm == pytest.approx(5417, abs=1)


def test_vessel_against_its_equations():
    """Mass and energy balance of the vessel integrated step by step."""
    V, A, p0, T0, cv = 1e-3, 1e-4, 10e5, 600.0, 717.625

    def rates(_, y):
        T = y[1] / (y[0] * cv)
        p = y[0] * 287.05 * T / V
        flow = A * orifice_flux(p, T, 0.0)
        return [-flow, -flow * cv * 1.4 * T]

    m0 = p0 * V / (287.05 * T0)
    end = solve_ivp(rates, (0, 5e-3), [m0, m0 * cv * T0], rtol=1e-10, atol=1e-12).y[:, -1]
    tau = vessel.time_constant(V, A, T0)
    assert vessel.choked_pressure(5e-3, p0, tau) == pytest.approx(0.4 * end[1] / V, rel=1e-7)


def test_manufactured_source_by_differences():
    """The complex-step source against plain central differences; walls at rest at both ends."""
    m = Manufactured(friction=1.0, heat=1.0)
    x, t, h = np.linspace(0.05, 0.95, 9), 1.3e-3, 1e-6
    rate = (m.conserved(x, t + h) - m.conserved(x, t - h)) / (2 * h)
    (up, p_up), (down, p_down) = m._fluxes(x + h, t), m._fluxes(x - h, t)
    expected = rate + (up - down) / (2 * h) / m.area(x)
    expected[1] += (p_up - p_down) / (2 * h)
    drag, heat = m.wall_terms(x, t)
    assert np.allclose(m.source(x, t)[0], expected[0], rtol=1e-5)
    assert np.allclose(m.source(x, t)[1], expected[1] - drag, rtol=1e-5, atol=1.0)
    assert np.allclose(m.source(x, t)[2], expected[2] - heat, rtol=1e-5, atol=1e3)
    assert np.abs(m.fields(np.array([0.0, 1.0]), t)[1]).max() < 1e-12
