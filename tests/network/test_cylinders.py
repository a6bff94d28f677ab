from dataclasses import replace

import numpy as np
import pytest

from engines import single, twin
from pullcast.card.engine import Cam, Duration
from pullcast.errors import InputError
from pullcast.gasdata.tables import gas_table
from pullcast.kernels import layout as L
from pullcast.network.cylinders import SEATED, closed_span, cylinder_arrays, lifts_at, timing_at, valve_areas

GAS = gas_table("petrol", 0.9)


def test_a_cam_that_never_lets_the_valves_shut_is_refused():
    engine = single()
    wild = replace(engine.cam.intake, durations=(Duration(1.5e-4, 460.0), Duration(1.27e-3, 420.0)))
    with pytest.raises(InputError, match=r"valves shut \d+ deg before firing TDC .*Check the cam card"):
        cylinder_arrays(replace(engine, cam=replace(engine.cam, intake=wild)), GAS, 3000.0)


def test_valves_open_where_the_cam_says():
    forward, _ = valve_areas(single(), 3000.0)
    intake, exhaust = forward
    middles = [np.flatnonzero(row > 0.999 * row.max()).mean() / 2 for row in forward]
    assert middles == pytest.approx([108.0, 610.0], abs=1)
    assert intake[2 * 360] == 0.0
    assert exhaust[2 * 360] == 0.0


def test_phasing_schedule_moves_the_lobes():
    engine = single()
    cam = Cam("c", engine.cam.intake, engine.cam.exhaust, phasing=((2000.0, 10.0, 0.0), (6000.0, 0.0, 8.0)))
    early, _ = lifts_at(replace(engine, cam=cam), 2000.0)
    late, exhaust = lifts_at(replace(engine, cam=cam), 6000.0)
    peaks = [c.angle_deg[c.lift_m.argmax()] for c in (early, late, exhaust)]
    assert peaks == pytest.approx([98.0, 108.0, 618.0], abs=0.5)


def test_timing_is_interpolated_over_speed():
    engine = single()
    burn = replace(engine.burn, timing="spark", table=((2000.0, 20.0), (4000.0, 30.0)))
    assert timing_at(replace(engine, burn=burn), 3000.0) == (1.0, pytest.approx(25.0))


def test_cylinders_start_with_plausible_gas_at_their_own_angle():
    state = cylinder_arrays(twin(), GAS, 3000.0).state
    assert (state[:, L.S_P] > 5e4).all()
    assert (state[:, L.S_T] > 280).all()
    assert (state[:, L.S_FUEL] + state[:, L.S_BURNED] <= state[:, L.S_M] + 1e-12).all()


def test_a_valve_that_counts_as_shut_passes_nothing():
    """Else what leaks through it while the cylinder is marched as closed is lost: 1e-7 of the air in a cycle."""
    forward, reverse = valve_areas(single(), 3000.0)
    assert not ((forward > 0) & (np.maximum(forward, reverse) <= SEATED)).any()
    closing, opening = closed_span(np.maximum(forward, reverse))
    shut = slice(round(2 * closing), round(2 * opening) + 1)
    assert (forward[:, shut] == 0).all()
    assert (reverse[:, shut] == 0).all()
