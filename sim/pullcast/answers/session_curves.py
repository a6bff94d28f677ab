"""Pulls on a common speed grid: smoothed by a stated window, binned, and averaged over a band."""

from __future__ import annotations

import numpy as np

from pullcast.errors import InputError
from pullcast.pulls.measured import Measured
from pullcast.pulls.session import Rules

WIDEST_GAP = 600.0  # rpm between steady points that may be bridged by a straight line


def smooth(rpm: np.ndarray, values: np.ndarray, grid: np.ndarray, window: float) -> np.ndarray:
    """Values (n,) at the speeds ``grid`` (m,), rpm: a weighted straight line fitted within +-``window``/2 of each.

    Weights fall to zero at the edge of the window (Cleveland 1979, locally weighted regression with one pass, from
    memory), so a slope or an uneven spacing of the samples does not bias the value. Where fewer than three samples
    lie in the window the two neighbours are joined, if at most 600 rpm apart; NaN outside the measured range.
    """
    out = np.full(grid.size, np.nan)
    for i, centre in enumerate(grid):
        u = (rpm - centre) / (0.5 * window)
        near = np.abs(u) < 1.0
        inside = rpm[0] - 0.25 * window <= centre <= rpm[-1] + 0.25 * window
        if inside and near.sum() >= 3 and np.ptp(rpm[near]) > 0.1 * window:
            out[i] = _line(u[near], values[near])
        elif rpm[0] <= centre <= rpm[-1]:
            out[i] = _bridge(rpm, values, centre)
    return out


def _line(u: np.ndarray, values: np.ndarray) -> float:
    w = (1.0 - np.abs(u) ** 3) ** 3
    s0, s1, s2 = w.sum(), w @ u, w @ (u * u)
    return float((s2 * (w @ values) - s1 * (w @ (u * values))) / (s0 * s2 - s1 * s1))


def _bridge(rpm: np.ndarray, values: np.ndarray, centre: float) -> float:
    k = int(np.clip(np.searchsorted(rpm, centre), 1, rpm.size - 1))
    if rpm[k] - rpm[k - 1] > WIDEST_GAP:
        return np.nan
    return float(np.interp(centre, rpm[k - 1:k + 1], values[k - 1:k + 1]))


def common_grid(pulls: list[Measured], rules: Rules) -> tuple[np.ndarray, tuple[float, float]]:
    """Speeds (m,) that every pull covers, in steps of the rules, and the band judged.

    Raises `InputError` naming the pull that does not cover the declared band, or when the pulls share no range.
    """
    slack = 0.25 * rules.window
    low = max(p.rpm[0] for p in pulls) - slack
    high = min(p.rpm[-1] for p in pulls) + slack
    if rules.band is not None:
        for p in pulls:
            _covers(p, rules.band, slack)
    grid = rules.step * np.arange(np.ceil(low / rules.step - 1e-9), np.floor(high / rules.step + 1e-9) + 1.0)
    if grid.size < 3:
        msg = (f"the pulls share no speed range of three steps of {rules.step:g} rpm ({low:.0f} to {high:.0f} rpm): "
               "exclude the short one with its reason, or take a smaller step.")
        raise InputError(msg)
    return grid, rules.band or (float(grid[0]), float(grid[-1]))


def band_mean(grid: np.ndarray, values: np.ndarray, band: tuple[float, float]) -> np.ndarray:
    """Mean over the band (rpm, rpm) of values (..., m) on ``grid`` (m,), each bin counting alike."""
    inside = (grid >= band[0] - 1e-6) & (grid <= band[1] + 1e-6)
    if inside.sum() < 2:
        msg = f"the band {band[0]:g} to {band[1]:g} rpm holds fewer than two bins: widen it or take a smaller step."
        raise InputError(msg)
    return values[..., inside].mean(axis=-1)


def _covers(p: Measured, band: tuple[float, float], slack: float) -> None:
    if p.rpm[0] - slack > band[0] or p.rpm[-1] + slack < band[1]:
        msg = (f"run {p.run.number} covers {p.rpm[0]:.0f} to {p.rpm[-1]:.0f} rpm, not the band {band[0]:g} to "
               f"{band[1]:g} rpm: exclude it with its reason, or narrow the band for all.")
        raise InputError(msg)
