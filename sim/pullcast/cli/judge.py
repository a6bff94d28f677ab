"""``pullcast judge``: what a day of pulls really shows."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from pullcast.cli import judge_columns
from pullcast.cli.options import Json, Units, print_json
from pullcast.errors import InputError

PICTURES = (".png", ".svg", ".pdf")


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
    files = targets(out or [], session)
    if sys.stdin.isatty() and sys.stderr.isatty() and not json:
        judge_columns.settle(session)

    from pullcast.answers.judge import judge as judged_of
    from pullcast.show import judge_tables

    judged = judged_of(session)
    document = judge_tables.judgement_document(judged, units)
    write(files, judged, document, units)
    if json:
        print_json(document | {"files": [str(f) for f in files]})
        return
    from pullcast.show.tables import console

    screen = console()
    screen.print(judge_tables.judgement_view(judged, units))
    for file in files:
        screen.print(f"Written: {file}", soft_wrap=True, markup=False)


def targets(outs: list[Path], session: Path) -> list[Path]:
    """The files that the ``--out`` texts ask for; refused before the work when they cannot be."""
    files: list[Path] = []
    for out in outs:
        suffix = out.suffix.lower()
        if out.is_dir() or not suffix:
            if out.exists() and not out.is_dir():
                msg = f"--out {out}: is a file without a known ending; give a folder or another name"
                raise InputError(msg)
            files += [out / f"{session.stem}{s}" for s in (".png", ".json")]
        elif suffix in (*PICTURES, ".json"):
            if not out.absolute().parent.is_dir():
                msg = f"--out {out}: there is no folder {out.absolute().parent}; make it first or choose another"
                raise InputError(msg)
            files.append(out)
        else:
            msg = f"--out {out}: give a folder, or a file ending in {', '.join(PICTURES)} or .json, not {suffix}"
            raise InputError(msg)
    return list(dict.fromkeys(files))


def write(files: list[Path], judged, document: dict, units: str) -> None:
    """Write picture and document, each whole or not at all."""
    import json as text

    for file in files:
        file.parent.mkdir(parents=True, exist_ok=True)
        if file.suffix.lower() == ".json":
            from pullcast.results.files import write_whole

            whole = text.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
            write_whole(file, lambda p, whole=whole: p.write_text(whole, encoding="utf-8"))
        else:
            from pullcast.show.judge_plots import judge_figure
            from pullcast.show.look import save_figure

            save_figure(judge_figure(judged, units), file)
