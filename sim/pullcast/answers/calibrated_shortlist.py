"""A shortlist whose base and candidates stand at calibrated values, with what the pulls left open as their ranges."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from pullcast.answers.calibration import Calibration
from pullcast.card.engine import Engine
from pullcast.card.shortlist import Shortlist
from pullcast.errors import InputError


def calibrated(shortlist: Shortlist, calibration: Calibration) -> Shortlist:
    """The shortlist to rank with, calibrated.

    The ranges of the calibrated unknowns become those that the pulls left open; a ranking draws them one by one, so
    that of two unknowns known well only together each spreads as wide as it is known alone. The flow factor is left
    out: it is no key of a card and acts on all candidates alike. What a candidate changes itself stays as it says.
    Raises InputError when the calibration is of another engine, or the shortlist a free search.
    """
    if shortlist.spans:
        msg = (f"{shortlist.name} is a free search, whose engines are read anew from the card: put the calibrated "
               "values on the card, or list candidates")
        raise InputError(msg)

    def ready(engine: Engine, swaps: Collection[str] = ()) -> Engine:
        held = {f.key: f.value for f in calibration.found if f.key != "head.flow_factor" and f.key not in swaps}
        return calibration.apply(engine, held)

    return replace(shortlist, base=ready(shortlist.base),
                   candidates=tuple(replace(c, engine=ready(c.engine, c.swaps)) for c in shortlist.candidates))
