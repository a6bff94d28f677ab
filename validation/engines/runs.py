"""What the whole-engine cases share: cards by name, one changed engine over speed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
CONFIGS = HERE.parents[1] / "configs"
TEST_SINGLE = HERE / "test_single.toml"
TRADE = "common practice, no source"


def run(card: Path, speeds: Sequence[float], changes: Mapping[str, Any] | None = None, *, flow: float = 1.0,
        **options: Any):
    """The Dataset of an engine at ``speeds`` (rpm) with ``changes`` (key paths to card values) made to its card.

    ``flow`` is a factor on what both sides of the head pass at every lift. ``options`` go to
    ``pullcast.answers.curves.predict``. Raises RuntimeError when a speed did not converge, so that no check rests on
    such a point.
    """
    from pullcast.answers.curves import predict
    from pullcast.answers.unknowns import scaled_side
    from pullcast.card import with_changes

    engine = with_changes(card, dict(changes or {}))
    head = {side: scaled_side(getattr(engine.head, side), side, flow) for side in ("intake", "exhaust")}
    engine = replace(engine, head=replace(engine.head, **head))
    curve = predict(engine, speeds=speeds, workers=1, **options)
    if not curve.converged:
        rpm, why = curve.failures[0]
        msg = f"{curve.name} at {rpm:g} rpm: {why}"
        raise RuntimeError(msg)
    return curve.dataset
