import numpy as np
import pytest

from pullcast.show.lab.bench import Bench, set_up
from pullcast.show.lab.readings import (
    ANGLES,
    Curve,
    curve_of,
    cycle_of,
    shown_speed,
    speeds_of,
    stations_of,
    wave_jobs,
)
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.sweep import Failed


@pytest.fixture(scope="module")
def engine(shelf):
    return set_up(Bench("engines/lab_single.toml"), shelf).engine


@pytest.fixture(scope="module")
def point(engine):
    return settle_lumped(engine, 2400.0, traces=True)


def test_speeds_span_the_cards_range(engine):
    speeds = speeds_of(engine)
    assert (len(speeds), speeds[0], speeds[-1]) == (12, 1200.0, 3600.0)
    assert (np.diff(speeds) > 0).all()


def test_the_speed_shown_stays_in_range(engine):
    assert [shown_speed(engine, v) for v in (None, 10.0, 1e6, 2000.0)] == [2400.0, 1200.0, 3600.0, 2000.0]


@pytest.mark.parametrize("reference", ["engines/hillclimb_v8.toml", "engines/touring_six.toml",
                                       "engines/vintage_twin.toml", "engines/lab_single.toml"])
def test_stations_run_from_the_mouth_to_the_valve(shelf, reference):
    engine = set_up(Bench(reference), shelf).engine
    stations = stations_of(engine)
    at = [s.at for s in stations]
    assert at == sorted(at)
    port = sum(s.length for s in engine.head.intake.port)
    runner = next(p for p in engine.intake.pipes if p.end.node == f"port {engine.block.firing_order[0]}")
    assert at[0] + at[-1] == pytest.approx(port + runner.length, rel=0.02)


def test_the_cycle_looked_at_is_marched_first(engine):
    jobs = wave_jobs(engine, 2000.0)
    assert (jobs[0].rpm, jobs[0].traces, len(jobs)) == (2000.0, True, 13)
    assert {j.rpm for j in jobs[1:]} == set(speeds_of(engine))


def test_a_curve_with_gaps_says_where_and_why(engine, point):
    curve = curve_of(engine, {2400.0: point, 3000.0: Failed(3000.0, "it broke")}, (1200.0, 2400.0, 3000.0))
    torque = curve.column("torque")
    assert np.isfinite(torque).tolist() == [False, True, False]
    assert curve.troubles == ("3000 rpm: it broke",)
    assert curve.peak("torque") == (torque[1], 2400.0)
    assert curve.at("torque", 1234.0) == torque[1]
    assert np.isnan(curve.column("nothing")).all()
    assert curve_of(engine, {}, (1000.0, 2000.0)).peak("torque") is None


def test_of_what_limits_the_worst_cylinder_counts(shelf):
    engine = set_up(Bench("engines/vintage_twin.toml"), shelf).engine
    marched = settle_lumped(engine, 3000.0)
    from pullcast.answers.performance import performance

    each = performance(engine, marched)["knock_integral"]
    curve = curve_of(engine, {3000.0: marched}, (3000.0,))
    assert curve.column("knock_integral")[0] == each.max()


def test_a_cycle_runs_from_firing_to_firing_with_its_volume(engine, point):
    cycle = cycle_of(engine, point, "lumped")
    assert (ANGLES[0], ANGLES[-1]) == (360, 1080)
    b = engine.block
    assert cycle.volume.max() / cycle.volume.min() == pytest.approx(b.compression_ratio, rel=1e-6)
    assert cycle.volume.min() == pytest.approx(b.clearance_volume)
    assert cycle.traces["intake_lift"].max() == pytest.approx(engine.cam.intake.lift, rel=1e-3)
    at = ANGLES[int(np.argmax(cycle.traces["intake_lift"]))] % 720
    assert at == pytest.approx(engine.cam.intake.centreline_deg, abs=1.0)
    assert cycle.along.size == 0


def test_a_curve_is_read_between_speeds_on_a_straight_line():
    curve = Curve(np.array([1000.0, 2000.0]), {"torque": np.array([10.0, 20.0])})
    assert curve.at("torque", 1500.0) == 15.0
