"""Whole engines at lumped fidelity: books, repeatability, trends, against the wave model, named break-downs."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from engines import disc, single, twin
from pullcast.answers.fidelity import discrepancy
from pullcast.answers.performance import performance
from pullcast.card import read_engine
from pullcast.errors import InputError, SolveError
from pullcast.gasdata.tables import gas_table
from pullcast.kernels import layout as L
from pullcast.kernels import lumps as M
from pullcast.solve import lumped_run
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import settle
from pullcast.solve.sweep import settle_many, sweep

V8 = Path(__file__).parents[2] / "configs" / "engines" / "hillclimb_v8.toml"


def throttled(diameter):
    """The twin behind a throttle of another size."""
    engine = twin()
    pipes = tuple(
        replace(p, end=replace(p.end, area=disc(diameter) * 0.8)) if p.end.area else p for p in engine.intake.pipes)
    return replace(engine, intake=replace(engine.intake, pipes=pipes))


def ve(engine, rpm, march=settle_lumped):
    return performance(engine, march(engine, rpm))["volumetric_efficiency"]


@pytest.mark.parametrize("make", [single, twin])
@pytest.mark.parametrize("rpm", [1500.0, 4000.0, 6500.0])
def test_mass_and_energy_close(make, rpm):
    point = settle_lumped(make(), rpm)
    assert point.converged
    assert abs(point.mass_residual) < 1e-12
    assert abs(point.energy_residual) < 1e-12


def test_books_close_where_a_carburettor_sprays_into_air_that_blows_back_to_the_outside():
    point = settle_lumped(read_engine(V8.with_name("lab_single.toml")), 3000.0)
    assert abs(point.mass_residual) < 1e-12
    assert abs(point.energy_residual) < 1e-12


def test_equal_engines_give_equal_numbers_whatever_came_before():
    first = settle_lumped(twin(), 3000.0)
    settle_lumped(single(), 5000.0)
    settle_lumped(twin(), 6000.0)
    again = settle_lumped(twin(), 3000.0)
    assert np.array_equal(first.out, again.out)
    assert np.array_equal(first.books, again.books)


@pytest.mark.parametrize(("make", "rpm"), [(twin, 3500.0), (single, 2000.0), (single, 6500.0)])
def test_crank_step_hardly_matters(make, rpm):
    engine = make()
    fine = [Numerics(max_step_deg=s, tolerance=1e-5, max_cycles=60) for s in (1.0, 0.125)]
    torque = [performance(engine, settle_lumped(engine, rpm, n))["torque"] for n in fine]
    assert torque[0] == pytest.approx(torque[1], rel=0.005)


def test_more_cycles_do_not_change_the_answer():
    engine = twin()
    loose = performance(engine, settle_lumped(engine, 3500.0))["torque"]
    tight = performance(engine, settle_lumped(engine, 3500.0, Numerics(tolerance=1e-6, max_cycles=100)))["torque"]
    assert loose == pytest.approx(tight, rel=0.003)


def test_low_speed_airflow_agrees_with_the_wave_model():
    # what is left at these speeds is the ringing of the exhaust, which a wave has and one lump has otherwise
    for engine in (single(), twin()):
        assert ve(engine, 1000.0) == pytest.approx(ve(engine, 1000.0, settle), rel=0.07), engine.name


def test_smaller_throttle_costs_progressively_with_speed():
    speeds = (1500.0, 3000.0, 4500.0, 6000.0)
    engines = throttled(0.030), throttled(0.046)
    small, large = ([performance(e, settle_lumped(e, rpm)) for rpm in speeds] for e in engines)
    drop = [a["plenum_pressure"] - b["plenum_pressure"] for a, b in zip(large, small, strict=True)]
    assert all(b > a for a, b in pairwise(drop)), drop
    assert drop[-1] > 4 * drop[0]
    cost = [1 - b["volumetric_efficiency"] / a["volumetric_efficiency"] for a, b in zip(large, small, strict=True)]
    assert abs(cost[0]) < 0.005
    assert min(cost[2:]) > cost[1] > cost[0]
    assert cost[-1] > 0.05


def test_longer_runner_moves_inertia_ram_down():
    def runners(factor):
        engine = twin()
        pipes = tuple(replace(p, segments=tuple(replace(s, length=s.length * factor) for s in p.segments))
                      if p.name.startswith("runner") else p for p in engine.intake.pipes)
        return replace(engine, intake=replace(engine.intake, pipes=pipes))

    low, high = ([ve(runners(f), rpm) for f in (1.0, 2.5)] for rpm in (3500.0, 6500.0))
    assert low[1] > low[0]
    assert high[1] < high[0]


def test_thin_air_scales_the_trapped_mass():
    engine = single()
    thin = replace(engine, day=replace(engine.day, pressure=0.8 * engine.day.pressure))
    full, part = settle_lumped(engine, 3000.0), settle_lumped(thin, 3000.0)
    assert part.books[L.B_AIR_IN] / full.books[L.B_AIR_IN] == pytest.approx(0.8, rel=0.02)


def test_fuel_follows_the_mixture():
    for preparation in ("port", "direct", "carburettor"):
        engine = single()
        engine = replace(engine, mixture=replace(engine.mixture, preparation=preparation))
        point = settle_lumped(engine, 3000.0, Numerics(tolerance=1e-5, max_cycles=60))
        row = performance(engine, point)
        ratio = gas_table("petrol", 0.9, 0.006).mix[2]
        assert row["airflow"] / row["fuel_flow"] == pytest.approx(ratio, rel=0.01), preparation


def test_traces_and_stations():
    point = settle_lumped(single(), 3000.0, traces=True, stations=(("inlet", 0.1),))
    assert point.trace.shape == (1, L.T_COUNT, 720)
    assert point.trace[0, L.T_P].max() == pytest.approx(point.out[0, L.C_P_MAX], rel=0.01)
    net = point.trace[0, L.T_INTAKE_FLOW].sum() / (6 * 3000.0)
    assert net == pytest.approx(point.books[L.B_AIR_IN], rel=0.05)
    assert 0.5e5 < point.probes[0, 1].min() < point.probes[0, 1].max() < 2e5
    with pytest.raises(InputError, match="no pipe 'nowhere' to record in; the pipes are: inlet"):
        settle_lumped(single(), 3000.0, traces=True, stations=(("nowhere", 0.1),))


@pytest.mark.parametrize(("spoil", "where"), [
    (lambda x: x.store[M.X_M].__setitem__(-1, -1.0),
     "a volume of gas ran empty at 3000 rpm, 0.0 deg crank, in pipe 'outlet'"),
    (lambda x: x.state[0].__setitem__(L.S_M, -1.0), "the cylinder state left the range of a gas .* in cylinder 1"),
])
def test_break_down_names_speed_angle_and_component(monkeypatch, spoil, where):
    run = lumped_run.prepare_lumped(single(), 3000.0)
    spoil(run.lump)
    monkeypatch.setattr(lumped_run, "prepare_lumped", lambda *_: run)
    with pytest.raises(SolveError, match=where):
        settle_lumped(single(), 3000.0)


def test_not_converged_says_so():
    point = settle_lumped(twin(), 3000.0, Numerics(tolerance=1e-14, max_cycles=4))
    assert not point.converged
    assert "not converged after 4 cycles" in point.status


def test_sweep_switches_and_refuses():
    engine = single()
    lumped = sweep(engine, [2000.0, 4000.0], workers=2, fidelity="lumped")
    assert [p.rpm for p in lumped] == [2000.0, 4000.0]
    assert np.array_equal(lumped[1].books, settle_lumped(engine, 4000.0).books)
    with pytest.raises(InputError, match="no fidelity 'waves'; there are 'wave' and 'lumped'"):
        sweep(engine, [2000.0], fidelity="waves")


def test_many_points_are_bit_for_bit_those_of_one():
    engines, speeds = [single(), twin(), single()], [2000.0, 3000.0, 4000.0]
    together = settle_many(engines, speeds, workers=2)
    alone = [settle_lumped(e, rpm) for e, rpm in zip(engines, speeds, strict=True)]
    for a, b in zip(together, alone, strict=True):
        assert np.array_equal(a.out, b.out, equal_nan=True)
        assert np.array_equal(a.books, b.books)
        assert a.history == b.history


def test_many_points_need_a_speed_each():
    with pytest.raises(InputError, match="2 engines but 1 speeds; give one speed for each engine"):
        settle_many([single(), twin()], [2000.0])


def test_a_step_between_two_pipes_still_has_a_pressure():
    point = settle_lumped(read_engine(V8), 3000.0, Numerics(max_cycles=3))
    assert 0.9e5 < point.junction_pressure["primary 1 step 1"] < 2e5


def test_traces_in_long_steps_pass_through_those_in_short_ones():
    long, short = (settle_lumped(single(), 3000.0, Numerics(max_step_deg=s), traces=True).trace[0, L.T_P]
                   for s in (1.0, 0.25))
    assert np.abs(long / short - 1).max() < 0.05


def test_discrepancy_is_lumped_minus_wave():
    engine, numerics = single(), Numerics(cell=0.04)
    found = discrepancy(engine, [2000.0, 5000.0], numerics=numerics, workers=1)
    wave = performance(engine, settle(engine, 2000.0, numerics))["torque"]
    lumped = performance(engine, settle_lumped(engine, 2000.0, numerics))["torque"]
    assert found.torque[0] == pytest.approx(lumped - wave, rel=1e-9)
    assert found.rms >= abs(found.relative).min()
    assert abs(found.worst[1]) == pytest.approx(abs(found.relative).max())
    assert "The lumped model sees restriction and inertia ram, no waves." in repr(found)
