"""From a pull as recorded to observed and corrected torque: sweep inertia put back, weather taken out."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from pullcast.errors import InputError
from pullcast.pulls.correction import Correction, correction_factor
from pullcast.pulls.reading import Pull, read_pull
from pullcast.pulls.session import Run, Session


@dataclass(frozen=True)
class Measured:
    """A run with its numbers: ``observed`` and ``corrected`` torque (n,) N m on ``rpm`` (n,).

    ``observed`` is None where the file holds corrected numbers whose weather is not known; ``correction`` is None
    where no factor was applied; ``notes`` say what was done.
    """

    run: Run
    pull: Pull | None
    rpm: np.ndarray
    observed: np.ndarray | None
    corrected: np.ndarray
    correction: Correction | None
    notes: tuple[str, ...]


def measure(session: Session, run: Run) -> Measured:
    """Read, complete and correct one run of ``session`` that has a file."""
    if run.file is None:
        msg = f"run {run.number} has no file: only its peaks are known."
        raise InputError(msg)
    pull = read_pull(run.file, session.mapping, kind=run.kind, leave_out=run.leave_out)
    if pull.corrected and session.recorded == "observed":
        msg = (f"{run.file}: the column read is named as corrected, but the card says recorded = \"observed\". Say "
               'the basis under [session] recorded, or recorded = "unknown".')
        raise InputError(msg)
    undo, apply, notes = factors(session, run)
    torque = pull.torque / undo.factor if undo else pull.torque
    added = inertia_torque(run, pull)
    if added is not None:
        torque = torque + added
        notes.append(f"sweep inertia put back: {float(np.mean(added)):+.0f} N m on average")
    observed = torque if session.recorded == "observed" or undo else None
    return Measured(run, pull, pull.rpm, observed, torque * (apply.factor if apply else 1.0), apply,
                    (*pull.notes, *notes))


def inertia_torque(run: Run, pull: Pull) -> np.ndarray | None:
    """Torque (n,) N m taken to speed the rotating parts up: inertia (kg m2) times angular acceleration.

    The rate is that of the file's own clock if it has one, else the card's. None for steady points, or when no
    inertia is given.
    """
    if pull.kind == "steady" or not run.inertia:
        return None
    rate = pull.acceleration
    if rate is None and run.rate is None:
        msg = (f"{run.file}: the inertia is given but neither the sweep rate nor a time column: add rate = "
               "\"300 rpm/s\" to [sweep].")
        raise InputError(msg)
    rate = np.full(pull.rpm.size, run.rate) if rate is None else rate
    return run.inertia * rate * math.pi / 30.0


def factors(session: Session, run: Run) -> tuple[Correction | None, Correction | None, list[str]]:
    """Correction to undo (what the file holds), correction to apply (the session's basis), and notes."""
    recorded, basis = session.recorded, session.basis
    if recorded == "unknown":
        return None, None, ["recorded on an unknown basis: only ratios within the session mean anything"]
    if recorded == basis == "observed":
        return None, None, ["not corrected: weather differences stay in the numbers"]
    if recorded == basis and run.weather is None:
        return None, None, [f"corrected to {basis} by the dyno itself; its weather is not known"]
    w = run.weather
    state = (w.pressure, w.temperature, w.humidity)
    undo = None if recorded == "observed" else correction_factor(recorded, *state)
    apply = None if basis == "observed" else correction_factor(basis, *state)
    notes = [f"run {run.number}: {c!r}" for c in (undo, apply) if c is not None and not c.in_range]
    return undo, apply, notes


def peaks(session: Session, run: Run) -> tuple[Run, Correction | None, list[str]]:
    """A run known by its peaks only, with them on the session's basis."""
    undo, apply, notes = factors(session, run)
    factor = (apply.factor if apply else 1.0) / (undo.factor if undo else 1.0)
    scaled = {k: getattr(run, k) * factor for k in ("peak_power", "peak_torque") if getattr(run, k) is not None}
    return replace(run, **scaled), apply, notes
