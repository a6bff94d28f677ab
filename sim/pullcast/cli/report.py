"""``pullcast report``: one page or print of what the other verbs saved or can compute."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from pullcast.cli import out_files, report_sources
from pullcast.cli.options import Json, Units, print_json

ENDINGS = (".html", ".pdf")
NOT_CONVERGED = 3


def report(
    what: Annotated[list[Path], typer.Argument(metavar="WHAT...", show_default=False, help="Engine or session cards, "
                                               "shortlists and calibrations (.toml), saved curves (.nc), rankings "
                                               "and other saved documents (.json), locks (.lock.json), records of "
                                               "forecasts (.jsonl).")],
    out: Annotated[list[Path], typer.Option(metavar="PATH", show_default=False, help="Where to write: .html, .pdf, "
                                            "or a folder for both. Can be repeated.")],
    paper: Annotated[Literal["a4", "letter"], typer.Option(help="Paper it prints on.")] = "a4",
    title: Annotated[str, typer.Option(metavar="TEXT", show_default=False, help="A title of your own.")] = "",
    question: Annotated[str, typer.Option(metavar="TEXT", show_default=False, help="The question in your own "
                                          "words.")] = "",
    note: Annotated[list[str] | None, typer.Option(metavar="TEXT", show_default=False, help="A line of your own. Can "
                                                   "be repeated.")] = None,
    swap: Annotated[list[str] | None, typer.Option(metavar="PART=FILE", show_default=False, help="Also explain this "
                                                   "swap on the engine card, as explain does. Can be "
                                                   "repeated.")] = None,
    diagnose: Annotated[bool, typer.Option("--diagnose", help="Also diagnose the loss of the session.")] = False,
    forecast: Annotated[list[str] | None, typer.Option(metavar="PART=NAME", show_default=False, help="With a session "
                                                       "and a lock: which sealed curve is which part. Can be "
                                                       "repeated.")] = None,
    interval: Annotated[bool, typer.Option("--interval", help="Work out how sure the forecast of an engine card is: "
                                           "some 25 more points.")] = False,
    fidelity: Annotated[Literal["wave", "lumped"], typer.Option(help="Model of what is computed now.")] = "wave",
    units: Units = "si",
    json: Json = False,
    workers: Annotated[int | None, typer.Option(min=1, metavar="N", show_default=False,
                                                help="Processes; default: one per core.")] = None,
) -> None:
    """Put answers together in one file to hand over: verdict first, then curves, ranking or judgement, explanation,
    inputs with what was assumed, pulls and exclusions, method, cautions, versions and hashes.

    Cards are computed now (an engine card is forecast, a session judged, a session with a lock compared); saved files
    are taken as they are. The same input gives the same file again, to the last byte.

    \b
    Example:
      pullcast report shelf.json configs/sessions/intake_day.toml --out day.pdf --out day.html
    """
    files = out_files.targets(out, what[0].stem.removesuffix(".lock") + "_report", ENDINGS, ENDINGS)
    if any(f.suffix.lower() == ".pdf" for f in files):
        report_sources.pdf_possible()

    from pullcast.show.report import report as composed

    asked = report_sources.Asked(tuple(swap or ()), diagnose, tuple(forecast or ()), interval, fidelity, workers)
    answers = report_sources.answers_of(what, asked)
    document = composed(*answers, title=title, question=question, notes=note or (), units=units)
    for file in files:
        file.parent.mkdir(parents=True, exist_ok=True)
        document.save(file, paper)
    if json:
        print_json({"title": document.title, "verdicts": list(document.verdicts),
                    "chapters": [heading for heading, _ in document.chapters], "files": [str(f) for f in files]})
    else:
        print("\n".join([document.title, *document.verdicts[:1], *(f"Written: {f}" for f in files)]))
    if not all(getattr(a, "converged", True) for a in answers):
        raise typer.Exit(NOT_CONVERGED)


