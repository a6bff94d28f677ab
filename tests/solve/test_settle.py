"""The whole solver on small engines: it repeats, closes its books, and says what broke."""

from dataclasses import replace

import numpy as np
import pytest

from engines import single, twin
from points import invented
from pullcast.errors import InputError, SolveError
from pullcast.kernels import layout as L
from pullcast.solve import settle as settling
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import _left, settle
from pullcast.solve.sweep import Failed, sweep

QUICK = Numerics(cell=0.03)


def work(point):
    return float((point.out[:, L.C_WORK_GROSS] + point.out[:, L.C_WORK_PUMP]).sum())


@pytest.fixture(scope="module")
def point():
    return settle(twin(), 4000.0, QUICK, traces=True, stations=(("runner 1", 0.05),))


def test_it_converges_and_closes_its_books(point):
    assert point.converged
    assert point.cycles <= 8
    assert abs(point.mass_residual) < 1e-10
    assert abs(point.energy_residual) < 1e-6


def test_cylinders_of_an_even_twin_are_alike(point):
    assert point.out[0, L.C_TRAPPED] == pytest.approx(point.out[1, L.C_TRAPPED], rel=5e-3)


def test_traces_are_filled_and_periodic(point):
    pressure = point.trace[0, L.T_P]
    assert (pressure > 1e4).all()
    assert 355 < pressure.argmax() < 390
    assert abs(pressure[0] - pressure[-1]) < 0.1 * pressure[0]
    assert (point.probes[0, 1] > 5e4).all()


def test_same_answer_again_and_in_another_process(point):
    again = settle(twin(), 4000.0, QUICK)
    assert work(again) == work(point)
    there = sweep(twin(), [3000.0, 4000.0], QUICK, workers=2)
    assert work(there[1]) == work(point)
    assert [p.rpm for p in there] == [3000.0, 4000.0]


def test_more_throttle_more_air():
    engine = twin()
    *runners, throttle = engine.intake.pipes
    nearly_shut = replace(throttle, end=replace(throttle.end, area=throttle.end.area * 0.12))
    shut = replace(engine.intake, pipes=(*runners, nearly_shut))
    small = settle(replace(engine, intake=shut), 4000.0, QUICK)
    assert small.books[L.B_AIR_IN] < 0.8 * settle(engine, 4000.0, QUICK).books[L.B_AIR_IN]
    assert small.node_pressure["plenum"] < 0.95e5


def test_not_converged_says_what_still_changes():
    p = settle(single(), 3000.0, replace(QUICK, max_cycles=2, min_cycles=2))
    assert not p.converged
    assert "not converged after 2 cycles" in p.status
    assert "% a cycle" in p.status


def test_breakdown_names_speed_angle_component(monkeypatch):
    from pullcast.solve import cycle

    real = cycle.prepare

    def poisoned(engine, rpm, numerics):
        running = real(engine, rpm, numerics)
        running.model.flow.rho[running.names.cell_at("outlet", 0.3)] = np.nan
        return running

    monkeypatch.setattr("pullcast.solve.settle.prepare", poisoned)
    with pytest.raises(SolveError, match=r"at 3000 rpm, 0.0 deg crank, in pipe 'outlet', \d+ mm from its start"):
        settle(single(), 3000.0, QUICK)
    failed = sweep(single(), [3000.0], QUICK, workers=1)
    assert isinstance(failed[0], Failed)


@pytest.mark.parametrize(("setting", "text"), [
    ({"cell": 0.0001}, "cell length 0.1 mm is outside"), ({"cfl": 1.5}, "cfl 1.5 is outside")])
def test_useless_settings_are_refused(setting, text):
    with pytest.raises(InputError, match=text):
        Numerics(**setting)


def test_a_cycle_that_alternates_is_seen_and_averaged(monkeypatch):
    """Works and masses that jump to and fro every cycle: accepted as repeating every second cycle, the mean given."""
    from pullcast.solve import settle as module

    real, count = module.run_cycle, [0]

    def alternating(running, numerics, trace=None, probes=None):
        steps = real(running, numerics, trace, probes)
        count[0] += 1
        running.model.cylinders.out[:, L.C_TRAPPED] *= 1.05 if count[0] % 2 else 0.95
        return steps

    monkeypatch.setattr(module, "run_cycle", alternating)
    p = settle(single(), 4000.0, QUICK)
    plain_trapped = 0.5 * (p.history[-1][1] + p.history[-2][1])
    assert p.converged
    assert p.period == 2
    assert p.out[:, L.C_TRAPPED].sum() == pytest.approx(plain_trapped)


def test_a_shrinking_sequence_is_judged_by_what_is_left_of_it():
    inf = float("inf")
    assert _left([inf, 0.1, 0.01, 0.001]) == pytest.approx(0.001 / 9)  # the whole tail of 0.1^n
    assert _left([inf, 0.1, 0.04, 0.001]) == pytest.approx(0.001 * 0.4 / 0.6)  # the slower ratio counts
    assert _left([inf, 0.1, 0.06, 0.02]) == 0.02  # a change that did not halve promises nothing
    assert _left([inf, 0.1, 0.001]) == 0.001  # nor does the start
    assert _left([inf]) == inf


class Frail:
    """A march that breaks down above a Courant number, and remembers what it was asked."""

    def __init__(self, bears):
        self.bears, self.asked = bears, []

    def __call__(self, engine, rpm, numerics, traces, stations):
        self.asked.append((numerics.cfl, numerics.max_step_deg))
        if numerics.cfl > self.bears:
            raise SolveError("pressure left the range of a gas", rpm=rpm, angle_deg=12.0, component="a pipe")
        return invented(rpm)


@pytest.mark.parametrize(("bears", "tries", "words"), [(0.8, 1, ""), (0.5, 2, "half the usual"), (0.25, 3,
                                                                                                  "a quarter of")])
def test_what_breaks_down_is_marched_at_smaller_steps(monkeypatch, bears, tries, words):
    frail = Frail(bears)
    monkeypatch.setattr(settling, "_march", frail)
    point = settle(single(), 3000.0, QUICK)
    assert frail.asked == [(0.8, 1.0), (0.4, 0.5), (0.2, 0.25)][:tries]
    assert point.converged
    assert words in point.remedy
    assert bool(point.remedy) == (tries > 1)
    if tries > 1:
        assert "pressure left the range of a gas at 3000 rpm" in point.remedy


def test_what_breaks_down_at_every_step_says_so(monkeypatch):
    monkeypatch.setattr(settling, "_march", Frail(0.1))
    with pytest.raises(SolveError, match=r"at 3000 rpm, 12\.0 deg crank, in a pipe; it does so at half and"):
        settle(single(), 3000.0, QUICK)
