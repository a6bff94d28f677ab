"""The closed cycle marched again: the same as in the march it came from, and what may be changed in it."""

from dataclasses import replace

import numpy as np
import pytest

from engines import twin
from points import invented
from pullcast.errors import InputError
from pullcast.kernels import closed as C
from pullcast.kernels import layout as L
from pullcast.solve.charge import at_lambda, charge_between, charge_of, own_sparks, path, spark_loop
from pullcast.solve.lumped import settle_lumped


@pytest.fixture(scope="module")
def engine():
    return twin()


@pytest.fixture(scope="module")
def point(engine):
    return settle_lumped(engine, 3500.0)


@pytest.fixture(scope="module")
def charge(engine, point):
    return charge_of(engine, point)


def test_at_the_march_s_own_spark_the_march_comes_back(charge, point):
    own, out = own_sparks(charge, point.out[:, L.C_SPARK]), point.out
    assert own[:, C.R_P_MAX] == pytest.approx(out[:, L.C_P_MAX], rel=2e-3)
    assert own[:, C.R_KNOCK] == pytest.approx(out[:, L.C_KNOCK], rel=2e-2)  # steps differ; goes with exp(-3800 K/T)
    assert own[:, C.R_CA50] == pytest.approx(out[:, L.C_CA50], abs=0.05)
    assert own[:, C.R_BURNED] == pytest.approx(out[:, L.C_BURNED_MASS], rel=1e-3)
    assert own[:, C.R_T_OPEN] == pytest.approx(out[:, L.C_EVO_T], rel=3e-3)


def test_later_spark_burns_later_and_leaves_hotter(charge):
    r = spark_loop(charge, [10.0, 20.0, 30.0, 40.0])
    assert (np.diff(r[:, :, C.R_CA50], axis=0) < 0).all()
    assert (np.diff(r[:, :, C.R_P_MAX], axis=0) > 0).all()
    assert (np.diff(r[:, :, C.R_KNOCK], axis=0) > 0).all()
    assert (np.diff(r[:3, :, C.R_T_OPEN], axis=0) < 0).all()


def test_path_ends_where_the_loop_does(charge):
    rows, r = path(charge, 25.0, 2, step=1.0), spark_loop(charge, [25.0])[0, 1]
    assert rows[-1, C.K_WORK] == pytest.approx(r[C.R_WORK], rel=1e-9)
    assert rows[:, C.K_P].max() == pytest.approx(r[C.R_P_MAX], rel=1e-9)
    assert np.trapezoid(np.gradient(rows[:, C.K_X]), dx=1.0) == pytest.approx(0.9985, abs=0.01)


def test_same_lambda_changes_nothing(charge):
    same = at_lambda(charge, charge.engine.mixture.lambda_)
    assert same.trapped[:, L.S_M] == pytest.approx(charge.trapped[:, L.S_M], rel=1e-6)
    assert same.trapped[:, L.S_T] == pytest.approx(charge.trapped[:, L.S_T], rel=1e-9)


def test_leaner_holds_the_pressure_and_is_warmer(charge):
    lean = at_lambda(charge, 1.05)
    assert (lean.trapped[:, L.S_T] > charge.trapped[:, L.S_T]).all()
    assert lean.fuel < charge.fuel
    for s, t in zip(lean.trapped, charge.trapped, strict=True):
        air = [x[L.S_M] - x[L.S_FUEL] - x[L.S_BURNED] for x in (s, t)]
        assert air[0] / s[L.S_FUEL] / (air[1] / t[L.S_FUEL]) == pytest.approx(1.05 / 0.9, rel=1e-6)


def test_a_leaner_loop_agrees_with_a_march_of_its_own(engine, charge):
    """Closed work from a remixed charge against one trapped at that lambda: 1 % (breathing is reused)."""
    lean = replace(engine, mixture=replace(engine.mixture, lambda_=1.0))
    marched = spark_loop(charge_of(lean, settle_lumped(lean, 3500.0)), [28.0])
    assert spark_loop(at_lambda(charge, 1.0), [28.0])[:, :, C.R_WORK].sum() == pytest.approx(
        marched[:, :, C.R_WORK].sum(), rel=1e-2)


def test_between_marches_lies_what_was_marched(engine, charge):
    """At a marched lambda the charge of that march; between two, closer to a march of its own than from one alone."""
    def at(lam):
        other = replace(engine, mixture=replace(engine.mixture, lambda_=lam))
        return charge_of(other, settle_lumped(other, 3500.0))

    lean, middle = at(1.0), at(0.95)
    both = charge_between([charge, lean], 1.0)
    assert both.trapped[:, L.S_M] == pytest.approx(lean.trapped[:, L.S_M], rel=1e-9)
    assert both.trapped[:, [L.S_U, L.S_P]] == pytest.approx(lean.trapped[:, [L.S_U, L.S_P]], rel=1e-6)
    work = [spark_loop(c, [28.0])[:, :, C.R_WORK].sum()
            for c in (middle, charge_between([charge, lean], 0.95), at_lambda(charge, 0.95))]
    assert work[1] == pytest.approx(work[0], rel=2e-3)
    assert abs(work[1] - work[0]) < abs(work[2] - work[0])
    assert charge_between([charge], 1.0).trapped == pytest.approx(at_lambda(charge, 1.0).trapped, rel=1e-12)


def test_a_point_without_a_charge_is_refused(engine):
    with pytest.raises(InputError, match="3000 rpm does not hold what its cylinders trapped: march it again"):
        charge_of(engine, invented(out=np.zeros((2, L.C_COUNT))))
