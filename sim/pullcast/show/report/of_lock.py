"""What a sealed forecast gives to a report: that it is as it was sealed, and the curves in it."""

from __future__ import annotations

from dataclasses import replace

from pullcast.answers.lock import Lock
from pullcast.answers.ranking_file import ranking_of
from pullcast.show.report import of_curve, of_ranking
from pullcast.show.report.blocks import Block, Bullets, Para
from pullcast.show.report.chapter import Share


def share(lock: Lock, units: str) -> Share:
    """The share of a lock; its ranking and texts are named, its curves shown in full."""
    head = lock.head
    whole = [of_curve.share(lock.curve(name), units) for name in lock.names]
    sealed = [f"curve: {name}" for name in lock.names] + [f"text: {name}" for name in head["texts"]]
    sealed += ["a ranking"] if lock.ranking is not None else []
    note = [Para(f"Note of the one who sealed it: {head['note']}")] if head["note"] else []
    blocks: list[Block] = [Para(f"Sealed {head['sealed_utc']}:"), Bullets(tuple(sealed)), *note]
    first = f"The forecast is as it was sealed {head['sealed_utc']}; seal {lock.seal[:16]}."
    whole += _ranked(lock, units)
    joined = {name: tuple(b for s in whole for b in s.chapter(name))
              for name in ("curves", "answer", "inputs", "method")}
    return replace(
        Share("What was forecast before the pulls?", (), 12, f"Sealed forecast {lock.path.name}", **joined),
        verdicts=(*(v for s in whole for v in s.verdicts), first), inputs=(*blocks, *joined["inputs"]),
        origin=(("seal", lock.seal), ("sealed", f"{head['sealed_utc']} by pullcast {head['version']}"),
                *(row for s in whole for row in s.origin)))


def _ranked(lock: Lock, units: str) -> list[Share]:
    """The share of a sealed ranking; nothing for another kind of text in its place."""
    try:
        return [of_ranking.share(ranking_of(lock.ranking), units)] if lock.ranking is not None else []
    except (KeyError, TypeError, ValueError):
        return []
