"""Screening honesty: on the shipped V8's shelf, whether the lumped model carries the part that waves find the best.

The whole shelf is computed by both models; then it is screened to two places, and what waves make first of these is
held against what they make first of all.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from validation.harness import Check, at_least, at_most

from pullcast.answers.rank import rank
from pullcast.answers.ranking import Ranking
from pullcast.card.shortlist import read_shortlist
from pullcast.solve.store import Store

SLOW = True
CARD = Path(__file__).parents[3] / "configs" / "shortlists" / "hillclimb_shelf.toml"
CARRIED = 2  # of seven, a third


def checks() -> list[Check]:
    """The wave winner's place by the lumped model, and whether a screening keeps it."""
    shortlist = read_shortlist(CARD)
    with tempfile.TemporaryDirectory() as folder, Store(Path(folder) / "points.sqlite3") as store:
        whole = rank(shortlist, samples=0, store=store)
        few = rank(shortlist, samples=0, screen=CARRIED, store=store)
    first = next(p.name for p in whole.places if p.kept)
    by_lumped = dict(zip(whole.agreement.names, whole.agreement.lumped, strict=True))
    place = 1 + sum(g > by_lumped[first] for g in by_lumped.values())
    return [
        at_most("place of the wave winner by lumped gain, over candidates", "the V8's shelf: inside the top third",
                1.0 / 3.0, place / len(by_lumped),
                note=f"{first}, {place} of {len(by_lumped)}; {whole.agreement!r}".replace("|", "/")),
        at_least(f"screened to {CARRIED}: gain of the first by waves over that of the whole shelf's first",
                 "the screening keeps the winner", 1.0, _gain(few) / _gain(whole),
                 note=f"carried: {', '.join(few.screened.carried)}"),
    ]


def _gain(r: Ranking) -> float:
    """Gain of the first that keeps the limits."""
    return next(p.gain for p in r.places if p.kept)
