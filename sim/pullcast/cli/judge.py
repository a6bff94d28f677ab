"""``pullcast judge``: what a day of pulls really shows."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from pullcast.cli import judge_columns, out_files
from pullcast.cli.options import Json, Units, print_json


def judge(
    session: Annotated[Path, typer.Argument(metavar="SESSION", show_default=False,
                                            help="The session card, a .toml file.")],
    units: Units = "si",
    json: Json = False,
    out: Annotated[list[Path] | None, typer.Option(metavar="PATH", show_default=False, help="Write a picture (.png "
                                                   ".svg .pdf) or the JSON document (.json); a folder gets both. "
                                                   "Can be repeated.")] = None,
) -> None:
    """Judge measured pulls: the difference between parts with its interval, drift and refit scatter reckoned with.

    Where the columns of the raw files are not sure, you are asked once on a terminal and the session card keeps the
    answer. The raw files are never changed.

    \b
    Example:
      pullcast judge configs/sessions/intake_day.toml --units us --out out
    """
    files = out_files.targets(out or [], session.stem)
    if sys.stdin.isatty() and sys.stderr.isatty() and not json:
        judge_columns.settle(session)

    from pullcast.answers.judge import judge as judged_of
    from pullcast.show import judge_tables

    judged = judged_of(session)
    document = judge_tables.judgement_document(judged, units)
    if files:
        from pullcast.show.judge_plots import judge_figure

        out_files.write_document(files, document, lambda: judge_figure(judged, units))
    if json:
        print_json(document | {"files": [str(f) for f in files]})
        return
    from pullcast.show.tables import console

    screen = console()
    screen.print(judge_tables.judgement_view(judged, units))
    for file in files:
        screen.print(f"Written: {file}", soft_wrap=True, markup=False)
