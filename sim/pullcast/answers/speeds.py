"""Speeds an answer is asked for, checked."""

from __future__ import annotations

from collections.abc import Sequence

from pullcast.card.engine import Engine
from pullcast.errors import InputError

SPEED_RANGE = (200.0, 25000.0)


def checked_speeds(engine: Engine, speeds: Sequence[float] | None) -> list[float]:
    """Speeds in rising order; InputError for one that no engine runs at."""
    wanted = sorted({float(s) for s in (speeds if speeds is not None else engine.speeds)})
    if not wanted:
        msg = "no speed to predict at; give at least one, in rpm"
        raise InputError(msg)
    for s in wanted:
        if not SPEED_RANGE[0] <= s <= SPEED_RANGE[1]:
            msg = f"speed {s:g} rpm is outside {SPEED_RANGE[0]:g} to {SPEED_RANGE[1]:g} rpm; give speeds in rpm"
            raise InputError(msg)
    return wanted
