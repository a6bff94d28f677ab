"""From an intake card to its network."""

from __future__ import annotations

from pullcast.card import intake_styles
from pullcast.card.book import Book
from pullcast.card.engine import Block, Head, Tract
from pullcast.card.free_form import expand, of_styles
from pullcast.card.intake_card import IntakeCard


def resolve_intake(card: IntakeCard, block: Block, head: Head, book: Book) -> Tract:
    """The intake as a network; needs the block's and head's scales in ``book``. Problems go to ``book``."""
    for name in ("wall_temperature", "roughness", "heat_factor"):
        _preset(card, name, "intake", book)
    facts = {} if card.hood_height is None else {"hood_height": float(card.hood_height)}
    if card.pipe:
        if card.style is not None:
            book.problem("intake.style", "a style and a [[pipe]] list are given", "Keep one of the two.")
        of_styles(card, ("throttle", "plenum", "runner", "airbox", "restrictor", "planes", "divider_area"), "intake",
                  book)
        pipes, volumes, junctions = expand(card.pipe, card.volume, card.junction, "intake", block, book)
        return Tract(card.name, tuple(pipes), tuple(volumes), tuple(junctions), facts)
    if card.volume or card.junction:
        book.problem("intake.volume", "volumes or junctions are listed but no [[pipe]]", "List the pipes too.")
    style = card.style or book.engine_class.intake_style
    build = {"plenum_runners": intake_styles.plenum_runners, "individual": intake_styles.individual,
             "dual_plane": intake_styles.dual_plane}[style]
    pipes, volumes, junctions, more = build(card, block, head, book)
    boxes = [v.volume for v in volumes if v.name == "airbox"]
    if boxes:
        facts["airbox_volume"] = boxes[0]
    return Tract(card.name, tuple(pipes), tuple(volumes), tuple(junctions), facts | more)


def _preset(card: object, name: str, tract: str, book: Book) -> None:
    """A value for the whole tract stated on the card replaces the class default in this reading."""
    value = getattr(card, name)
    if value is not None:
        book.given_for[f"{tract}.{name}"] = value
