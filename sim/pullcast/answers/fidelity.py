"""How far the lumped model is from the wave model on one engine, in torque over speed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from pullcast.answers.curves import checked_speeds
from pullcast.answers.performance import performance
from pullcast.card.engine import Engine
from pullcast.errors import SolveError


@dataclass(frozen=True, repr=False)
class Discrepancy:
    """Torque (N m) and volumetric efficiency (-) of both models of one engine at the same speeds (rpm).

    nan where a model broke down or did not converge; ``notes`` says why. All arrays (n_speed,).
    """

    engine: str
    speed: np.ndarray
    wave_torque: np.ndarray
    lumped_torque: np.ndarray
    wave_ve: np.ndarray
    lumped_ve: np.ndarray
    notes: tuple[str, ...] = ()

    @property
    def torque(self) -> np.ndarray:
        """Lumped minus wave torque, N m, at each speed."""
        return self.lumped_torque - self.wave_torque

    @property
    def relative(self) -> np.ndarray:
        """Lumped minus wave torque over wave torque, at each speed."""
        return self.torque / self.wave_torque

    @property
    def rms(self) -> float:
        """Root of the mean square of ``relative`` over the speeds both models gave; nan if none."""
        good = self.relative[np.isfinite(self.relative)]
        return float(np.sqrt(np.mean(good**2))) if good.size else math.nan

    @property
    def worst(self) -> tuple[float, float]:
        """Speed (rpm) of the largest difference, and that difference relative to the wave torque; nan if none."""
        size = np.abs(self.relative)
        if not np.isfinite(size).any():
            return math.nan, math.nan
        k = int(np.nanargmax(size))
        return float(self.speed[k]), float(self.relative[k])

    def __repr__(self) -> str:
        """A sentence and a row a speed."""
        rpm, most = self.worst
        head = (f"{self.engine}: lumped minus wave torque {100 * self.rms:.1f} % rms, at most {100 * most:+.1f} % at "
                f"{rpm:.0f} rpm. The lumped model sees restriction and inertia ram, no waves.")
        rows = [f"{s:7.0f} rpm  wave {w:7.1f}  lumped {v:7.1f} N m  {v - w:+7.1f} N m  {100 * (v / w - 1):+6.1f} %"
                for s, w, v in zip(self.speed, self.wave_torque, self.lumped_torque, strict=True)]
        return "\n".join([head, *rows, *self.notes])


def _numbers(engine: Engine, points: list, model: str) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Torque and volumetric efficiency of swept points, nan with a note where there is no converged one."""
    torque, ve, notes = [], [], []
    for p in points:
        trouble = getattr(p, "message", None) or p.status
        if trouble:
            notes.append(f"{model} model at {p.rpm:g} rpm: {trouble}")
            torque.append(math.nan)
            ve.append(math.nan)
            continue
        row = performance(engine, p)
        torque.append(row["torque"])
        ve.append(row["volumetric_efficiency"])
    return np.array(torque), np.array(ve), notes


def discrepancy(engine: Engine, speeds: Sequence[float] | None = None, *, numerics=None, workers: int | None = None,
                on_point: Callable[[float, int, int, str], None] | None = None) -> Discrepancy:
    """Lumped minus wave torque of an engine at ``speeds`` (rpm; default: the card's), both computed here.

    ``numerics`` (``pullcast.solve.numerics.Numerics``) holds for both models, the cell length for the waves.
    ``on_point`` is told of the wave points, which take the time.
    Raises InputError for speeds out of range, SolveError when one of the models gave no point at all.
    """
    from pullcast.solve.sweep import sweep

    wanted = checked_speeds(engine, speeds)
    wave = sweep(engine, wanted, numerics, workers=workers, on_point=on_point)
    lumped = sweep(engine, wanted, numerics, workers=workers, fidelity="lumped")
    wave_torque, wave_ve, wave_notes = _numbers(engine, wave, "wave")
    lumped_torque, lumped_ve, lumped_notes = _numbers(engine, lumped, "lumped")
    for model, torque, notes in (("wave", wave_torque, wave_notes), ("lumped", lumped_torque, lumped_notes)):
        if not np.isfinite(torque).any():
            msg = f"the {model} model gave no converged point to compare; the first trouble: {notes[0]}"
            raise SolveError(msg, rpm=wanted[0], angle_deg=0.0, component="the whole network")
    return Discrepancy(engine.name, np.array(wanted), wave_torque, lumped_torque, wave_ve, lumped_ve,
                       (*wave_notes, *lumped_notes))
