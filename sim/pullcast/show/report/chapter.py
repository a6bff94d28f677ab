"""The chapters of a report, and what one answer gives to them."""

from __future__ import annotations

from dataclasses import dataclass

from pullcast.show.report.blocks import Block

# field of ``Share`` -> heading, in the order of the report
CHAPTERS = {
    "curves": "Curves",
    "answer": "Answer in numbers",
    "why": "Explanation",
    "inputs": "Inputs, and what was assumed",
    "pulls": "Pulls and exclusions",
    "method": "Method and validity",
}


@dataclass(frozen=True)
class Share:
    """The part of one answer in a report.

    A ``question``, ``verdicts`` (the first is the answer in one sentence), blocks for each of ``CHAPTERS``, and
    ``origin``: rows (what, value) for the versions and hashes. The share with the largest ``weight`` leads; ``name``
    says in a few words what it is of.
    """

    question: str
    verdicts: tuple[str, ...]
    weight: int
    name: str
    curves: tuple[Block, ...] = ()
    answer: tuple[Block, ...] = ()
    why: tuple[Block, ...] = ()
    inputs: tuple[Block, ...] = ()
    pulls: tuple[Block, ...] = ()
    method: tuple[Block, ...] = ()
    origin: tuple[tuple[str, str], ...] = ()

    def chapter(self, name: str) -> tuple[Block, ...]:
        """The blocks of a chapter of ``CHAPTERS``."""
        return getattr(self, name)
