"""Many equally likely engines from one card: what it does not know, drawn at once from the stated ranges."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np


def draws(card: Path, count: int, seed: int = 1, more: dict[str, tuple[float, float, float, str]] | None = None,
          ) -> list[dict[str, Any]]:
    """``count`` (a power of two) sets of changes to a card, by scrambled Sobol points (Owen 1998).

    Every assumed or uncertain value of the card is drawn from a normal law with its range as two standard deviations
    on either side, cut at the range. ``more``: further keys with (low, value, high, unit).
    """
    from scipy.stats import norm, qmc

    from pullcast.card import read_engine

    rows = {a.key: (a.low, a.value, a.high, a.unit) for a in read_engine(card).assumed if a.high > a.low}
    rows |= more or {}
    u = qmc.Sobol(len(rows), rng=seed).random(count)
    z = np.clip(norm.ppf(np.clip(u, 1e-6, 1 - 1e-6)) / 2.0, -1.0, 1.0)
    return [{key: _text(low, value, high, unit, shift)
             for (key, (low, value, high, unit)), shift in zip(rows.items(), row, strict=True)} for row in z]


def _text(low: float, value: float, high: float, unit: str, shift: float) -> str | float:
    x = value + shift * ((high - value) if shift > 0 else (value - low))
    return f"{x:.9g} {unit}" if unit else float(f"{x:.9g}")


FLOW = (0.9, 1.0, 1.1, "")  # of a head without a flow sheet: coefficients from the literature, within 10 %


def band(card: Path, speeds: Sequence[float], sets: Sequence[dict[str, Any]], of: Callable[[Any], np.ndarray],
         ) -> tuple[np.ndarray, list[str]]:
    """``of(dataset)`` of every set, (sets that ran, ...), and why the others did not.

    A set's "flow" is a factor on what the head passes.
    """
    from validation.engines.runs import run

    from pullcast.errors import PullcastError

    got, lost = [], []
    for changes in sets:
        flow = float(changes.get("flow", 1.0))
        try:
            got.append(of(run(card, speeds, {k: v for k, v in changes.items() if k != "flow"}, flow=flow)))
        except (PullcastError, RuntimeError) as error:
            lost.append(str(error))
    return np.array(got), lost
