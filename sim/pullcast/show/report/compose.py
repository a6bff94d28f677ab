"""From answers to a report: each gives its share, the shares are put in one order."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

from pullcast.errors import InputError
from pullcast.show import CAUTION
from pullcast.show.report.blocks import Block, Bullets, Grid, Listing, Para
from pullcast.show.report.chapter import CHAPTERS, Share
from pullcast.show.report.document import Document

HERE = "pullcast.show.report"
# class of an answer, by module and name -> module and function of its share
HOMES = {
    ("pullcast.results.curve", "Curve"): ("of_curve", "share"),
    ("pullcast.answers.check", "Review"): ("of_curve", "review_share"),
    ("pullcast.answers.ranking", "Ranking"): ("of_ranking", "share"),
    ("pullcast.answers.search", "Found"): ("of_ranking", "search_share"),
    ("pullcast.answers.judgement", "Judgement"): ("of_session", "share"),
    ("pullcast.answers.comparison", "Comparison"): ("of_session", "comparison_share"),
    ("pullcast.answers.calibration", "Calibration"): ("of_session", "calibration_share"),
    ("pullcast.answers.explanation", "Explanation"): ("of_why", "share"),
    ("pullcast.answers.diagnose", "Diagnosis"): ("of_why", "diagnosis_share"),
    ("pullcast.answers.tune", "Tuning"): ("of_why", "tuning_share"),
    ("pullcast.answers.lock", "Lock"): ("of_lock", "share"),
    ("pullcast.show.report.of_record", "Record"): ("of_record", "share"),
    ("pullcast.show.report.saved", "Saved"): ("saved", "share"),
}
VALIDITY = (
    "A forecast rests on typical friction, burn duration, wall temperatures and loss coefficients unless the pulls "
    "of the baseline were fitted: expect the level within about 10 %, and differences between parts of one engine to "
    "be better known than that.",
    "Default duct cells of 25 mm are within about 0.3 % of torque of four times finer ones.",
    "The lumped model sees restriction and inertia but no waves; its numbers are never mixed with those of the wave "
    "model in one table without saying so.",
    "Every check against exact solutions, reference libraries, printed values and whole engines is listed with its "
    "source, expected, got, tolerance and verdict in the program's validation/README.md; pullcast validate runs them "
    "again.",
)
CAUTIONS = (
    *(f"{part.rstrip('.')}." for part in CAUTION.split(". ", 1)),
    "Piston-to-valve clearance is proved by measurement only.",
)


def report(*answers: Any, title: str = "", question: str = "", notes: Sequence[str] = (),
           units: str = "si") -> Document:
    """One report of any answers: curves, rankings, searches, judgements, comparisons, calibrations, explanations,
    diagnoses, tunings, locks, reviews of cards.

    Parameters
    ----------
    answers
        Finished values, as the verbs give them.
    title, question
        Own words on top; default: what the leading answer is about.
    notes
        Lines of your own, shown under the verdict.
    units
        "si" or "us".

    Raises InputError when there is nothing to report, or for a value that is no answer.

    """
    shares = sorted((share_of(a, units) for a in answers), key=lambda s: -s.weight)
    if not shares:
        msg = "there is nothing to report: give at least one answer, such as a curve"
        raise InputError(msg)
    questions = (question,) if question else tuple(dict.fromkeys(s.question for s in shares))
    first, *more = (v for s in shares for v in s.verdicts)
    chapters = [(head, blocks) for name, head in CHAPTERS.items() if (blocks := _chapter(shares, name))]
    chapters += [("Cautions", (Bullets(CAUTIONS),)), ("Versions and hashes", (_origins(shares),))]
    chapters += [("Cards, as read", cards)] if (cards := _cards(shares)) else []
    if notes:
        chapters.insert(0, ("Notes", (Bullets(tuple(notes)),)))
    return Document(title or shares[0].name, questions, (first, *dict.fromkeys(more)), tuple(chapters),
                    "A planning estimate: it does not show that an engine, part or test is safe.")


def share_of(answer: Any, units: str) -> Share:
    """What one answer gives. InputError for a value that is no answer."""
    kind = (type(answer).__module__, type(answer).__name__)
    if kind not in HOMES:
        known = ", ".join(name for _, name in HOMES)
        msg = f"a {kind[1]} cannot be reported; known are {known}"
        raise InputError(msg)
    module, name = HOMES[kind]
    return getattr(import_module(f"{HERE}.{module}"), name)(answer, units)


def _chapter(shares: Sequence[Share], name: str) -> tuple[Block, ...]:
    """The blocks of a chapter, each share's under its name when there are several; cards stand at the end."""
    parts = [(s.name, [b for b in s.chapter(name) if not isinstance(b, Listing)]) for s in shares]
    parts = [(n, blocks) for n, blocks in parts if blocks]
    named = [b for n, blocks in parts for b in ([Para(n, strong=True)] if len(parts) > 1 else []) + blocks]
    return (*dict.fromkeys(named), Para("How far to trust it", strong=True), Bullets(VALIDITY)) \
        if name == "method" else tuple(dict.fromkeys(named))


def _cards(shares: Sequence[Share]) -> tuple[Listing, ...]:
    """Every card once."""
    return tuple(dict.fromkeys(b for s in shares for b in s.inputs if isinstance(b, Listing)))


def _origins(shares: Sequence[Share]) -> Grid:
    from pullcast import __version__

    rows = [row for s in shares for row in s.origin]
    rows += [("report written by", f"pullcast {__version__}"), ("numerical kernels, SHA-256", kernels_sha256())]
    return Grid(("what", "value"), tuple(dict.fromkeys(rows)))


def kernels_sha256() -> str:
    """SHA-256 (hex) of the sources of all numerical kernels, by name and content."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).resolve().parents[2].joinpath("kernels").glob("*.py")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()
