import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engines import single
from pullcast.answers.convergence import ErrorBar, error_bar, finer, richardson
from pullcast.answers.curves import predict
from pullcast.errors import InputError
from pullcast.solve.numerics import Numerics


@given(st.floats(-1e3, 1e3), st.floats(-10.0, 10.0), st.sampled_from([1.0, 1.5, 2.0]))
def test_richardson_finds_the_error_of_a_power_law(limit, error, order):
    assert richardson(limit + error, limit + error / 2**order, order) == pytest.approx(error, abs=1e-9)


@pytest.fixture(scope="module")
def coarse():
    return error_bar(single(), [2500, 4500], numerics=Numerics(cell=0.05), workers=1)


def test_the_bar_reaches_a_much_finer_march(coarse):
    fine = Numerics(cell=0.0125, cfl=0.4, max_step_deg=0.5, tolerance=1e-4)
    best = predict(single(), speeds=[2500, 4500], numerics=fine, workers=1).dataset["torque"].values
    assert (np.abs(coarse.torque - best) < coarse.total).all()
    assert (coarse.relative < 0.03).all()


def test_finer_cells_have_a_smaller_bar(coarse):
    fine = error_bar(single(), [2500, 4500], numerics=Numerics(cell=0.0125), workers=1)
    assert np.abs(fine.grid).sum() < 0.6 * np.abs(coarse.grid).sum()


def test_each_march_takes_one_limit_closer():
    base, closer = Numerics(), finer(Numerics())
    assert closer["grid"].cell == base.cell / 2
    assert closer["grid"].cfl == base.cfl
    assert closer["time"].cfl == base.cfl / 2
    assert closer["time"].max_step_deg == base.max_step_deg / 2
    assert closer["cycles"].tolerance == base.tolerance / 10
    with pytest.raises(InputError, match=r"cells of 3 mm cannot be halved; the error bar needs 4 mm or more"):
        finer(Numerics(cell=0.003))


def test_a_march_that_does_not_converge_leaves_a_gap_and_a_note():
    bar = error_bar(single(), [3000], numerics=Numerics(cell=0.05, tolerance=1e-13, max_cycles=4), workers=1)
    assert np.isnan(bar.total).all()
    assert np.isnan(bar.worst[1])
    assert any("march for base: not converged" in note for note in bar.notes)


def test_progress_counts_all_marches():
    seen = []
    error_bar(single(), [3000], numerics=Numerics(cell=0.1), workers=1, on_point=lambda *a: seen.append(a[1:3]))
    assert seen[-1] == (4, 4)
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)


def test_told_in_percent():
    bar = ErrorBar("club single", np.array([3000.0]), np.array([50.0]), np.array([0.1]), np.array([-0.05]),
                   np.array([0.0]), ("a note",))
    assert bar.records() == [pytest.approx({"speed_rpm": 3000.0, "torque_error_pct": 0.3, "cells_pct": 0.2,
                                            "steps_pct": -0.1, "cycles_pct": 0.0})]
    text = repr(bar)
    assert text.startswith("club single: numerical error of torque within 0.30 % (at 3000 rpm)")
    assert "cells +0.20   steps -0.10   cycles +0.00 %" in text
    assert text.endswith("a note")
