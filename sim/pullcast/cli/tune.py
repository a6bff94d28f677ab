"""``pullcast tune``: spark and mixture loops, knock, fuel system."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from pullcast.cli import out_files, tune_more
from pullcast.cli.options import Card, Json, Units, parse_cell, parse_speeds, print_json
from pullcast.cli.progress import points

BURN = "_burn.png"  # the closed cycle at the speed of the highest torque
NOT_CONVERGED = 3


def tune(
    card: Card,
    speeds: Annotated[str | None, typer.Option(metavar="RPM", show_default=False, help="Speeds as first:last:step or "
                                               "a list with commas; default: the card's.")] = None,
    how: Annotated[Literal["mbt", "knock-limited"], typer.Option("--tune", help="Spark of best torque, or that held "
                                                                 "back where the end gas would knock.")]
    = "knock-limited",
    fidelity: Annotated[Literal["wave", "lumped"], typer.Option(help="Model that gives the gas exchange.")] = "wave",
    sparks: Annotated[int, typer.Option(min=5, max=60, metavar="N", help="Sparks in a loop.")] = 15,
    mixture: Annotated[bool, typer.Option("--mixture/--no-mixture", help="Loop over lambda as well: three more "
                                         "marches a speed.")] = True,
    again: Annotated[bool, typer.Option("--again/--once", help="March again at the chosen spark and say what that "
                                        "changed, or trust the first gas exchange.")] = True,
    what_if: Annotated[list[str] | None, typer.Option(metavar="CASE", show_default=False, help="Also with 'ratio 11',"
                                                      " 'octane 95', 'altitude 1500 m', 'air 35 C' or 'fuel e85', at "
                                                      "the best spark of each. Can be repeated.")] = None,
    pull: Annotated[str | None, typer.Option(metavar="RATE", show_default=False, help="Also an accelerating pull, as "
                                             "'600 rpm/s'; needs --inertia.")] = None,
    inertia: Annotated[str | None, typer.Option(metavar="INERTIA", show_default=False, help="Of what turns with the "
                                                "crank, as '0.35 kg m2'.")] = None,
    motored: Annotated[bool, typer.Option("--motored", help="Also the torque to motor the engine with its throttle "
                                          "closed.")] = False,
    units: Units = "si",
    json: Json = False,
    out: Annotated[list[Path] | None, typer.Option(metavar="PATH", show_default=False, help="Write a picture (.png "
                                                   ".svg .pdf) or the JSON document (.json); a folder gets both and "
                                                   "a picture of one burn. Can be repeated.")] = None,
    cell: Annotated[str, typer.Option(metavar="LENGTH", help="Target length of the duct cells.")] = "25 mm",
    workers: Annotated[int | None, typer.Option(min=1, metavar="N", show_default=False,
                                                help="Processes; default: one per core.")] = None,
) -> None:
    """Find the spark and the mixture an engine wants at every speed, and what being off them costs.

    The gas exchange is marched at each speed (for the mixture at three more lambdas) and its trapped charge burned
    again at every spark and lambda. Ends with 3 when a speed did not converge.

    \b
    Example:
      pullcast tune configs/engines/hillclimb_v8.toml --speeds 2000:6000:1000 --what-if "ratio 11" --out out
    """
    rpm = None if speeds is None else parse_speeds(speeds)
    length = parse_cell(cell)
    files = out_files.targets(out or [], f"{card.stem}_tune", (".json", ".png", BURN))

    from pullcast.answers.tune import marches
    from pullcast.answers.tune import tune as tune_engine
    from pullcast.card import read_engine
    from pullcast.show import tune_tables

    engine = read_engine(card)
    wanted = tune_more.asked(engine, what_if or [], pull, inertia, motored)
    count = len(rpm or engine.speeds) * marches(engine, mixture, again)
    with points(count, f"tuning {engine.name}") as on_point:
        tuning = tune_engine(engine, speeds=rpm, how=how, fidelity=fidelity, cell=length, workers=workers,
                             sparks=sparks, mixture=mixture, settle_again=again, on_point=on_point)
    need = tuning.fuel()
    views, more = tune_more.answered(wanted, engine, tuning, units, cell=length, workers=workers)
    document = tune_tables.tuning_document(tuning, need) | more
    write(files, tuning, document)
    if json:
        print_json(document | {"files": [str(f) for f in files]})
    else:
        from pullcast.show.tables import console

        screen = console(width=None)
        screen.print(tune_tables.tuning_view(tuning, need, units, views))
        for file in files:
            screen.print(f"Written: {file}", soft_wrap=True, markup=False)
    if tuning.failures:
        raise typer.Exit(NOT_CONVERGED)


def write(files: list[Path], tuning, document: dict) -> None:
    """Write pictures and document, each whole or not at all."""
    for file in files:
        file.parent.mkdir(parents=True, exist_ok=True)
        if file.suffix.lower() == ".json":
            from pullcast.results.files import write_whole

            whole = out_files.as_json(document)
            write_whole(file, lambda p, whole=whole: p.write_text(whole, encoding="utf-8"))
            continue
        from pullcast.show.look import save_figure
        from pullcast.show.tune_plots import burn_figure, tune_figure

        if file.name.endswith(BURN):
            k = tuning.strongest()
            save_figure(burn_figure(tuning.charges[k], tuning.loops[k].best(tuning.how)), file)
        else:
            save_figure(tune_figure(tuning), file)
