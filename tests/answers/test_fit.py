"""The fit on a model of closed form: recovery, coverage, bounds, and what is not identifiable."""

import numpy as np
import pytest

from pullcast.answers.fit import Errors, fit
from pullcast.answers.unknowns import Prior

RPM = np.array([2500.0, 3100.0, 3700.0, 4300.0, 4900.0, 5500.0])
X = (RPM - 4000.0) / 1500.0
ERRORS = Errors(np.full(6, 0.002), 0.004, 0.003)


class Shape:
    """A curve with three unknowns, the last two with nearly the same effect; mildly nonlinear."""

    def __init__(self, bounds=3.0):
        self.speeds = tuple(RPM)
        self.priors = tuple(Prior(k, v, s, v - bounds * s, v + bounds * s, "test") for k, v, s in (
            ("friction.factor", 1.0, 0.1), ("head.flow_factor", 1.0, 0.035), ("walls.factor", 1.0, 0.15)))

    def torque(self, rows):
        rows = np.asarray(rows, float)
        a, b, c = (rows[:, i, None] for i in range(3))
        return (420.0 - 40.0 * X**2) * b**0.8 * np.exp(0.03 * X * (b - 1)) - 60.0 * a * (1 + 0.5 * X) - 55.0 * (
            c * (1 + 0.48 * X))

    def slopes(self, x):
        x = np.asarray(x, float)
        sd = np.array([p.sd for p in self.priors])
        step = 1e-4 * sd
        y = self.torque([x, *(x + np.diag(step))])
        return y[0], (y[1:] - y[0]).T / step * sd


def draw(rng, model):
    truth = np.array([rng.normal(p.value, p.sd) for p in model.priors])
    clean = model.torque([truth])[0]
    return truth, clean + np.linalg.cholesky(ERRORS.covariance(RPM, clean)) @ rng.normal(size=RPM.size)


def test_intervals_cover_and_misfit_is_chi_square():
    """200 truths drawn from the priors: 95 % intervals hold 95 % of them (binomial sd 1.5 %)."""
    rng, model = np.random.default_rng(3), Shape(bounds=6.0)
    inside, misfit = [], []
    for _ in range(200):
        truth, seen = draw(rng, model)
        got = fit(model, seen, ERRORS)
        inside.append(np.abs(got.values - truth) <= 1.96 * np.sqrt(np.diag(got.covariance)))
        misfit.append(got.misfit)
    assert np.all(np.abs(np.mean(inside, axis=0) - 0.95) < 0.04)
    assert np.mean(misfit) == pytest.approx(RPM.size, abs=0.7)


def test_what_is_told_apart_badly_is_seen():
    model = Shape()
    got = fit(model, model.torque([[1.0, 1.0, 1.0]])[0], ERRORS)
    sd = np.sqrt(np.diag(got.covariance))
    correlation = got.covariance / np.outer(sd, sd)
    assert correlation[0, 2] < -0.7
    assert sd[1] / 0.035 < 0.5
    assert sd[0] / 0.1 > 0.6
    assert got.values == pytest.approx([1.0, 1.0, 1.0], abs=1e-6)


def test_a_bound_is_kept_and_named():
    model = Shape(bounds=2.0)
    got = fit(model, model.torque([[1.0, 1.12, 1.0]])[0], ERRORS)
    assert got.values[1] == pytest.approx(1.07, abs=0.002)
    assert got.at_bound[1] == "high"
    assert (got.values <= np.array([p.high for p in model.priors]) + 1e-12).all()


def test_without_noise_and_with_a_wide_prior_the_values_come_back():
    model = Shape()
    truth = np.array([1.12, 0.955, 0.9])
    got = fit(model, 1.02 * model.torque([truth])[0], Errors(np.full(6, 1e-6), 0.0, 0.0), factor=1.02)
    assert got.values == pytest.approx(truth, rel=2e-3)
    assert got.after == pytest.approx(1.02 * model.torque([truth])[0], rel=1e-5)
