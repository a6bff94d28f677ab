"""The text and pictures of a document, in the order they are read."""

from __future__ import annotations

from dataclasses import dataclass

from pullcast.show.report.blocks import Block


@dataclass(frozen=True, repr=False)
class Sheet:
    """Text and pictures in the order they are read.

    ``questions`` and ``verdicts`` stand on top, the first verdict large; ``chapters`` are (heading, blocks); ``foot``
    stands at the foot of every printed page.
    """

    title: str
    questions: tuple[str, ...]
    verdicts: tuple[str, ...]
    chapters: tuple[tuple[str, tuple[Block, ...]], ...]
    foot: str
