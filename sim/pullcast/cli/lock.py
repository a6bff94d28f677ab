"""``pullcast lock``: seal a forecast before the pulls, or see whether one is as it was sealed."""

from __future__ import annotations

import json as json_
from pathlib import Path
from typing import Annotated

import typer

from pullcast.cli.options import Json, print_json
from pullcast.cli.progress import points
from pullcast.errors import InputError

CHANGED, NOT_CONVERGED = 1, 3


def lock(
    forecasts: Annotated[list[Path] | None, typer.Argument(metavar="[FORECAST]...", show_default=False,
                                                           help="Curves saved by predict (.nc), or engine cards "
                                                                "(.toml) to predict from now.")] = None,
    out: Annotated[Path | None, typer.Option(metavar="FILE", show_default=False,
                                             help="The lock to write: a new file ending in .lock.json.")] = None,
    ranking: Annotated[Path | None, typer.Option(metavar="FILE", show_default=False,
                                                 help="A ranking as JSON, to be sealed too.")] = None,
    text: Annotated[list[Path] | None, typer.Option(metavar="FILE", show_default=False,
                                                    help="A text to be sealed too, such as the shortlist card or the "
                                                         "plan of the day. Can be repeated.")] = None,
    note: Annotated[str, typer.Option(metavar="TEXT", show_default=False, help="A line of your own.")] = "",
    verify: Annotated[Path | None, typer.Option(metavar="LOCK", show_default=False,
                                                help="See whether this lock is as it was sealed.")] = None,
    seal: Annotated[str | None, typer.Option(metavar="SEAL", show_default=False,
                                             help="With --verify: the seal noted when the lock was made.")] = None,
    json: Json = False,
) -> None:
    """Seal a forecast before the pulls: cards, version, curves, ranking and time, under one SHA-256 seal.

    Note the seal where it cannot be changed. With --verify, ends with 1 when the lock was changed and names the part.

    \b
    Example:
      pullcast lock out/hillclimb_v8.nc --note "before the spring day" --out spring.lock.json
      pullcast lock --verify spring.lock.json --seal 3f2a9c0d1b7e
    """
    if verify is not None:
        if forecasts or out or ranking or text or note:
            msg = "--verify looks at a lock and takes only --seal and --json beside it; sealing is another command"
            raise InputError(msg)
        _verify(verify, seal, json)
        return
    if out is None or not forecasts:
        msg = "name the forecasts to seal and --out NAME.lock.json, or --verify NAME.lock.json"
        raise InputError(msg)
    if seal is not None:
        msg = "--seal is the seal noted before and goes with --verify; a new lock's seal is printed"
        raise InputError(msg)
    _seal(forecasts, out, ranking, text or [], note, json)


def _seal(forecasts: list[Path], out: Path, ranking: Path | None, texts: list[Path], note: str, json: bool) -> None:
    from pullcast.answers import lock as answers
    from pullcast.answers.lock_place import check_place

    check_place(out)
    order = None if ranking is None else _json(ranking)
    more = {file.name: _text(file, "--text") for file in texts}
    if len(more) < len(texts):
        msg = "--text: two files have one name; give each a name of its own"
        raise InputError(msg)
    curves = [_curve(file) for file in forecasts]
    made = answers.lock(out, curves, ranking=order, texts=more, note=note)
    clock = made.head["clock"]
    if json:
        print_json({"lock": str(out), "seal": made.seal, "sealed_utc": made.head["sealed_utc"],
                    "pullcast_version": made.head["version"], "curves": list(made.names),
                    "ranking": made.ranking is not None, "texts": list(made.head["texts"]), "clock_note": clock})
    else:
        print(f"Written: {out}\nSealed:  {made.head['sealed_utc']}, {', '.join(made.names)}\nSeal:    {made.seal}\n"
              "Note the seal where it cannot be changed: on the day's sheet, or in a message to somebody.")
        if clock:
            print(f"Note:    {clock}")
    if not all(curve.converged for curve in curves):
        raise typer.Exit(NOT_CONVERGED)


def _curve(file: Path):
    from pullcast.results.curve import Curve

    if file.suffix.lower() == ".nc":
        return Curve.load(file)
    if file.suffix.lower() != ".toml":
        msg = f"{file}: a forecast is a curve saved by predict (.nc) or an engine card (.toml)"
        raise InputError(msg)
    from pullcast.answers.curves import predict
    from pullcast.card import read_engine

    engine = read_engine(file)
    with points(len(engine.speeds), f"predicting {engine.name}") as on_point:
        return predict(engine, on_point=on_point)


def _text(file: Path, option: str) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is not UTF-8 text"
        msg = f"{option} {file}: cannot be read ({why})"
        raise InputError(msg) from None


def _json(file: Path):
    try:
        return json_.loads(_text(file, "--ranking"))
    except ValueError as error:
        msg = f"--ranking {file}: is not JSON ({error}). Give what was printed with --json."
        raise InputError(msg) from None


def _verify(file: Path, seal: str | None, json: bool) -> None:
    from pullcast.answers.lock import verify

    verdict = verify(file, seal)
    if json:
        print_json({"lock": str(file), "unchanged": verdict.unchanged, "changed": list(verdict.changed),
                    "notes": list(verdict.notes), "seal": verdict.seal})
    else:
        print("\n".join([_sentence(verdict), *(f"  - {what}" for what in verdict.changed),
                         *(f"Note: {note}" for note in verdict.notes)]))
    if not verdict.unchanged:
        raise typer.Exit(CHANGED)


def _sentence(verdict) -> str:
    if verdict.unchanged:
        return f"{verdict.path.name} is as it was sealed; seal {verdict.seal}"
    return f"{verdict.path.name} was changed after it was sealed:"
