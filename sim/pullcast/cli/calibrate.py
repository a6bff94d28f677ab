"""``pullcast calibrate``: fit what nobody knows of an engine to the pulls of its baseline."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from pullcast.cli import compare as compare_verb
from pullcast.cli import judge_columns, out_files
from pullcast.cli.options import Json, Units, parse_cell, parse_speeds
from pullcast.cli.progress import points
from pullcast.errors import InputError

PICTURES = (".png", ".svg", ".pdf")


def calibrate(
    session: Annotated[Path, typer.Argument(metavar="SESSION", show_default=False,
                                            help="The session card, a .toml file.")],
    part: Annotated[str | None, typer.Option(metavar="PART", show_default=False,
                                             help="The part whose pulls are fitted to; default: the "
                                                  "baseline.")] = None,
    unknown: Annotated[list[str] | None, typer.Option(metavar="KEY", show_default=False,
                                                      help="What to fit: friction.factor, burn.duration_10_90, "
                                                           "burn.turbulence, mixture.evaporated, walls.factor, "
                                                           "walls.temperature, head.flow_factor. Can be "
                                                           "repeated; default: what the card leaves open.")] = None,
    speeds: Annotated[str | None, typer.Option(metavar="RPM", show_default=False, help="Speeds as first:last:step "
                                               "or a list; default: six over the band.")] = None,
    dyno: Annotated[str, typer.Option(metavar="SHARE", help="Standard deviation of the dynamometer's own "
                                                            "level.")] = "1 %",
    model_error: Annotated[str, typer.Option(metavar="SHARE", help="Standard deviation of the model's own "
                                                                   "error.")] = "1.5 %",
    cell: Annotated[str, typer.Option(metavar="LENGTH", help="Target length of the duct cells.")] = "25 mm",
    workers: Annotated[int | None, typer.Option(min=1, metavar="N", show_default=False,
                                                help="Processes; default: one per core.")] = None,
    units: Units = "si",
    json: Json = False,
    out: Annotated[list[Path] | None, typer.Option(metavar="PATH", show_default=False, help="Write the calibration "
                                                   "card (.toml), a picture (.png .svg .pdf) or the JSON document "
                                                   "(.json). Can be repeated.")] = None,
) -> None:
    """Fit friction, burn, evaporation, wall heat and flow to the pulls of one part, within their ranges.

    Says what the pulls tell and what they do not. The pulls used are written into the card and never score a forecast
    made from it: calibrate on A, predict B. Computed points are kept, so that a run that was stopped goes on.

    \b
    Example:
      pullcast calibrate configs/sessions/intake_day.toml --out v8_calibration.toml --out v8_calibration.png
    """
    files = _targets(out or [])
    rpm = {} if speeds is None else {"speeds": parse_speeds(speeds)}
    how = {"dyno": compare_verb.share_of(dyno, "--dyno"), "cell": parse_cell(cell), "workers": workers,
           "model_error": compare_verb.share_of(model_error, "--model-error")}
    if sys.stdin.isatty() and sys.stderr.isatty() and not json:
        judge_columns.settle(session)

    from pullcast.answers.calibrate import calibrate as calibrated
    from pullcast.show import calibration_plots, calibration_tables
    from pullcast.solve.store import Store

    with points(1, "calibrating") as on_point, Store() as store:
        made = calibrated(session, part=part, unknowns=unknown or None, store=store, **rpm, **how,
                          on_tick=lambda t: on_point(t.rpm, t.done, t.total, t.note))
    document = calibration_tables.calibration_document(made)
    cards = [f for f in files if f.suffix.lower() == ".toml"]
    for file in cards:
        from pullcast.answers.calibration_card import save_calibration

        save_calibration(made, file)
    out_files.write_document([f for f in files if f not in cards], document,
                             lambda: calibration_plots.calibration_figure(made, units))
    compare_verb.show(calibration_tables.calibration_view(made), document, files, json)


def _targets(outs: list[Path]) -> list[Path]:
    """The files of ``--out``, refused before the work when they cannot be."""
    kinds = (".toml", *PICTURES, ".json")
    for out in outs:
        if out.suffix.lower() not in kinds:
            msg = f"--out {out}: give a file ending in {', '.join(kinds)}, not {out.suffix or 'a folder'}"
            raise InputError(msg)
        if not out.absolute().parent.is_dir():
            msg = f"--out {out}: there is no folder {out.absolute().parent}; make it first or choose another"
            raise InputError(msg)
    return list(dict.fromkeys(outs))
