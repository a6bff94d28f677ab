"""A shortlist whose base and candidates stand at calibrated values, with what the pulls left open as their ranges."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from pullcast.answers.calibration import Calibration
from pullcast.answers.unknowns import unknown
from pullcast.card.engine import Engine
from pullcast.card.shortlist import Shortlist


def calibrated(shortlist: Shortlist, calibration: Calibration) -> Shortlist:
    """The shortlist to rank with, calibrated.

    The ranges of the calibrated unknowns become those that the pulls left open; a ranking draws them one by one, so
    that of two unknowns known well only together each spreads as wide as it is known alone. The flow factor goes with
    the head it was found on: a candidate with another head keeps that head's sheet. What a candidate changes itself
    stays as it says; so does what a free search varies.
    Raises InputError when the calibration is of another engine.
    """
    def ready(engine: Engine, swaps: Collection[str] = ()) -> Engine:
        held = {k: f for k, f in calibration.carries(engine).items() if k not in swaps}
        made = calibration.apply(engine, {k: f.value for k, f in held.items()})
        beside = tuple(calibration.range_of(f) for k, f in held.items() if not unknown(k).on_card)
        return replace(made, assumed=(*made.assumed, *beside))

    varied = frozenset(span.key for span in shortlist.spans)
    return replace(shortlist, base=ready(shortlist.base), held=frozenset(calibration.keys),
                   ready=(lambda engine: ready(engine, varied)) if varied else None,
                   candidates=tuple(replace(c, engine=ready(c.engine, c.swaps)) for c in shortlist.candidates))
