import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pullcast.card.engine import Duration, FlowSheet, Lobe, Segment, ValveSide
from pullcast.errors import InputError
from pullcast.kernels import orifice
from pullcast.network import flow_sheet as fs
from pullcast.network import port_flow as pf
from pullcast.network.lift import valve_lift

INCH, CFM = 0.0254, 0.3048**3 / 60
DROP = 28 * fs.INCH_WATER
LIFTS = tuple(k * 0.1 * INCH for k in range(1, 7))
PORT = (Segment(0.04, 1.45e-3, 1.40e-3, bend_loss=0.06), Segment(0.08, 1.40e-3, 1.6e-3, bend_loss=0.03))
INTAKE = ValveSide(1, 2.02 * INCH, 1.78 * INCH, 0.0087, 45.0, PORT,
                   FlowSheet(LIFTS, tuple(f * CFM for f in (65, 130, 185, 225, 243, 250)), DROP), 0.93)
EXHAUST = ValveSide(1, 1.60 * INCH, 1.40 * INCH, 0.0087, 45.0,
                    (Segment(0.03, 1.0e-3, 0.95e-3, bend_loss=0.15), Segment(0.06, 0.95e-3, 1.15e-3)),
                    FlowSheet(LIFTS, tuple(f * CFM for f in (55, 105, 145, 168, 180, 186)), DROP), 0.9)
SIDES = [("intake", INTAKE), ("exhaust", EXHAUST)]


def flow_by_bisection(side, kind, lift, drop, direction):
    """The bench flow again: own search, own quadrature of the losses (many small steps in x, first order)."""
    area = float(fs.effective_area(side, lift, kind, direction))
    T, p = 288.7, 101325.0
    inward = (kind == "intake") == (direction == "forward")

    def mach(m, p0, a):
        lo, hi = 0.0, 1.0
        for _ in range(60):
            mid = 0.5 * (lo + hi)
            flow = a * p0 / np.sqrt(287.05 * T) * np.sqrt(1.4) * mid / (1 + 0.2 * mid**2) ** 3
            lo, hi = (mid, hi) if flow < m else (lo, mid)
        return lo

    def losses(m, p0, sign):
        for s in reversed(side.port):
            n = 60
            for i in range(n):
                f = 1 - (i + 0.5) / n
                d = np.sqrt(4 / np.pi) * (np.sqrt(s.area_start) * (1 - f) + np.sqrt(s.area_end) * f)
                M = mach(m, p0, np.pi / 4 * d * d)
                t = T / (1 + 0.2 * M * M)
                mu = 1.716e-5 * (t / 273.15) ** 1.5 * 383.55 / (t + 110.4)
                re = 4 * m / np.pi / d / mu
                darcy = 0.25 / np.log10(s.roughness / 3.7 / d + 5.74 / re**0.9) ** 2  # another explicit fit
                p0 += sign * p0 * 0.7 * M * M * (darcy / d * s.length / n + s.bend_loss / n)
        return p0

    def passed(m):
        a = side.port[-1].area_end
        if inward:
            p0 = p
            for _ in range(30):
                M = mach(m, p0, a)
                p0 = p - pf.BENCH_ENTRY_LOSS * 0.7 * M * M * p0 / (1 + 0.2 * M * M) ** 3.5
            return area * orifice.psi((p - drop) / losses(m, p0, -1), 1.4) * losses(m, p0, -1) / np.sqrt(287.05 * T)
        lo, hi = 0.0, 1.0  # Mach number at the flange from static pressure
        for _ in range(60):
            M = 0.5 * (lo + hi)
            lo, hi = (M, hi) if a * p * np.sqrt(1.4 / 287.05 / T) * M * np.sqrt(1 + 0.2 * M * M) < m else (lo, M)
        p0 = losses(m, p * (1 + 0.2 * lo * lo) ** 3.5, 1)
        face = p0 / (1 + 0.2 * mach(m, p0, side.port[0].area_start) ** 2) ** 3.5
        return area * orifice.psi(face / (p + drop), 1.4) * (p + drop) / np.sqrt(287.05 * T)

    lo, hi = 0.0, 0.4
    for _ in range(40):
        mid = 0.5 * (lo + hi)
        lo, hi = (mid, hi) if passed(mid) > mid else (lo, mid)
    return lo / ((p if inward else p + drop) / 287.05 / T)


@pytest.mark.parametrize(("kind", "side"), SIDES)
def test_port_and_valve_give_the_sheet_back(kind, side):
    for lift, flow in zip(side.flow.lifts, side.flow.flows, strict=True):
        assert fs.bench_flow(side, kind, lift, DROP) == pytest.approx(flow, rel=1e-9)


@pytest.mark.parametrize(("kind", "side"), SIDES)
@pytest.mark.parametrize("direction", ["forward", "reverse"])
def test_bench_against_an_independent_reckoning(kind, side, direction):
    for lift in (LIFTS[1], LIFTS[4]):
        ours = fs.bench_flow(side, kind, lift, DROP, direction)
        assert ours == pytest.approx(flow_by_bisection(side, kind, lift, DROP, direction), rel=2e-3)


@pytest.mark.parametrize(("kind", "side"), SIDES)
def test_reverse_area_is_the_ratio_of_the_forward_area(kind, side):
    forward = fs.effective_area(side, LIFTS, kind)
    assert fs.effective_area(side, LIFTS, kind, "reverse") == pytest.approx(side.reverse_ratio * forward)


def test_the_port_takes_its_share_of_the_loss():
    bare = dataclasses.replace(INTAKE, port=tuple(dataclasses.replace(s, bend_loss=0.0) for s in PORT))
    lossy, free = fs.effective_area(INTAKE, LIFTS), fs.effective_area(bare, LIFTS)
    assert np.all(lossy > free)
    assert lossy[-1] / free[-1] > 1.03 > lossy[0] / free[0]


def test_pure_orifice_with_a_wide_port():
    """A port so wide that it loses nothing leaves the plain orifice: 100 CFM at 28 in of water."""
    wide = (Segment(0.05, 1.0, 1.0, roughness=0.0),)
    sheet = FlowSheet((0.005, 0.010), (100 * CFM, 150 * CFM), DROP, 288.706)
    side = dataclasses.replace(INTAKE, port=wide, flow=sheet)
    r = 1 - DROP / 101325.0
    expected = 100 * CFM * np.sqrt(101325.0 / (287.05 * 288.706)) / np.sqrt(101325.0)  # flow rho sqrt(RT)/p
    expected /= np.sqrt(7.0 * (r ** (2 / 1.4) - r ** (2.4 / 1.4)))
    assert fs.effective_area(side, 0.005) == pytest.approx(expected, rel=1e-6)
    assert expected == pytest.approx(459.10e-6, rel=1e-4)


@settings(deadline=None, max_examples=40)
@given(scale=st.floats(0.3, 1.5), lift=st.floats(0.0, 0.03), kind=st.sampled_from(["intake", "exhaust"]))
def test_area_is_bounded_and_never_falls_with_lift_on_a_rising_sheet(scale, lift, kind):
    side = dict(SIDES)[kind]
    sheet = dataclasses.replace(side.flow, flows=tuple(scale * f for f in side.flow.flows))
    area = fs.valve_area(dataclasses.replace(side, flow=sheet), kind)
    a, b = area.at([lift, lift + 1e-4])
    assert 0.0 <= a <= b * (1 + 1e-12) <= side.port[0].area_start
    assert area.at(0.0) == 0.0


def test_beyond_the_sheet_the_area_grows_only_up_to_the_throat():
    short = dataclasses.replace(INTAKE.flow, lifts=LIFTS[:3], flows=INTAKE.flow.flows[:3])
    area = fs.valve_area(dataclasses.replace(INTAKE, flow=short), "intake")
    a = area.at([LIFTS[2], LIFTS[2] * 1.1, 0.02, 0.03])
    assert a[1] == pytest.approx(1.1 * a[0], rel=1e-6)
    full = fs.throat_area(INTAKE) / fs.curtain_area(INTAKE, LIFTS[2])
    assert a[2] == a[3]
    assert a[2] == pytest.approx(min(full * a[0], fs.MAX_RATIO * PORT[0].area_start))


def test_a_port_too_small_for_its_sheet_is_a_finding():
    small = tuple(dataclasses.replace(s, area_start=0.9e-3, area_end=0.9e-3) for s in PORT)
    area = fs.valve_area(dataclasses.replace(INTAKE, port=small), "intake")
    assert area.findings
    assert "cannot pass" in area.findings[-1]
    assert "250 CFM" in area.findings[-1]
    assert max(area.areas) == pytest.approx(fs.MAX_RATIO * 0.9e-3)


def test_good_sheets_raise_no_finding():
    for kind, side in SIDES:
        assert fs.valve_area(side, kind).findings == ()


def test_without_a_sheet_the_coefficients_stand_in_with_low_confidence():
    side = dataclasses.replace(INTAKE, flow=None)
    area = fs.valve_area(side, "intake")
    assert area.basis == "discharge coefficients"
    assert "low confidence" in area.findings[0]
    cd = area.at(0.1 * side.diameter) / fs.curtain_area(side, 0.1 * side.diameter)
    assert cd == pytest.approx(0.70, abs=0.01)
    assert area.at(0.6 * side.diameter) <= fs.throat_area(side)


def test_two_valves_have_twice_the_area():
    one = dataclasses.replace(INTAKE, flow=None, port=(Segment(0.05, 4e-3, 4e-3),))
    two = dataclasses.replace(one, count=2)
    # not exactly: the loss of the port, taken out of both, weighs more with twice the flow
    assert fs.effective_area(two, LIFTS) == pytest.approx(2 * fs.effective_area(one, LIFTS), rel=0.01)


def test_area_over_crank_follows_the_lift_curve():
    lobe = Lobe(0.5 * INCH, (Duration(0.006 * INCH, 275.0), Duration(0.05 * INCH, 225.0)), 108.0, 1.5)
    for kind, side in SIDES:
        curve = valve_lift(lobe, kind)
        forward, reverse = fs.area_over_crank(side, curve)
        assert forward.shape == reverse.shape == (1441,)
        assert forward == pytest.approx(fs.effective_area(side, curve.lift_m, kind))
        assert reverse == pytest.approx(side.reverse_ratio * forward)
        assert np.array_equal(forward > 0, curve.lift_m > 0)


def test_discharge_coefficients_of_the_sheet_are_ordinary():
    curtain, throat = fs.discharge_coefficients(INTAKE)
    assert np.all((curtain > 0.3) & (curtain < 0.95))
    assert np.all(np.diff(throat) > 0)


@pytest.mark.parametrize(("change", "text"), [
    ({"lifts": LIFTS[:3]}, "3 lifts and 6 flows"),
    ({"lifts": (LIFTS[1], LIFTS[0], *LIFTS[2:])}, "do not rise"),
    ({"flows": (0.0, *INTAKE.flow.flows[1:])}, "every flow must be above zero"),
    ({"flows": (float("nan"), *INTAKE.flow.flows[1:])}, "no number"),
    ({"depression": 28.0 * 3386.4}, "benches run at"),
])
def test_bad_sheets_say_what_to_do(change, text):
    side = dataclasses.replace(INTAKE, flow=dataclasses.replace(INTAKE.flow, **change))
    with pytest.raises(InputError, match=text):
        fs.effective_area(side, LIFTS)


def test_unknown_kind_and_missing_sheet():
    with pytest.raises(InputError, match="give 'intake' or 'exhaust'"):
        fs.valve_area(INTAKE, "inlet")
    with pytest.raises(InputError, match="is not given"):
        fs.discharge_coefficients(dataclasses.replace(INTAKE, flow=None))


@pytest.mark.parametrize("ratio", [0.0, 0.3, 0.528, 0.53, 0.7, 0.9, 0.99, 1.0, 1.2])
def test_the_flow_function_is_that_of_the_solver(ratio):
    assert float(pf.psi(ratio)) == pytest.approx(orifice.psi(ratio, 1.4), rel=1e-14, abs=1e-15)


def test_subsonic_mach_number_inverts_the_mass_flow():
    m = np.array([1e-4, 0.05, 0.3, 0.7, 0.95, 0.999, 1.0])
    flow = 1e-3 * 1.2e5 * np.sqrt(1.4 / (287.05 * 300.0)) * m / (1 + 0.2 * m * m) ** 3
    assert pf.mach(flow, 1.2e5, 300.0, 1e-3) == pytest.approx(m, rel=1e-7)
    assert np.isnan(pf.mach(1.001 * flow[-1], 1.2e5, 300.0, 1e-3))


def test_constant_port_follows_fanno():
    """4fL*/D of the adiabatic pipe with friction (Shapiro) between the two ends, loss spread as K."""
    k = 0.8
    pipe = (Segment(0.3, 1e-3, 1e-3, roughness=0.0, bend_loss=k),)
    flow = 0.15
    total = float(pf.into_port(pipe, flow, 101325.0, 300.0, 0.0))
    m1, m2 = (float(pf.mach(flow, p0, 300.0, 1e-3)) for p0 in (101325.0, total))

    def fanno(m):
        return (1 - m * m) / (1.4 * m * m) + 6 / 7 * np.log(1.2 * m * m / (1 + 0.2 * m * m))

    t = 300.0 / (1 + 0.2 * m1 * m1)
    d = np.sqrt(4e-3 / np.pi)
    friction = float(pf.churchill(4 * flow / np.pi / d / pf.viscosity(t), 0.0)) * 0.3 / d
    assert fanno(m1) - fanno(m2) == pytest.approx(k + friction, rel=1e-3)


def test_flange_pressure_is_met_on_the_way_out():
    face, total = pf.out_of_port(PORT, 0.1, 101325.0, 300.0)
    lossless = (dataclasses.replace(s, bend_loss=0.0, roughness=0.0, length=1e-9) for s in PORT)
    face0, total0 = pf.out_of_port(tuple(lossless), 0.1, 101325.0, 300.0)
    assert total > total0
    assert pf.static(total0, pf.mach(0.1, total0, 300.0, PORT[-1].area_end)) == pytest.approx(101325.0, rel=1e-6)
    assert face0 < 101325.0 < total0
    assert face > face0


def test_depression_conversions():
    assert fs.depression_factor(15, 28) == pytest.approx((28 / 15) ** 0.5)
    compressible = fs.compressible_factor(15 * fs.INCH_WATER, 28 * fs.INCH_WATER)
    assert 1.33 < compressible < fs.depression_factor(15, 28)
    assert fs.compressible_factor(1.0, 4.0) == pytest.approx(2.0, rel=1e-4)
