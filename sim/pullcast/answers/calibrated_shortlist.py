"""A shortlist whose base and candidates stand at calibrated values, with what the pulls left open as their ranges."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from pullcast.answers.calibration import Calibration
from pullcast.answers.unknowns import unknown
from pullcast.card.engine import Engine
from pullcast.card.shortlist import Shortlist
from pullcast.errors import InputError


def calibrated(shortlist: Shortlist, calibration: Calibration) -> Shortlist:
    """The shortlist to rank with, calibrated.

    The ranges of the calibrated unknowns become those that the pulls left open; a ranking draws them one by one, so
    that of two unknowns known well only together each spreads as wide as it is known alone. The flow factor goes with
    the head it was found on: a candidate with another head keeps that head's sheet. What a candidate changes itself
    stays as it says.
    Raises InputError when the calibration is of another engine, or the shortlist a free search.
    """
    if shortlist.spans:
        msg = (f"{shortlist.name} is a free search, whose engines are read anew from the card: put the calibrated "
               "values on the card, or list candidates")
        raise InputError(msg)

    def ready(engine: Engine, swaps: Collection[str] = ()) -> Engine:
        held = {k: f for k, f in calibration.carries(engine).items() if k not in swaps}
        made = calibration.apply(engine, {k: f.value for k, f in held.items()})
        beside = tuple(calibration.range_of(f) for k, f in held.items() if not unknown(k).on_card)
        return replace(made, assumed=(*made.assumed, *beside))

    return replace(shortlist, base=ready(shortlist.base), held=frozenset(calibration.keys),
                   candidates=tuple(replace(c, engine=ready(c.engine, c.swaps)) for c in shortlist.candidates))
