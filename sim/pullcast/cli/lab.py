"""``pullcast lab``: the live page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pullcast.cli.options import Units


def lab(
    card: Annotated[Path | None, typer.Argument(metavar="CARD", show_default=False, help="The engine card to begin "
                                                "with; else the first of configs/engines, or one shipped.")] = None,
    port: Annotated[int | None, typer.Option(show_default=False, help="Port; default: the first free from 5870.")
                    ] = None,
    open: Annotated[bool, typer.Option("--open/--no-open", help="Open the page in the browser.")] = True,
    address: Annotated[str, typer.Option(help="Address to serve on. Any but 127.0.0.1 lets others on your network "
                                         "use the page and this machine's time.")] = "127.0.0.1",
    units: Units = "si",
) -> None:
    """Open the live page: move a slider, see the curve, port pressures, valve events; lessons beside it.

    It is served to this machine alone and needs no internet. Ctrl-C ends it. Needs pip install 'pullcast[lab]'.

    \b
    Example:
      pullcast lab configs/engines/hillclimb_v8.toml
    """
    import gc

    gc.disable()  # the libraries make half a million objects to stay; the page is up a third of a second sooner
    try:
        from pullcast.show.lab.server import serve
        from pullcast.show.lab.shelf import shelf_of

        serve(shelf_of(card), port=port, address=address, show=open, units=units,
              say=lambda text: typer.echo(text, err=True))
    finally:
        gc.enable()
