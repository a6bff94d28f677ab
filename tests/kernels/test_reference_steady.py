"""Steady one-dimensional references: values recomputed from the relations, and the relations against each other."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from validation.reference import steady as s


def test_nozzle_with_shock():
    """A = 1 + 2.2 (x - 1.5)^2, pe/p0 0.6784 (Anderson 1995, ch. 7: M1 2.07, shock near x = 2.1)."""
    n = s.nozzle_with_shock(1 + 2.2 * 1.5**2, 0.6784)
    assert 1.5 + np.sqrt((n.area_at_shock - 1) / 2.2) == pytest.approx(2.09933, abs=1e-5)
    assert n.mach_ahead == pytest.approx(2.07001, abs=1e-5)
    assert n.total_ratio == pytest.approx(0.68817, abs=1e-5)
    assert n.mach_exit == pytest.approx(0.14308, abs=1e-5)


def test_nozzle_with_shock_by_the_longer_way():
    """March through the nozzle instead: isentropic to the shock, jump, isentropic from there to the exit pressure."""
    exit_area = 1 + 2.2 * 1.5**2

    def back_pressure(area):
        m2, _, total = s.normal_shock(s.mach_at(area, True))
        throat = area / s.area_ratio(m2)
        return total / s.total_over_static(s.mach_at(exit_area / throat, False))

    area = brentq(lambda a: back_pressure(a) - 0.6784, 1.01, 5.0)
    assert area == pytest.approx(s.nozzle_with_shock(exit_area, 0.6784).area_at_shock, rel=1e-10)


@pytest.mark.parametrize(("p", "text"), [(0.01, "too low"), (0.99, "subsonic")])
def test_no_shock_inside(p, text):
    with pytest.raises(ValueError, match=text):
        s.nozzle_with_shock(1.5, p)


def test_subsonic_nozzle():
    exit_mach = brentq(lambda m: 1 / s.total_over_static(m) - 0.93, 1e-6, 1)
    throat = s.mach_at(s.area_ratio(exit_mach) / 1.5, False)
    assert exit_mach == pytest.approx(0.32366, abs=1e-5)
    assert s.mass_flux(1e5, 300.0, throat) == pytest.approx(1.5 * s.mass_flux(1e5, 300.0, exit_mach), rel=1e-12)
    assert throat == pytest.approx(0.54116, abs=1e-5)


def test_fanno_against_its_integral():
    """f L*/D = integral of (1 - M^2)/(gamma M^4 (1 + (gamma-1)/2 M^2)) dM^2 (Shapiro), and the usual tables."""
    for mach, table in ((0.1, 66.92156), (0.2, 14.53327), (0.5, 1.06906), (0.9, 0.01451)):
        integral = quad(lambda y: (1 - y) / (1.4 * y**2 * (1 + 0.2 * y)), mach**2, 1)[0]
        assert s.fanno_length(mach) == pytest.approx(integral, rel=1e-9)
        assert s.fanno_length(mach) == pytest.approx(table, abs=6e-6)


def test_rayleigh_from_conservation():
    """p(1 + gamma M^2) and p M sqrt(T) are constant: find T0/T0* from them."""
    for mach, table in ((0.2, 0.17355), (0.5, 0.69136)):
        p = 2.4 / (1 + 1.4 * mach**2)
        T = (p * mach) ** 2
        expected = T * (1 + 0.2 * mach**2) / 1.2
        assert s.rayleigh_total_temperature(mach) == pytest.approx(expected, rel=1e-12)
        assert s.rayleigh_total_temperature(mach) == pytest.approx(table, abs=6e-6)


def test_normal_shock_conserves():
    m2, p, total = s.normal_shock(2.0)
    assert (m2, p, total) == pytest.approx((0.57735, 4.5, 0.72087), abs=5e-6)
    T = (1 + 0.2 * 4) / (1 + 0.2 * m2**2)
    assert p * m2 / np.sqrt(T) == pytest.approx(2.0, rel=1e-12)
    assert p * (1 + 1.4 * m2**2) == pytest.approx(1 + 1.4 * 4, rel=1e-12)


def test_friction_factor():
    """Churchill lies within 2.5 % of Colebrook (solved here) in rough and smooth turbulent flow, and on 64/Re."""
    for re, e in ((1e5, 1e-4), (2e4, 2e-3)):
        f = brentq(lambda f, re=re, e=e: f**-0.5 + 2 * np.log10(e / 3.7 + 2.51 / (re * f**0.5)), 1e-3, 0.2)
        assert s.darcy(re, e) == pytest.approx(f, rel=0.025)
    assert s.darcy(500.0, 0.0) == pytest.approx(64 / 500, rel=1e-4)


def test_generalised_flow_is_fanno():
    """With a constant loss and no area change the marched solution meets the closed one."""
    gamma, R, T0, p = 1.4, 287.05, 300.0, 1.2e5
    duct = s.Duct(1.0, lambda x: 1e-3, loss=5.0)
    T = T0 / (1 + 0.2 * 0.3**2)
    flow = p / (R * T) * 0.3 * np.sqrt(gamma * R * T) * 1e-3
    out = s.generalised_flow(duct, flow, p, T)
    end = brentq(lambda m: s.fanno_length(0.3) - s.fanno_length(m) - 5.0, 0.3, 1.0)
    assert out[4, -1] == pytest.approx(end, rel=1e-7)


def test_generalised_flow_is_isentropic_in_a_cone():
    duct = s.Duct(0.5, lambda x: 1e-3 * (1 - 0.6 * x))
    flow = s.mass_flux(1e5, 300.0, 0.3) * 1e-3
    out = s.generalised_flow(duct, flow, 1e5 / s.total_over_static(0.3), 300 / 1.018)
    assert out[4, -1] == pytest.approx(s.mach_at(s.area_ratio(0.3) * 0.7, False), rel=1e-7)


def test_generalised_flow_is_rayleigh():
    """Heat without friction: impulse p + rho u^2 stays, and T0 follows Rayleigh's relation."""
    duct = s.Duct(1.0, lambda x: 1e-3, heat=3.0, wall=800.0)
    flow = 0.08
    _, p, T, u, m = s.generalised_flow(duct, flow, 1.1e5, 300.0)
    assert np.ptp(p + flow / 1e-3 * u) / p[0] < 1e-9
    t0 = T * (1 + 0.2 * m**2)
    ratio = s.rayleigh_total_temperature(m[-1]) / s.rayleigh_total_temperature(m[0])
    assert t0[-1] / t0[0] == pytest.approx(ratio, rel=1e-8)
    assert t0[-1] > 1.1 * t0[0]


def test_choking_duct_is_told():
    with pytest.raises(ValueError, match="chokes"):
        s.generalised_flow(s.Duct(1.0, lambda x: 1e-3, loss=20.0), 0.25, 1e5, 290.0)


def test_orifice():
    """1 cm2, 101325 Pa, 298.15 K: flow recomputed from the throat's Mach number instead of the flow function."""
    for ratio in (0.99, 0.9, 0.7, 0.3):
        r = max(ratio, s.total_over_static(1.0) ** -1)
        mach = np.sqrt(5 * (r ** (-0.4 / 1.4) - 1))
        assert s.orifice_flux(101325.0, 298.15, ratio * 101325.0) == pytest.approx(
            s.mass_flux(101325.0, 298.15, mach), rel=1e-12)
    assert s.orifice_flux(101325.0, 298.15, 0.7 * 101325.0) * 1e-4 == pytest.approx(22.108384e-3, rel=1e-7)
    assert s.orifice_flux(101325.0, 298.15, 0.0) * 1e-4 == pytest.approx(23.715960e-3, rel=1e-7)
