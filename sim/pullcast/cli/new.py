"""``pullcast new``: a commented starter card."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pullcast.errors import InputError


def new(
    engine_class: Annotated[str | None, typer.Argument(metavar="[CLASS]", show_default=False,
                                                       help="Class of engine; without it all are listed.")] = None,
    out: Annotated[Path | None, typer.Option(metavar="FILE", show_default=False,
                                             help="Write the card to this file instead of the terminal.")] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
) -> None:
    """Write a commented starter card for a class of engine.

    \b
    Example:
      pullcast new street_2v_v8 --out mine.toml
    """
    if engine_class is None:
        _list()
        return
    from pullcast.card.starter import starter

    text = starter(engine_class)
    if out is None:
        print(text, end="")
        return
    if out.exists() and not force:
        msg = f"--out {out}: is there already; choose another name, or --force to replace it"
        raise InputError(msg)
    if out.suffix.lower() != ".toml":
        msg = f"--out {out}: a card ends in .toml"
        raise InputError(msg)
    from pullcast.results.files import write_whole

    write_whole(out, lambda p: p.write_text(text, encoding="utf-8"))
    print(f"Written: {out}. Fill in what you have, then: pullcast check {out}")


def _list() -> None:
    from pullcast.card.classes import CLASSES

    width = max(map(len, CLASSES))
    for name, one in CLASSES.items():
        print(f"{name:<{width}}  {one.title}")
