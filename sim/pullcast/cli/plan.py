"""``pullcast plan``: a ranking becomes the sheet of a dyno day."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Literal

import typer

from pullcast.cli import out_files, report_sources
from pullcast.cli.options import Json, Units, print_json
from pullcast.errors import InputError

ENDINGS = (".md", ".html", ".pdf", ".json")
PAPERED = (".html", ".pdf")


def plan(
    ranking: Annotated[Path, typer.Argument(metavar="RANKING", show_default=False,
                                            help="A ranking written by rank --out NAME.json.")],
    parts: Annotated[int, typer.Option(min=1, max=8, metavar="N", help="Candidates from the top.")] = 2,
    name: Annotated[list[str] | None, typer.Option(metavar="CANDIDATE", show_default=False,
                                                   help="Plan for this candidate. Can be repeated.")] = None,
    resolution: Annotated[str | None, typer.Option(metavar="PERCENT", show_default=False,
                                                   help="Difference to resolve; default: the smallest expected gain, "
                                                        "within 0.5 to 2 %.")] = None,
    noise: Annotated[str, typer.Option(metavar="PERCENT", help="Pull-to-pull standard deviation.")] = "0.5 %",
    refit: Annotated[str | None, typer.Option(metavar="PERCENT", show_default=False,
                                              help="Standard deviation of taking a part off and putting it on again; "
                                                   "default: not known, truly about 0.4 %.")] = None,
    drift: Annotated[str, typer.Option(metavar="PERCENT", help="Drift over the day.")] = "1 %",
    power: Annotated[str, typer.Option(metavar="PERCENT", help="Wanted chance to resolve the difference.")] = "80 %",
    once: Annotated[bool, typer.Option("--one-return", help="Return to the base once at the end (A-B-C-A).")] = False,
    hours: Annotated[float, typer.Option(min=1, max=24, metavar="HOURS", help="Of a day; what takes longer is cut "
                                         "into days, each from base to base.")] = 8,
    paper: Annotated[Literal["a4", "letter"], typer.Option(help="Paper that .html and .pdf print on.")] = "a4",
    units: Units = "si",
    json: Json = False,
    out: Annotated[list[Path] | None, typer.Option(metavar="PATH", show_default=False,
                                                   help="Write the sheet to a folder (.md and .html) or to a file by "
                                                        "its ending: .md .html .pdf .json. Can be repeated.")] = None,
) -> None:
    """Plan a dyno day from a ranking: order, pulls, what to record, what to expect, limits, time. Printable.

    The number of pulls is checked by drawing days with scatter and drift and judging them.

    \b
    Example:
      pullcast plan shelf.json --parts 1 --noise "0.5 %" --out day.pdf
    """
    stem = ranking.name.removesuffix(".json") + "_day"
    files = out_files.targets(out or [], stem, (".md", ".html"), ENDINGS)
    if any(f.suffix.lower() == ".pdf" for f in files):
        report_sources.pdf_possible()

    from pullcast.answers.plan import plan as planned
    from pullcast.answers.ranking_file import read_ranking
    from pullcast.show import plan_text

    how = {"noise": _fraction("--noise", noise), "drift": _fraction("--drift", drift),
           "power": _fraction("--power", power), "refit": None if refit is None else _fraction("--refit", refit),
           "resolution": None if resolution is None else _fraction("--resolution", resolution)}
    day = planned(read_ranking(ranking), parts=parts, names=name, returns=False if once else None, hours=hours,
                  **how)
    document = plan_text.plan_document(day)
    papers = [f for f in files if f.suffix.lower() in PAPERED]
    out_files.write([f for f in files if f not in papers], {".md": lambda: plan_text.plan_markdown(day, units),
                                                           ".json": lambda: out_files.as_json(document)})
    if papers:
        from pullcast.show.report.of_plan import day_sheet

        sheet = day_sheet(day, units)
        for file in papers:
            file.parent.mkdir(parents=True, exist_ok=True)
            sheet.save(file, paper)
    if json:
        print_json(document | {"files": [str(f) for f in files]})
        return
    print(plan_text.plan_markdown(day, units), end="")
    for file in files:
        print(f"Written: {file}")


def _fraction(option: str, text: str) -> float:
    """A percentage such as "0.5 %" (or 0.5) as a fraction."""
    match = re.fullmatch(r"\s*(\d+(?:\.\d*)?|\.\d+)\s*%?\s*", text)
    if not match:
        msg = f'{option} "{text}": give a percentage, such as "0.5 %"'
        raise InputError(msg)
    return float(match[1]) / 100.0
