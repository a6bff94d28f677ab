"""Lumped points side by side: what a lane gives does not hang on what is beside it."""

from dataclasses import replace

import numpy as np
import pytest

from engines import single, twin
from pullcast.errors import InputError, SolveError
from pullcast.kernels import layout as L
from pullcast.kernels.lanes import WIDTH
from pullcast.solve import lumped_run
from pullcast.solve.abreast import Waiting, abreast
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.numerics import Numerics
from pullcast.solve.sweep import Failed, settle_many, sweep


def same(a, b):
    return (np.array_equal(a.out, b.out, equal_nan=True) and np.array_equal(a.books, b.books)
            and a.history == b.history and a.steps == b.steps)


def compressed(ratio):
    engine = single()
    return replace(engine, block=replace(engine.block, compression_ratio=ratio))


def test_more_points_than_lanes_are_bit_for_bit_those_of_one():
    engines = [compressed(8.0 + 0.2 * k) for k in range(WIDTH + 3)]
    speeds = [1500.0 + 450.0 * k for k in range(WIDTH + 3)]
    by_one, by_two = (settle_many(engines, speeds, workers=w) for w in (1, 2))
    for k in (0, 3, WIDTH - 1, WIDTH, WIDTH + 2):
        assert same(by_one[k], settle_lumped(engines[k], speeds[k])), k
    assert all(same(a, b) for a, b in zip(by_one, by_two, strict=True))
    assert len({p.cycles for p in by_one}) > 1  # lanes stop each by its own convergence


def test_topologies_and_gases_mix():
    lean = single()
    lean = replace(lean, mixture=replace(lean.mixture, lambda_=1.0))
    engines = [twin(), single(), lean, twin()]
    found = settle_many(engines, [3000.0] * 4, workers=1)
    assert same(found[0], found[3])
    assert all(same(point, settle_lumped(e, 3000.0)) for e, point in zip(engines[:3], found[:3], strict=True))


def test_a_flame_or_another_wall_law_in_a_lane_is_that_of_one():
    base = single()
    others = [replace(base, walls=replace(base.walls, model=m)) for m in ("woschni", "annand")]
    flame = replace(base, burn=replace(base.burn, law="flame", chamber="flat"))
    engines = [base, *others, flame, flame]
    found = settle_many(engines, [2500.0, 2500.0, 2500.0, 2500.0, 4000.0], workers=1)
    work = [p.history[-1][2] for p in found]
    assert len({round(w, 3) for w in work}) == 5
    assert same(found[4], settle_lumped(flame, 4000.0))


def test_a_lane_that_breaks_down_leaves_the_others_alone(monkeypatch):
    prepare = lumped_run.prepare_lumped

    def spoiled(engine, rpm):
        run = prepare(engine, rpm)
        if rpm == 3000.0:
            state = run.lump.state.copy()
            state[0, L.S_M] = -1.0
            run = replace(run, lump=run.lump._replace(state=state))
        return run

    monkeypatch.setattr(lumped_run, "prepare_lumped", spoiled)
    found = sweep(single(), [2000.0, 3000.0, 4000.0], fidelity="lumped", workers=1)
    assert isinstance(found[1], Failed)
    assert "the cylinder state left the range of a gas at 3000 rpm" in found[1].message
    monkeypatch.undo()
    assert same(found[0], settle_lumped(single(), 2000.0))
    assert same(found[2], settle_lumped(single(), 4000.0))
    monkeypatch.setattr(lumped_run, "prepare_lumped", spoiled)
    with pytest.raises(SolveError, match="3000 rpm"):
        settle_lumped(single(), 3000.0)


def test_traces_of_a_lane_are_those_of_one():
    both = sweep(single(), [2000.0, 3500.0], fidelity="lumped", workers=1, traces=True, stations=(("inlet", 0.1),))
    alone = settle_lumped(single(), 3500.0, traces=True, stations=(("inlet", 0.1),))
    assert np.array_equal(both[1].trace, alone.trace)
    assert np.array_equal(both[1].probes, alone.probes)
    assert not np.array_equal(both[0].trace, alone.trace)


def test_waiting_points_come_slowest_first_and_only_beside_their_like():
    waiting = Waiting([single(), twin(), single()], [4000.0, 2000.0, 3000.0])
    index, run = waiting.take()
    assert (index, run.rpm) == (1, 2000.0)
    assert waiting.take(run.lump) is None
    assert [waiting.take()[0] for _ in range(2)] == [2, 0]
    assert waiting.take() is None


def test_what_is_begun_can_be_left():
    points = abreast([single()] * 20, list(np.linspace(2000.0, 5000.0, 20)), Numerics(max_cycles=3), workers=2)
    assert next(points)[1].rpm >= 2000.0
    points.close()


def test_an_error_in_a_thread_is_raised():
    with pytest.raises(InputError, match="no pipe 'nowhere'"):
        list(abreast([single()] * 12, [3000.0] * 12, workers=2, traces=True, stations=(("nowhere", 0.1),)))
