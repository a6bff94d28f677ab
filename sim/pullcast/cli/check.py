"""``pullcast check``: a card without simulating."""

from __future__ import annotations

import typer

from pullcast.cli.options import Card, Json, Units, print_json

CONTRADICTED = 2


def check(card: Card, units: Units = "si", json: Json = False) -> None:
    """Show what follows from a card, what was assumed with its range, and what does not fit together.

    Ends with 2 when two numbers of the card cannot both be right; doubts and notes do not change the exit code.

    \b
    Example:
      pullcast check configs/engines/hillclimb_v8.toml --units us
    """
    from pullcast.answers.check import check as review_of
    from pullcast.card import read_engine
    from pullcast.show import findings
    from pullcast.show.tables import console

    review = review_of(read_engine(card))
    if json:
        print_json(findings.review_document(review, units))
    else:
        console().print(findings.review_view(review, units))
    if review.contradictions:
        raise typer.Exit(CONTRADICTED)
