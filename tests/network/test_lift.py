import dataclasses

import numpy as np
import pytest

from pullcast.card.engine import Duration, Lobe
from pullcast.errors import InputError
from pullcast.network.lift import flat_tappet_velocity_limit, float_speed, tappet_velocity, valve_lift

INCH = 0.0254
CARD = Lobe(0.595 * INCH, (Duration(0.006 * INCH, 277.0), Duration(0.05 * INCH, 219.0)), 107.5, 1.7)
SOLID = dataclasses.replace(CARD, lash=0.02 * INCH)


def bump(width=120.0, lift=0.010, rows=49):
    """A smooth measured table: half a squared cosine period."""
    at = np.linspace(-width, width, rows)
    return tuple((float(a), float(lift * np.cos(np.pi / 2 * a / width) ** 4)) for a in at)


def test_durations_events_and_lift():
    curve = valve_lift(CARD, "intake")
    assert curve.angle_deg.shape == curve.lift_m.shape == (1441,)
    assert curve.max_lift == pytest.approx(0.595 * INCH, rel=1e-9)
    assert curve.duration_at(0.05 * INCH * 1.7) == pytest.approx(219.0, abs=0.2)
    assert curve.duration_at(0.006 * INCH * 1.7) == pytest.approx(277.0, abs=1.0)
    opening, closing = curve.events_at(0.05 * INCH * 1.7)
    assert (opening, closing) == pytest.approx((720 + 107.5 - 109.5, 720 + 107.5 + 109.5), abs=0.1)


def test_peaks_stand_at_the_centrelines():
    for side, peak in (("intake", 107.5), ("exhaust", 612.5)):
        curve = valve_lift(CARD, side)
        assert curve.angle_deg[np.argmax(curve.lift_m)] == peak


def test_periodic_and_closed_outside_the_seat_events():
    curve = valve_lift(CARD, "exhaust")
    assert curve.lift_m[0] == curve.lift_m[-1] > 0.0
    shut = (curve.angle_deg > curve.closing_deg) & (curve.angle_deg < curve.opening_deg)
    assert np.all(curve.lift_m[shut] == 0.0)
    assert np.all(curve.lift_m >= 0.0)
    assert curve.open_deg == pytest.approx(0.5 * np.count_nonzero(curve.lift_m[:-1]), abs=1.0)


def test_lash_shortens_the_valve_event_but_not_the_tappet_duration():
    tight, slack = valve_lift(CARD, "intake"), valve_lift(SOLID, "intake")
    assert slack.open_deg < tight.open_deg - 5.0
    assert slack.max_lift == pytest.approx(CARD.lift)
    valve_level = 0.05 * INCH * 1.7 - SOLID.lash
    assert slack.duration_at(valve_level) == pytest.approx(219.0, abs=0.2)


def test_estimate_is_noted():
    curve = valve_lift(dataclasses.replace(CARD, durations=CARD.durations[1:]), "intake")
    assert "estimated" in curve.notes[0]
    assert len(curve.estimated) == 1


def test_measured_table_is_followed():
    card = Lobe(0.010, (), 104.0, table=bump())
    curve = valve_lift(card, "exhaust")
    offset = curve.angle_deg - 616.0
    inside = np.abs(offset) < 104.0  # the sampled range this side of the cycle's end
    exact = 0.010 * np.cos(np.pi / 2 * offset[inside] / 120.0) ** 4
    assert np.abs(curve.lift_m[inside] - exact).max() < 1e-6
    assert curve.duration_at(0.001) == pytest.approx(2 * 120 * 2 / np.pi * np.arccos(0.1**0.25), abs=0.1)


def test_rough_table_stays_monotone():
    table = tuple((a, round(1e3 * y, 0) / 1e3) for a, y in bump(lift=0.008, rows=25))
    curve = valve_lift(Lobe(0.008, (), 104.0, table=table), "intake")
    top = int(np.argmax(curve.lift_m))
    assert np.all(np.diff(curve.lift_m[top:top + 240]) <= 1e-15)
    assert any("not to be trusted" in n for n in curve.notes)


@pytest.mark.parametrize(("change", "text"), [
    (lambda t: t[5:], "must start and end at zero lift"),
    (lambda t: t[:4], "at least 7"),
    (lambda t: t[:20] + t[19:18:-1] + t[20:], "do not rise"),
    (lambda t: ((t[0][0], -1e-3), *t[1:]), "below zero"),
    (lambda t: tuple((a, y * (1.0 - 0.9 * (abs(a) < 20))) for a, y in t), "3 peaks"),
    (lambda t: tuple((a, 25.4 * y) for a, y in t), "but the card gives 10 mm"),
    (lambda t: ((t[0][0], float("nan")), *t[1:]), "no number"),
])
def test_bad_tables_say_what_to_do(change, text):
    with pytest.raises(InputError, match=text):
        valve_lift(Lobe(0.010, (), 104.0, table=tuple(change(bump()))), "intake")


def test_table_longer_than_a_cycle():
    with pytest.raises(InputError, match="of a 720 deg cycle"):
        valve_lift(Lobe(0.010, (), 104.0, table=bump(width=420.0, rows=101)), "intake")


def test_unknown_side():
    with pytest.raises(InputError, match="give 'intake' or 'exhaust'"):
        valve_lift(CARD, "inlet")


def test_flat_tappet_limit_against_the_curve():
    limit = flat_tappet_velocity_limit(0.842 * INCH)
    assert limit == pytest.approx(0.421 * INCH * np.pi / 180)
    curve = valve_lift(CARD, "intake")
    fastest = np.abs(np.diff(curve.lift_m)).max() / 0.25 / 1.7  # 0.5 crank deg are 0.25 cam deg
    assert tappet_velocity(CARD) == pytest.approx(fastest, rel=2e-3)


def test_float_speed_of_a_harmonic_lift():
    # lift h cos^2 about the peak: deceleration 2 h (pi/2w)^2 at the top, where the spring gives preload + rate h
    table = tuple((float(a), float(0.010 * np.cos(np.pi / 2 * a / 120.0) ** 2)) for a in np.linspace(-120, 120, 97))
    curve = valve_lift(Lobe(0.010, (), 104.0, table=table), "intake")
    peak = 2 * 0.010 * (np.pi / 240.0) ** 2
    expected = np.sqrt((300.0 + 30000.0 * 0.010) / (0.12 * peak)) / 6.0
    got = float_speed(curve, mass=0.12, preload=300.0, rate=30000.0)
    assert got == pytest.approx(expected, rel=0.01)
    assert float_speed(curve, mass=0.48, preload=300.0, rate=30000.0) == pytest.approx(got / 2)


def test_float_speed_refuses_no_mass():
    with pytest.raises(InputError, match="mass and preload must be above zero"):
        float_speed(valve_lift(CARD, "intake"), mass=0.0, preload=300.0, rate=1e4)


def test_repr_reads_like_a_cam_card():
    assert "15.11 mm" in repr(valve_lift(CARD, "intake"))


def test_dial_noise_on_the_base_circle_is_no_lift():
    noise = tuple((float(a), 5e-7 * (k % 2)) for k, a in enumerate(range(-160, -120, 5)))
    rest = tuple((-a, y) for a, y in reversed(noise))
    quiet, noisy = (valve_lift(Lobe(0.010, (), 104.0, table=t), "intake") for t in (bump(), noise + bump() + rest))
    assert noisy.open_deg == pytest.approx(quiet.open_deg, abs=0.01)
    assert noisy.lift_m == pytest.approx(quiet.lift_m, abs=1e-9)
