"""``pullcast rank``: which parts are worth the dyno day."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import Annotated, Literal

import typer

from pullcast.cli import out_files
from pullcast.cli.options import Json, Units, print_json
from pullcast.cli.progress import stages

Model = Literal["wave", "lumped"]
NOT_CONVERGED = 3


def rank(
    shortlist: Annotated[Path, typer.Argument(metavar="SHORTLIST", show_default=False,
                                              help="The shortlist card, a .toml file.")],
    fidelity: Annotated[Model | None, typer.Option(show_default=False,
                                                   help="Model that ranks; default: wave.")] = None,
    screen: Annotated[int | None, typer.Option(min=1, metavar="N", show_default=False,
                                               help="Rank all by the lumped model and carry the best N to waves; "
                                                    "default: 6 when there are more than 16 candidates.")] = None,
    samples: Annotated[int, typer.Option(min=0, metavar="N", help="Draws of what is not known, a power of two; 0: no "
                                                                   "chances.")] = 32,
    spread: Annotated[Model, typer.Option(help="Model the draws are computed with.")] = "lumped",
    wave_draws: Annotated[int, typer.Option(min=0, metavar="N", help="Of the draws, the first N, at least 4, are "
                                            "computed by waves too; 0: a third of the time, the spread is the "
                                            "lumped model's.")
                          ] = 8,
    seed: Annotated[int, typer.Option(help="Seed of the draws.")] = 0,
    calibration: Annotated[Path | None, typer.Option(metavar="FILE", show_default=False, help="A calibration card: "
                                                     "its values and ranges replace the base's.")] = None,
    tune: Annotated[Literal["fixed", "mbt", "knock-limited"], typer.Option(
        help="Spark of every engine: its card's, its own of best torque, or that held back by knock.")] = "fixed",
    units: Units = "si",
    json: Json = False,
    out: Annotated[list[Path] | None, typer.Option(metavar="PATH", show_default=False,
                                                   help="Write to a folder (.json and .png) or to a file by its "
                                                        "ending: .json .png .svg .pdf. Can be repeated.")] = None,
    store: Annotated[Path | None, typer.Option(metavar="FILE", show_default=False, help="Where computed points are "
                                               "kept and looked up; default: your cache folder.")] = None,
    no_store: Annotated[bool, typer.Option("--no-store", help="Keep nothing, look nothing up.")] = False,
    workers: Annotated[int | None, typer.Option(min=1, metavar="N", show_default=False,
                                                help="Processes; default: one per core.")] = None,
    scheduler: Annotated[str | None, typer.Option(metavar="ADDRESS", show_default=False,
                                                  help="Compute on the Dask cluster whose scheduler is there "
                                                       "(tcp://HOST:PORT).")] = None,
) -> None:
    """Rank candidate parts over an rpm band, each with the chance that the order is real; or search a range.

    What was computed is kept as it finishes: interrupted and started again, it goes on where it stopped.
    Ends with 3 when a candidate could not be computed.

    \b
    Example:
      pullcast rank configs/shortlists/hillclimb_shelf.toml --out shelf.json
      pullcast rank configs/shortlists/four_runner_grid.toml --screen 5
    """
    files = out_files.targets(out or [], shortlist.stem, (".json", ".png"), (".json", *out_files.PICTURES))

    from pullcast.card.shortlist import read_shortlist

    card = read_shortlist(shortlist)
    if calibration is not None:
        from pullcast.answers.calibrated_shortlist import calibrated
        from pullcast.answers.calibration_card import read_calibration

        card = calibrated(card, read_calibration(calibration))
    with ExitStack() as stack:
        kept = None
        if not no_store:
            from pullcast.solve.store import Store

            kept = stack.enter_context(Store(store))
        executor = None
        if scheduler:
            from pullcast.solve.cluster import cluster

            executor = stack.enter_context(cluster(scheduler))
        on_stage = stack.enter_context(stages(f"ranking {card.base.name}"))
        how = {"store": kept, "workers": workers, "executor": executor, "on_stage": on_stage, "seed": seed}
        if tune != "fixed":
            from pullcast.answers.tune import tuned_shortlist

            many = screen is not None or len(card.candidates) > 16
            card = tuned_shortlist(card, tune, "lumped" if many else fidelity or "wave", store=kept, workers=workers,
                                   executor=executor, on_tick=lambda tick: on_stage("tuning", tick))
        if card.spans:
            found = _search(card, fidelity, screen, how)
        else:
            from pullcast.answers.rank import rank as ranked

            found = ranked(card, fidelity=fidelity, screen=screen, samples=samples, spread=spread,
                           wave_draws=wave_draws, **how)
    _show(found, files, units, json)
    if any(p.trouble for p in getattr(found, "places", ())):
        raise typer.Exit(NOT_CONVERGED)


def _search(card, fidelity, screen, how):
    from pullcast.answers.search import search
    from pullcast.errors import InputError

    if screen is not None:
        msg = "--screen goes with candidates; this shortlist is a search over ranges"
        raise InputError(msg)
    return search(card, fidelity=fidelity or "wave", **how)


def _show(found, files: list[Path], units: str, json: bool) -> None:
    from pullcast.answers.ranking import Ranking
    from pullcast.show import rank_plots, rank_tables

    if isinstance(found, Ranking):
        from pullcast.answers.ranking_file import ranking_document

        document, view = ranking_document(found), rank_tables.ranking_view
        figure = rank_plots.ranking_figure
    else:
        document, view, figure = rank_tables.search_document(found), rank_tables.search_view, rank_plots.search_figure
    out_files.write(files, {".json": lambda: out_files.as_json(document)}, lambda: figure(found))
    if json:
        print_json(document | {"files": [str(f) for f in files]})
        return
    from pullcast.show.tables import console

    screen = console()
    screen.print(view(found, units))
    for file in files:
        screen.print(f"Written: {file}", soft_wrap=True, markup=False)
