"""The engine of a session's part, in the weather and on the basis of its pulls.

A part's text on the session card is its name and, after commas, what it changes on the engine card: a part file
("intakes/long.toml"; its folder says what it is) or a key and its value ("cam.advance = 4 deg").
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from pullcast.answers.measured_parts import day_of, usable
from pullcast.card.engine import Day, Engine
from pullcast.card.tree import PARTS
from pullcast.errors import InputError
from pullcast.pulls.correction import HPA_PER_INHG, Correction, correction_factor
from pullcast.pulls.session import Session, Weather

# weather in which each basis corrects by 1 (dry air): pressure Pa, temperature K
REFERENCE = {"j1349": (99000.0, 298.15), "iso1585": (99000.0, 298.15), "std": (2992.0 * HPA_PER_INHG, 288.7056),
             "din70020": (101300.0, 293.15)}


@dataclass(frozen=True)
class Setting:
    """Weather the pulls were made in, factor from observed to the session's basis there, and notes on both."""

    day: Day
    factor: float
    basis: str
    notes: tuple[str, ...] = ()


def part_name(session: Session, part: str) -> str:
    """The part's name: what stands before its changes, or its letter."""
    words = [w for w in _pieces(session, part) if not _is_change(w)]
    return ", ".join(words) or part


def part_swaps(session: Session, part: str) -> dict[str, str]:
    """What a part changes on the engine card, as ``pullcast.card.with_changes`` takes it."""
    swaps: dict[str, str] = {}
    for piece in filter(_is_change, _pieces(session, part)):
        key, _, value = (w.strip() for w in piece.rpartition("="))
        kind = key or Path(piece).parent.name.removesuffix("s")
        if not key and kind not in PARTS:
            msg = (f"{session.path}: part {part}: {piece!r} does not say what it is. Name its folder "
                   f"(intakes/long.toml) or write intake = long.toml; parts are {', '.join(PARTS)}.")
            raise InputError(msg)
        if kind in swaps:
            msg = f"{session.path}: part {part}: {kind} is changed twice; say once what it becomes."
            raise InputError(msg)
        swaps[kind] = value if key else piece
    return swaps


def engine_of(session: Session, part: str) -> Engine:
    """The session's engine with the part on it; raises InputError without an engine card, CardError as reading."""
    from pullcast.card import with_changes

    if session.engine is None:
        msg = (f"{session.path}: names no engine card, so nothing can be predicted for it. Add engine = "
               '"../engines/NAME.toml" under [session], or give the forecasts.')
        raise InputError(msg)
    return with_changes(session.engine, part_swaps(session, part))


def setting_of(session: Session, day: Day | None = None) -> Setting:
    """Weather and factor at which a forecast stands beside the pulls.

    The mean weather of the pulls; where it is not known, that in which the session's basis corrects by 1, or
    (observed numbers without weather) ``day``, the engine card's. InputError where there is none of them.
    """
    weather = day_of(session, usable(session))
    if weather is not None:
        got = Day(weather.pressure, weather.temperature, weather.humidity)
        fix = factor_at(session.basis, weather)
        notes = () if fix is None or fix.in_range else (f"correction of the forecast: {fix!r}",)
        return Setting(got, fix.factor if fix else 1.0, session.basis, notes)
    if session.basis != "observed":
        pressure, temperature = REFERENCE[session.basis]
        return Setting(Day(pressure, temperature, 0.0), 1.0, session.basis,
                       (f"weather of the pulls not known: predicted in the reference weather of {session.basis}",))
    if day is None:
        msg = f"{session.path}: observed numbers without weather: no forecast can stand beside them. Add [weather]."
        raise InputError(msg)
    return Setting(day, 1.0, "observed", ("weather of the pulls not known: that of the engine card was taken",))


def factor_at(basis: str, weather: Weather | Day) -> Correction | None:
    """Correction from observed to ``basis`` in ``weather``; None for "observed"."""
    if basis == "observed":
        return None
    return correction_factor(basis, weather.pressure, weather.temperature, weather.humidity)


def on_day(engine: Engine, setting: Setting) -> Engine:
    """The engine in the weather of the pulls."""
    return replace(engine, day=setting.day)


def _pieces(session: Session, part: str) -> list[str]:
    return [w.strip() for w in session.parts.get(part, "").split(",") if w.strip()]


def _is_change(piece: str) -> bool:
    return piece.endswith(".toml") or "=" in piece
