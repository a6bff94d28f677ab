"""``pullcast diagnose``: is a measured loss the part or a fault, and what to check next."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from pullcast.cli import out_files
from pullcast.cli.explain import ticks
from pullcast.cli.options import Json, parse_cell, print_json


def diagnose(
    session: Annotated[Path, typer.Argument(metavar="SESSION", show_default=False,
                                            help="The session card, a .toml file.")],
    part: Annotated[str | None, typer.Option(metavar="LETTER", show_default=False, help="The part that lost; "
                                             "default: the first that is not the baseline.")] = None,
    fidelity: Annotated[Literal["wave", "lumped"], typer.Option(help="Model that simulates the faults; lumped is "
                                                                "quick, sees no tuning, and names the cause first in "
                                                                "half of the cases, waves in 85 of 100.")] = "wave",
    json: Json = False,
    out: Annotated[list[Path] | None, typer.Option(metavar="PATH", show_default=False, help="Write a picture (.png "
                                                   ".svg .pdf) or the JSON document (.json); a folder gets both. "
                                                   "Can be repeated.")] = None,
    cell: Annotated[str, typer.Option(metavar="LENGTH", help="Target length of the duct cells.")] = "25 mm",
    workers: Annotated[int | None, typer.Option(min=1, metavar="N", show_default=False,
                                                help="Processes; default: one per core.")] = None,
) -> None:
    """Diagnose a measured loss: the part's own geometry, a fault or the measurement, each with its chance.

    Ends with the one cheapest check that tells the two most likely causes apart, and what it would read. A V8 takes
    one to two minutes on two cores by waves; what was computed is kept.

    \b
    Example:
      pullcast diagnose configs/sessions/intake_day.toml
    """
    length = parse_cell(cell)
    files = out_files.targets(out or [], session.stem)

    from pullcast.answers.diagnose import diagnose as diagnosed
    from pullcast.show import diagnose_tables
    from pullcast.solve.numerics import Numerics
    from pullcast.solve.store import Store

    with ticks(f"diagnosing {session.stem}") as on_tick, Store() as store:
        found = diagnosed(session, part, fidelity=fidelity, numerics=Numerics(cell=length), store=store,
                          workers=workers, on_tick=on_tick)
    document = diagnose_tables.diagnosis_document(found)
    if files:
        from pullcast.show.diagnose_plots import diagnose_figure

        out_files.write_document(files, document, lambda: diagnose_figure(found))
    if json:
        print_json(document | {"files": [str(f) for f in files]})
        return
    from pullcast.show.tables import console

    screen = console()
    screen.print(diagnose_tables.diagnosis_view(found))
    for file in files:
        screen.print(f"Written: {file}", soft_wrap=True, markup=False)
