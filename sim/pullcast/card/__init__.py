"""Cards: engine cards and part files in TOML, units as text, read into a frozen Engine.

1. ``read_engine(path)`` gives an :class:`Engine`; all problems of the card come in one CardError.
2. ``engine.assumed`` lists what the card left out, with ranges; each key may be put in ``with_changes``.
3. ``derived.derived(engine)`` and ``checks.checks(engine)`` give the numbers that follow and every contradiction.
4. ``with_changes(path, {"intake": "intakes/long.toml", "cam.advance": "4 deg"})`` swaps parts.
5. ``starter.starter(engine_class)`` is the text of a commented card to begin from.
"""

from __future__ import annotations

from typing import Any

from pullcast.card.engine import Assumed, Engine, Finding

_HOMES = {"read_engine": "reading", "read_engine_text": "reading", "with_changes": "reading"}
__all__ = ["Assumed", "Engine", "Finding", *_HOMES]


def __getattr__(name: str) -> Any:
    """Load the public functions when they are first used: pydantic is not light."""
    if name not in _HOMES:
        msg = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(msg)
    import importlib

    return getattr(importlib.import_module(f"{__name__}.{_HOMES[name]}"), name)
