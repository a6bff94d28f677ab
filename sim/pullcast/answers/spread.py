"""How far a forecast may be off: what its unknown inputs do to torque, and the model's own error.

The unknowns are counted in independent standard deviations that all forecasts of one engine share, so that what is
unknown about the engine cancels in a difference between two of its parts as far as it acts on both alike.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullcast.answers.calibration import Calibration
from pullcast.answers.torque_model import TorqueModel, fine
from pullcast.answers.unknowns import Prior, priors_of
from pullcast.card.engine import Engine
from pullcast.errors import InputError, StoreError
from pullcast.results.curve import Curve

REACH = 600.0  # rpm over which the model's own error keeps its sign (assumption, no source)
MODEL = 0.015  # sd of the model's own error at a speed (assumption, no source; the record shows whether it holds)
MODEL_DIFFERENCE = 0.007  # the same of a difference between two parts of one engine
ATTRIBUTE = "spread"


@dataclass(frozen=True)
class Spread:
    """``sensitivity`` (m, p): relative change of torque at ``speeds`` (m,) rpm for one sd of each of p independent
    unknowns, shared by all forecasts with the same ``keys``; ``model`` and ``model_difference`` relative sds."""

    keys: tuple[str, ...]
    speeds: np.ndarray
    sensitivity: np.ndarray
    model: float = MODEL
    model_difference: float = MODEL_DIFFERENCE

    def on(self, rpm: np.ndarray) -> np.ndarray:
        """Sensitivity (k, p) at speeds ``rpm`` (k,), straight lines between; constant outside."""
        return np.column_stack([np.interp(rpm, self.speeds, column) for column in self.sensitivity.T])

    def sd(self, rpm: np.ndarray) -> np.ndarray:
        """Relative sd (k,) of torque at each speed."""
        return np.sqrt((self.on(rpm) ** 2).sum(axis=1) + self.model**2)

    def mean_sd(self, rpm: np.ndarray, weight: np.ndarray) -> float:
        """Relative sd of the mean over speeds with ``weight`` (k,), which need not sum to one."""
        w = weight / weight.sum()
        return float(np.sqrt(((w @ self.on(rpm)) ** 2).sum() + (self.model * _held(rpm, w)) ** 2))

    def difference_sd(self, base: Spread, rpm: np.ndarray) -> np.ndarray:
        """Relative sd (k,) of this forecast over ``base`` at each speed."""
        return np.sqrt(((self.on(rpm) - _same(base, self).on(rpm)) ** 2).sum(axis=1) + self.model_difference**2)

    def mean_difference_sd(self, base: Spread, rpm: np.ndarray, weight: np.ndarray) -> float:
        """Relative sd of the ratio of the two means over speeds with ``weight`` (k,)."""
        w = weight / weight.sum()
        apart = w @ (self.on(rpm) - _same(base, self).on(rpm))
        return float(np.sqrt((apart**2).sum() + (self.model_difference * _held(rpm, w)) ** 2))

    def attach(self, curve: Curve) -> Curve:
        """The curve with this spread among its attributes, so that files and locks keep it."""
        text = json.dumps({"keys": self.keys, "speeds_rpm": _short(self.speeds),
                           "sensitivity": [_short(r) for r in self.sensitivity], "model": self.model,
                           "model_difference": self.model_difference})
        return Curve(curve.dataset.assign_attrs({ATTRIBUTE: text}))


def spread_in(curve: Curve) -> Spread | None:
    """The spread a curve carries; None when it carries none, StoreError when it cannot be read."""
    text = curve.dataset.attrs.get(ATTRIBUTE)
    if not text:
        return None
    try:
        d = json.loads(text)
        return Spread(tuple(d["keys"]), np.array(d["speeds_rpm"], float), np.array(d["sensitivity"], float),
                      float(d["model"]), float(d["model_difference"]))
    except (ValueError, KeyError, TypeError) as error:
        msg = f"{curve.name}: the spread stored with the curve cannot be read ({error}); predict it again"
        raise StoreError(msg) from None


def spread_of(engine: Engine, speeds: Sequence[float], *, calibration: Calibration | None = None,
              model: float = MODEL, model_difference: float = MODEL_DIFFERENCE, fidelity: str = "wave",
              cell: float = 0.025, **how) -> Spread:
    """The spread of an engine's forecast at a few ``speeds`` (rpm), from the ranges of its unknowns.

    With a ``calibration`` the engine is taken at its calibrated values and what the pulls left open is spread.
    ``how``: store, workers, executor, on_tick as in ``pullcast.solve.jobs``. Errors as the model's.
    """
    if calibration is None:
        priors = priors_of(engine)
        root = np.eye(len(priors))
    else:
        priors, root = _calibrated(engine, calibration)
        engine = calibration.apply(engine)
    torque, slopes = TorqueModel(engine, priors, speeds, fidelity=fidelity, numerics=fine(cell, fidelity),
                                 **how).slopes([p.value for p in priors])
    if (torque <= 0.0).any():
        msg = f"{engine.name} gives no torque at {speeds[int(np.argmin(torque))]:g} rpm; leave that speed out"
        raise InputError(msg)
    return Spread(tuple(p.key for p in priors), np.array(speeds, float), slopes @ root / torque[:, None], model,
                  model_difference)


def _calibrated(engine: Engine, calibration: Calibration) -> tuple[tuple[Prior, ...], np.ndarray]:
    """Unknowns at their calibrated values, and the root (p, p) of their covariance in prior sds. What a calibration
    does not carry over to this engine keeps its prior."""
    carried = calibration.carries(engine)
    priors, root = [], np.zeros((len(calibration.found),) * 2)
    sd = np.array([f.prior.sd for f in calibration.found])
    whole = calibration.covariance / np.outer(sd, sd)
    mine = [i for i, f in enumerate(calibration.found) if f.key in carried]
    root[np.ix_(mine, mine)] = np.linalg.cholesky(whole[np.ix_(mine, mine)])
    for i, f in enumerate(calibration.found):
        p = f.prior
        if f.key in carried:
            priors.append(Prior(p.key, f.value, p.sd, p.low, p.high, "calibrated"))
        else:
            root[i, i] = 1.0
            priors.append(p)
    return tuple(priors), root


def _held(rpm: np.ndarray, w: np.ndarray) -> float:
    """What is left of a smooth random curve's sd in its mean with weights ``w``."""
    kernel = np.exp(-0.5 * ((rpm[:, None] - rpm[None, :]) / REACH) ** 2)
    return float(np.sqrt(w @ kernel @ w))


def _same(base: Spread, other: Spread) -> Spread:
    if base.keys != other.keys:
        msg = (f"two forecasts spread other unknowns ({', '.join(base.keys)}; {', '.join(other.keys)}): their "
               "difference has no interval. Predict both in the same way.")
        raise InputError(msg)
    return base


def _short(values: np.ndarray) -> list[float]:
    return [float(f"{v:.7g}") for v in values]
