"""Files the page hands out and takes in: a card as one file, a report, a card's text under review."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pullcast.card.reading import resolve_tree
from pullcast.errors import CardError, InputError
from pullcast.show.lab.bench import Setup
from pullcast.show.lab.shelf import Shelf
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point
from pullcast.solve.sweep import Failed

MOST_FAULTS = 30
HEAD = "# Written by the live page of pullcast {version}: the engine with its parts, as it stood on the page.\n"
_HEAD = re.compile(r"\A# Written by the live page of pullcast [^\n]*\n")


def file_name(name: str, ending: str) -> str:
    """A plain file name from an engine's name: no folder, no mark that a file system could mind.

    >>> file_name("../../Kestrel V8 <b>", ".toml")
    'kestrel_v8_b.toml'
    """
    plain = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")[:60]
    return (plain or "engine") + ending


def card_file(setup: Setup) -> tuple[str, str]:
    """Name and text of the card as it stands."""
    from pullcast import __version__

    return file_name(setup.engine.name, ".toml"), HEAD.format(version=__version__) + _HEAD.sub("", setup.text)


def report_file(setup: Setup, speeds: Sequence[float], points: Mapping[float, Point | Failed]) -> tuple[str, str]:
    """Name and text of a report of the engine: of the waves' points if there are any, else by the lumped model.

    Raises SolveError when no speed has a result.
    """
    from pullcast.answers.check import check
    from pullcast.answers.curves import curve_of_points, predict
    from pullcast.show.report import report

    if points:
        curve = curve_of_points(setup.engine, [points[rpm] for rpm in speeds], fidelity="wave", cell=Numerics().cell)
    else:
        curve = predict(setup.engine, speeds=speeds, fidelity="lumped")
    document = report(curve, check(setup.engine))
    return file_name(setup.engine.name, ".html"), document.html()


def seen_card(text: str, shelf: Shelf, own: str, error: InputError | None = None, name: str = "") -> dict[str, Any]:
    """The card's text on the page: the engine's own, or one being typed with its faults as they stand."""
    if not text:
        return {"text": own, "faults": [], "told": "", "edited": False}
    if error is None:
        try:
            engine = resolve_tree(shelf.tree_of_text(text, "line"))
        except InputError as found:
            error = found
    if error is None:
        doubts = [f"{f.key}: {f.text}" for f in engine.findings if f.level == "contradiction"]
        told = "It reads well." if not doubts else "It reads, but: " + "; ".join(doubts[:5])
        return {"text": text, "faults": [], "told": told, "edited": text != own}
    told = f"{name} was not taken." if name and name != "the card" else ""
    return {"text": text, "faults": faults_of(error), "told": told, "edited": True}


def faults_of(error: InputError) -> list[str]:
    """The problems of a card, line by line, at most thirty."""
    if not isinstance(error, CardError):
        return [str(error)]
    told = []
    for p in error.problems[:MOST_FAULTS]:
        place = f"line {p.line}: " if p.line else ""
        key = f"{p.key}: " if p.key else ""
        told.append(f"{place}{key}{p.text.rstrip('.')}." + (f" {p.remedy}" if p.remedy else ""))
    more = len(error.problems) - MOST_FAULTS
    return [*told, f"and {more} more"] if more > 0 else told
