"""``pullcast compare``: how good a forecast was, and the record over many days."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from pullcast.cli import judge_columns, out_files
from pullcast.cli.options import Json, Units, print_json
from pullcast.cli.progress import points
from pullcast.errors import InputError


def compare(
    session: Annotated[Path | None, typer.Argument(metavar="[SESSION]", show_default=False,
                                                   help="The session card, a .toml file; left out: the ledger "
                                                        "alone.")] = None,
    lock: Annotated[Path | None, typer.Option(metavar="LOCK", show_default=False,
                                              help="The sealed forecast (.lock.json).")] = None,
    forecast: Annotated[list[str] | None, typer.Option(metavar="PART=NAME", show_default=False,
                                                       help="Which forecast is which part: a curve of the lock, or "
                                                            "a curve saved by predict (.nc). Can be "
                                                            "repeated.")] = None,
    calibration: Annotated[Path | None, typer.Option(metavar="FILE", show_default=False,
                                                     help="For forecasts made now: a calibration card. Its pulls "
                                                          "are not scored.")] = None,
    ledger: Annotated[Path | None, typer.Option(metavar="FILE", show_default=False,
                                                help="Add the scores to this record of many days (.jsonl) and show "
                                                     "what it says.")] = None,
    dyno: Annotated[str, typer.Option(metavar="SHARE", help="Standard deviation of the dynamometer's own "
                                                            "level.")] = "1 %",
    quick: Annotated[bool, typer.Option("--quick", help="For forecasts made now: leave out how sure they "
                                                        "are.")] = False,
    units: Units = "si",
    json: Json = False,
    out: Annotated[list[Path] | None, typer.Option(metavar="PATH", show_default=False, help="Write a picture (.png "
                                                   ".svg .pdf) or the JSON document (.json); a folder gets both. "
                                                   "Can be repeated.")] = None,
) -> None:
    """Hold a forecast against the pulls: error over speed, of the band and the peaks, differences and their order.

    Without --lock or --forecast every part is predicted now from the session's engine card in the weather of the
    pulls. Pulls that a forecast was fitted to never score it.

    \b
    Example:
      pullcast compare configs/sessions/intake_day.toml --lock spring.lock.json --ledger dyno.jsonl --out out
    """
    if session is None:
        if ledger is None or lock or forecast or calibration:
            msg = "name the session card to compare with, or only --ledger FILE to see the record"
            raise InputError(msg)
        _record(ledger, json, out or [])
        return
    files = out_files.targets(out or [], session.stem)
    named = pairs(forecast or [])
    if sys.stdin.isatty() and sys.stderr.isatty() and not json:
        judge_columns.settle(session)

    from pullcast.answers.compare import compare as compared_with
    from pullcast.pulls.session_card import read_session

    card, share = read_session(session), share_of(dyno, "--dyno")
    source = _source(lock, named, calibration, quick)
    with points(1, "predicting") as on_point:
        how = {} if "forecasts" in source else {"on_point": on_point}
        compared = compared_with(card, **source, **how, dyno=share)
    _finish(compared, ledger, files, units, json)


def _finish(compared, ledger: Path | None, files: list[Path], units: str, json: bool) -> None:
    from pullcast.answers.ledger import add_to_ledger, read_ledger
    from pullcast.answers.ledger_score import score_ledger
    from pullcast.show import compare_plots, compare_tables

    if ledger is not None:
        add_to_ledger(ledger, compared)
    document = compare_tables.comparison_document(compared, units)
    score = None if ledger is None else score_ledger(read_ledger(ledger))
    if score is not None:
        document["ledger"] = compare_tables.ledger_document(score)
    out_files.write_document(files, document, lambda: compare_plots.compare_figure(compared, units))
    show(compare_tables.comparison_view(compared, units), document, files, json)
    if score is not None and not json:
        show(compare_tables.ledger_view(score), document, [], json)


def _source(lock: Path | None, named: dict[str, str], calibration: Path | None, quick: bool) -> dict:
    """Where the forecasts come from, as arguments of the comparison."""
    if lock is not None:
        from pullcast.answers.lock import read_lock

        _not_with("--lock", calibration, quick)
        return {"forecasts": read_lock(lock), "names": named}
    if named:
        from pullcast.results.curve import Curve

        _not_with("--forecast", calibration, quick)
        return {"forecasts": {part: Curve.load(file) for part, file in named.items()}}
    how: dict = {"interval": not quick}
    if calibration is not None:
        from pullcast.answers.calibration_card import read_calibration

        how["calibration"] = read_calibration(calibration)
    return how


def _not_with(option: str, calibration: Path | None, quick: bool) -> None:
    if calibration is not None or quick:
        msg = f"{option}: a forecast made before stays as it is; --calibration and --quick shape one made now"
        raise InputError(msg)


def pairs(texts: list[str]) -> dict[str, str]:
    """Part to forecast from "PART=NAME" texts; InputError showing the form."""
    found: dict[str, str] = {}
    for text in texts:
        part, sign, name = (w.strip() for w in text.partition("="))
        if not (sign and part and name) or part in found:
            msg = f"--forecast {text!r}: write PART=NAME, each part once, such as B=\"dual plane\" or B=out/dual.nc"
            raise InputError(msg)
        found[part] = name
    return found


def share_of(text: str, option: str) -> float:
    """A standard deviation as a share; InputError outside 0 to 20 %."""
    from pullcast.units import to_si

    share = to_si(text, "fraction")
    if not 0.0 <= share <= 0.2:
        msg = f'{option} {text!r}: give 0 to 20 %, such as "1 %"'
        raise InputError(msg)
    return share


def _record(ledger: Path, json: bool, out: list[Path]) -> None:
    from pullcast.answers.ledger import read_ledger
    from pullcast.answers.ledger_score import score_ledger
    from pullcast.show import compare_plots, compare_tables

    files = out_files.targets(out, ledger.stem)
    entries = read_ledger(ledger)
    if not entries:
        msg = f"{ledger}: there is no such ledger yet; compare SESSION --ledger {ledger} begins one"
        raise InputError(msg)
    score = score_ledger(entries)
    document = compare_tables.ledger_document(score)
    out_files.write_document(files, document, lambda: compare_plots.ledger_figure(entries))
    show(compare_tables.ledger_view(score), document, files, json)


def show(view, document: dict, files: list[Path], json: bool) -> None:
    """Print the view for people, or the document as JSON."""
    if json:
        print_json(document | {"files": [str(f) for f in files]})
        return
    from pullcast.show.tables import console

    screen = console()
    screen.print(view)
    for file in files:
        screen.print(f"Written: {file}", soft_wrap=True, markup=False)
