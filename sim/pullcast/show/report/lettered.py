"""A document in the letters that the print has, with a note where it had to change any."""

from __future__ import annotations

from dataclasses import replace

from pullcast.show.letters import NOTE, legible
from pullcast.show.report.blocks import Block, Bullets, Grid, Listing, Para
from pullcast.show.report.sheet import Sheet


def lettered(document: Sheet) -> Sheet:
    """The document as it can be printed; itself where nothing had to change."""
    chapters = tuple((legible(heading, "-Bold"), tuple(map(_block, blocks))) for heading, blocks in document.chapters)
    made = Sheet(legible(document.title, "-Bold"), _each(document.questions), _each(document.verdicts, "-Bold"),
                 chapters, legible(document.foot))
    if _words(made) == _words(document):
        return document
    return replace(made, chapters=(*chapters, ("Letters", (Para(NOTE),))))


def _words(sheet: Sheet) -> tuple:
    """What is set as text."""
    return sheet.title, sheet.questions, sheet.verdicts, sheet.chapters, sheet.foot


def _each(texts: tuple[str, ...], face: str = "") -> tuple[str, ...]:
    return tuple(legible(t, face) for t in texts)


def _block(block: Block) -> Block:
    match block:
        case Para():
            return replace(block, text=legible(block.text, "-Bold" if block.strong else ""))
        case Bullets():
            return replace(block, items=_each(block.items))
        case Listing():
            return replace(block, title=legible(block.title, "-Bold"), text=legible(block.text, "-Mono"))
        case Grid():
            rows = tuple(_each(row, "-Bold" if i in block.bold else "") for i, row in enumerate(block.rows))
            return replace(block, heads=_each(block.heads, "-Bold"), rows=rows, title=legible(block.title, "-Bold"))
        case _:
            return replace(block, text=legible(block.text))
