"""The measured curve of each part of a session with its uncertainty, whatever the number of parts."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers.pulls_needed import held_before
from pullcast.answers.session_curves import band_mean, common_grid, smooth
from pullcast.answers.session_stats import Design, design, estimate
from pullcast.errors import InputError
from pullcast.pulls.measured import factors, measure, peaks
from pullcast.pulls.session import Run, Session, Weather

FLOOR = 5e-4  # smallest relative sd of one speed by itself: rounding of a file


@dataclass(frozen=True)
class MeasuredPart:
    """One part as measured, on the session's basis.

    ``rpm`` (m,), ``torque`` (m,) N m, ``sd`` (m,) relative, of the mean curve (pull noise, refit scatter, drift);
    ``own`` (m,) the share of it each speed has for itself; ``level`` and ``level_sd`` (relative) of the session's
    metric over the band (SI); ``peaks`` (n, 2) rpm and torque of each pull's peak (nan where it lies at the edge);
    ``runs`` numbers and ``digests`` of the pulls it rests on.
    """

    part: str
    rpm: np.ndarray
    torque: np.ndarray
    sd: np.ndarray
    own: np.ndarray
    level: float
    level_sd: float
    peaks: np.ndarray
    runs: tuple[int, ...]
    digests: tuple[str, ...]


def digest_of(session: Session, run: Run) -> str:
    """SHA-256 (hex) that a pull is known by: of its file as it is, or of what the card says of its peaks."""
    if run.file is not None:
        try:
            return hashlib.sha256(run.file.read_bytes()).hexdigest()
        except OSError as error:
            msg = f"{run.file}: cannot be read ({error.strerror}); it is named by run {run.number} of {session.path}"
            raise InputError(msg) from None
    text = f"{session.title}|{run.number}|{run.part}|{run.peak_power}|{run.peak_torque}"
    return hashlib.sha256(text.encode()).hexdigest()


def usable(session: Session) -> list[Run]:
    """Runs that are not excluded; InputError when none is left."""
    used = [r for r in session.runs if not r.excluded]
    if not used:
        msg = f"{session.path}: every run is excluded; nothing is left to compare with"
        raise InputError(msg)
    return used


def day_of(session: Session, runs: list[Run]) -> Weather | None:
    """Mean weather of ``runs``; None when one of them does not say it."""
    if not runs or any(r.weather is None for r in runs):
        return None
    rows = np.array([(r.weather.pressure, r.weather.temperature, r.weather.humidity) for r in runs])
    return Weather(*map(float, rows.mean(axis=0)))


def measured_parts(session: Session) -> tuple[tuple[float, float], tuple[MeasuredPart, ...]]:
    """The band (rpm, rpm) and every part of a session whose runs have files, the baseline first.

    Smoothed, put on one grid and averaged as ``pullcast.answers.judge`` does, by the same generalised least squares,
    with a level for each part in place of differences.
    """
    used = usable(session)
    without = [r.number for r in used if r.file is None]
    if without:
        msg = f"{session.path}: run {without[0]} has only its peaks; there is no curve to compare with"
        raise InputError(msg)
    pulls = [measure(session, r) for r in used]
    grid, band = common_grid(pulls, session.rules)
    curves = np.array([smooth(p.rpm, p.corrected, grid, session.rules.window) for p in pulls])
    held = np.isfinite(curves).all(axis=0)
    grid, curves = grid[held], curves[:, held]
    weighted = curves * (grid * math.pi / 30.0) if session.rules.metric == "power" else curves
    value = band_mean(grid, weighted, band)
    letters, layout = _layout(session, used)
    level, spread = levels(np.column_stack([value, curves]), layout, session)
    own = own_scatter(curves / value[:, None], layout)
    found = []
    for k, letter in enumerate(letters):
        mine = layout.part == k
        rows = [r for r, m in zip(used, mine, strict=True) if m]
        found.append(MeasuredPart(
            letter, grid, level[k, 1:], spread[k, 1:], own / math.sqrt(mine.sum()), float(level[k, 0]),
            float(spread[k, 0]), np.array([peak_of(grid, c) for c in curves[mine]]),
            tuple(r.number for r in rows), tuple(digest_of(session, r) for r in rows)))
    return band, tuple(found)


def measured_peaks(session: Session) -> dict[str, dict[str, tuple[float, float]]]:
    """Of a session known by its peaks: metric ("power", "torque") -> part -> (value SI, relative sd)."""
    used = usable(session)
    scaled = [peaks(session, r)[0] for r in used]
    letters, layout = _layout(session, used)
    out: dict[str, dict[str, tuple[float, float]]] = {}
    for metric in ("power", "torque"):
        values = [getattr(r, f"peak_{metric}") for r in scaled]
        if any(v is None for v in values):
            continue
        level, spread = levels(np.array(values, float)[:, None], layout, session)
        out[metric] = {letter: (float(level[k, 0]), float(spread[k, 0])) for k, letter in enumerate(letters)}
    return out


def _layout(session: Session, used: list[Run]) -> tuple[list[str], Design]:
    order = list(dict.fromkeys(r.part for r in used))
    letters = [session.baseline, *[p for p in order if p != session.baseline]] if session.baseline in order else order
    at = [r.at for r in used]
    timed = None if any(a is None for a in at) else np.array(at, float)
    return letters, design(np.array([letters.index(r.part) for r in used]), np.array([r.fit for r in used]), timed)


def levels(columns: np.ndarray, layout: Design, session: Session) -> tuple[np.ndarray, np.ndarray]:
    """Level (p, m) of each part and its relative sd from values per pull (n, m), at the middle of the session."""
    base = columns.mean(axis=0)
    X = [(layout.part == k) * 1.0 for k in range(layout.part.max() + 1)]
    priors = replace(held_before(session.rules.refit), usual=True)
    X, drift = ([*X, layout.x], 0.0) if layout.returned else (X, priors.drift)
    post = estimate(100.0 * columns / base, np.column_stack(X), layout, priors, drift)
    parts = range(layout.part.max() + 1)
    mean, spread = np.array([post.centre(k) for k in parts]), np.array([post.spread(k) for k in parts])
    return base * mean / 100.0, spread / mean


def own_scatter(shapes: np.ndarray, layout: Design) -> np.ndarray:
    """Relative sd (m,) of one pull at one speed about its part's shape, pooled over speeds: what is left when each
    pull (n, m) is brought to its own mean level."""
    rest, spare = [], 0
    for k in range(layout.part.max() + 1):
        mine = shapes[layout.part == k]
        rest.append((mine / mine.mean(axis=0) - 1.0).ravel())
        spare += mine.shape[0] - 1
    if spare < 1:
        return np.full(shapes.shape[1], 0.003)  # one pull each: an ordinary ripple (common practice, no source)
    pooled = math.sqrt(float(np.sum(np.concatenate(rest) ** 2)) / (spare * shapes.shape[1]))
    return np.full(shapes.shape[1], max(pooled, FLOOR))


def peak_of(rpm: np.ndarray, values: np.ndarray) -> tuple[float, float]:
    """Speed and height of the peak of a sampled curve, by the parabola through the three highest samples around it;
    nan when it lies at the edge of what was measured."""
    k = int(np.nanargmax(values))
    if k in (0, values.size - 1):
        return math.nan, math.nan
    x, y = rpm[k - 1:k + 2], values[k - 1:k + 2]
    a, b, _ = np.polyfit(x - x[1], y, 2)
    if a >= 0.0:
        return float(x[1]), float(y[1])
    at = float(np.clip(-b / (2.0 * a), x[0] - x[1], x[2] - x[1]))
    return float(x[1] + at), float(y[1] + b * at + a * at * at)


def absolute(session: Session) -> str:
    """Why the numbers of a session cannot be compared with a forecast's, or "" when they can."""
    if session.recorded == "unknown":
        return "recorded on an unknown basis: only differences within the session can be compared"
    factors(session, usable(session)[0])
    return ""
