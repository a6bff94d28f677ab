"""From an exhaust card to its network."""

from __future__ import annotations

from pullcast.card import exhaust_styles
from pullcast.card.book import Book
from pullcast.card.engine import Block, Head, Tract
from pullcast.card.exhaust_card import ExhaustCard
from pullcast.card.free_form import expand, of_styles


def resolve_exhaust(card: ExhaustCard, block: Block, head: Head, book: Book) -> Tract:
    """The exhaust as a network; needs the block's and head's scales in ``book``. Problems go to ``book``."""
    for name in ("wall_temperature", "roughness", "heat_factor"):
        if getattr(card, name) is not None:
            book.given_for[f"exhaust.{name}"] = getattr(card, name)
    if card.pipe:
        if card.style is not None:
            book.problem("exhaust.style", "a style and a [[pipe]] list are given", "Keep one of the two.")
        of_styles(card, ("groups", "pairs", "primary", "secondary", "collector", "tailpipe", "muffler", "crossover",
                         "log"), "exhaust", book)
        pipes, volumes, junctions = expand(card.pipe, card.volume, card.junction, "exhaust", block, book)
        return Tract(card.name, tuple(pipes), tuple(volumes), tuple(junctions))
    if card.volume or card.junction:
        book.problem("exhaust.volume", "volumes or junctions are listed but no [[pipe]]", "List the pipes too.")
    return exhaust_styles.write_out(card, block, book)
