"""A forecast as it is held against pulls: a curve, how sure it was, whether it was sealed, what it was fitted to."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from pullcast.answers.calibration import Calibration
from pullcast.answers.lock import Lock
from pullcast.answers.session_engine import Setting, engine_of, factor_at, on_day, part_name
from pullcast.answers.spread import Spread, spread_in, spread_of
from pullcast.card.engine import Day, Engine
from pullcast.errors import InputError, NotConverged
from pullcast.pulls.session import Session
from pullcast.results.curve import Curve

FITTED = "fitted_to_sha256"  # attribute of a curve: the pulls its calibration used
SPREAD_SPEEDS = 5
MORE = 3  # points a forecast made here gets beyond one every 350 rpm
STRIDE = 350.0


@dataclass(frozen=True)
class Forecast:
    """A forecast of one part: ``curve``, ``spread`` (None: it did not say how sure it is), ``seal`` and
    ``sealed_utc`` (empty: not locked), ``fitted`` SHA-256 of the pulls its calibration used."""

    name: str
    curve: Curve
    spread: Spread | None = None
    seal: str = ""
    sealed_utc: str = ""
    fitted: frozenset[str] = frozenset()

    @property
    def sha256(self) -> str:
        """What the forecast is known by: its speeds and torque, weather and basis."""
        d = self.curve.dataset
        numbers = [[f"{v:.9g}" for v in d[name].values] for name in ("speed", "torque")]
        rest = [f"{d.attrs[k]}" for k in ("engine", "sha256", "version", "basis")]
        return hashlib.sha256(json.dumps([numbers, rest]).encode()).hexdigest()

    @property
    def span(self) -> tuple[float, float]:
        """Lowest and highest speed with a converged point, rpm."""
        rpm = self._good()[0]
        return float(rpm[0]), float(rpm[-1])

    def _good(self) -> tuple[np.ndarray, np.ndarray]:
        d = self.curve.dataset
        good = d["converged"].values & np.isfinite(d["torque"].values)
        if good.sum() < 4:
            msg = f"the forecast {self.name} has {int(good.sum())} converged points; four or more make a curve"
            raise NotConverged(msg)
        return d["speed"].values[good], d["torque"].values[good]

    def torque(self, rpm: np.ndarray, setting: Setting) -> np.ndarray:
        """Torque (k,) N m at speeds ``rpm`` (k,) on the basis and in the weather of ``setting``.

        Between its points a monotone cubic (Fritsch & Butland 1984, as scipy's); nan outside them.
        """
        from scipy.interpolate import PchipInterpolator

        at = PchipInterpolator(*self._good(), extrapolate=False)(rpm)
        return at * moved(self.curve, setting)[0]


def moved(curve: Curve, setting: Setting) -> tuple[float, str]:
    """Factor that brings a curve's torque to the basis and weather of ``setting``, and what was done in words.

    A curve on the session's basis stays as it is. One that was observed is corrected at its own weather; observed
    numbers in other weather are moved by the ratio of the J1349 factors of both, since no basis is named.
    """
    a = curve.dataset.attrs
    own = Day(a["pressure"], a["temperature"], a["humidity"])
    if setting.basis != "observed" and curve.basis == setting.basis:
        return 1.0, ""
    undo = 1.0 if curve.basis == "observed" else float(a["correction_factor"])
    if setting.basis != "observed":
        fix = factor_at(setting.basis, own)
        word = "" if fix.in_range else f": out of range ({fix.note})"
        return fix.factor / undo, f"{curve.name}: corrected to {setting.basis} at the forecast's own weather{word}"
    there, here = factor_at("j1349", own).factor, factor_at("j1349", setting.day).factor
    if abs(there / here - 1.0) < 1e-9:
        return 1.0 / undo, ""
    return there / here / undo, (f"{curve.name}: moved from the forecast's weather to that of the pulls by J1349 "
                                 f"({100 * (there / here - 1):+.1f} %)")


def stamped(curve: Curve, calibration: Calibration) -> Curve:
    """The curve, saying which pulls its calibration used: they can never score it, also out of a file or a lock."""
    text = " ".join(sorted(calibration.digests))
    return Curve(curve.dataset.assign_attrs({FITTED: text, "calibrated_utc": calibration.made_utc}))


def of_curve(name: str, curve: Curve, seal: str = "", sealed_utc: str = "") -> Forecast:
    """The forecast of a curve, with the spread and the fitted pulls it carries."""
    fitted = frozenset(str(curve.dataset.attrs.get(FITTED, "")).split())
    return Forecast(name, curve, spread_in(curve), seal, sealed_utc, fitted)


def of_lock(lock: Lock, session: Session, names: Mapping[str, str] | None = None) -> dict[str, Forecast]:
    """Forecasts of a session's parts out of a lock, by part letter.

    ``names`` says which curve is which part; else a curve called as the letter or the part's name is taken. Raises
    InputError when none fits or a named one is not there.
    """
    found = {}
    for part in dict.fromkeys(r.part for r in session.runs):
        wanted = (names or {}).get(part)
        tries = [wanted] if wanted else [part, part_name(session, part)]
        match = next((n for t in tries for n in lock.names if n.casefold() == t.casefold()), None)
        if match is None and wanted:
            lock.curve(wanted)  # raises, naming what there is
        if match is not None:
            found[part] = of_curve(match, lock.curve(match), lock.seal, str(lock.head["sealed_utc"]))
    if not found:
        msg = (f"{lock.path.name} holds {', '.join(lock.names)}; none is called as a part of {session.path.name}. "
               'Say which is which: A="its name".')
        raise InputError(msg)
    return found


def predicted(session: Session, part: str, setting: Setting, *, calibration: Calibration | None = None,
              speeds: tuple[float, float] | None = None, interval: bool = True, fidelity: str = "wave",
              cell: float = 0.025, workers: int | None = None, executor=None, store=None,
              on_point: Callable | None = None) -> Forecast:
    """The forecast of a session's part, made now in the weather of the pulls (so: not sealed before them).

    ``speeds`` (rpm, rpm) what it must cover, default the card's; ``interval`` False leaves out how sure it is, which
    takes five more points for each unknown.
    """
    from pullcast.answers.curves import predict

    engine = on_day(engine_of(session, part), setting)
    ready = calibration.apply(engine) if calibration else engine
    rpm = _grid(engine, speeds)
    curve = predict(ready, speeds=rpm, cell=cell, workers=workers, fidelity=fidelity, executor=executor,
                    on_point=on_point)
    if setting.basis != "observed":
        curve = curve.corrected(setting.factor, setting.basis)
    if calibration is not None:
        curve = stamped(curve, calibration)
    if interval:
        told = None if on_point is None else lambda t: on_point(t.rpm, t.done, t.total, t.note)
        curve = with_interval(curve, engine, calibration=calibration, fidelity=fidelity, cell=cell, workers=workers,
                              executor=executor, store=store, on_tick=told)
    return of_curve(part_name(session, part), curve)


def with_interval(curve: Curve, engine: Engine, *, calibration: Calibration | None = None, **how) -> Curve:
    """The curve with its spread attached, taken at five speeds over its range; ``engine`` before any calibration."""
    good = curve.speeds[curve.dataset["converged"].values]
    few = np.linspace(good[0], good[-1], SPREAD_SPEEDS) if good.size else []
    return spread_of(engine, few, calibration=calibration, **how).attach(curve)


def _grid(engine: Engine, span: tuple[float, float] | None) -> list[float]:
    if span is None:
        return list(engine.speeds)
    count = int(np.ceil((span[1] - span[0]) / STRIDE)) + MORE
    return [float(f"{v:.6g}") for v in np.linspace(span[0] - 1.0, span[1] + 1.0, count)]
