"""``pullcast predict``: from an engine card to a full-load curve."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from pullcast.cli import outputs, predict_sure
from pullcast.cli.options import Card, Json, Units, parse_cell, parse_speeds, parse_station, print_json
from pullcast.cli.progress import points
from pullcast.errors import InputError

Basis = Literal["observed", "j1349", "std", "iso1585", "din70020"]
NOT_CONVERGED = 3


def _keys(wanted: bool) -> None:
    if wanted:
        from pullcast.results.variables import keys_reference

        print(f"{keys_reference('si')}\n\nWith --units us:\n\n{keys_reference('us')}")
        raise typer.Exit


def predict(
    card: Card,
    speeds: Annotated[str | None, typer.Option(metavar="RPM", show_default=False, help="Speeds as first:last:step or "
                                               "a list with commas; default: the card's.")] = None,
    basis: Annotated[Basis, typer.Option(help="Correct brake torque, power and BMEP to a basis.")] = "observed",
    units: Units = "si",
    full: Annotated[bool, typer.Option("--full", help="Print every number a speed has, in three tables.")] = False,
    json: Json = False,
    out: Annotated[list[Path] | None, typer.Option(metavar="PATH", show_default=False, help="Write to a folder "
                                                   "(netCDF, CSV, picture) or to a file by its ending: .nc .csv "
                                                   ".png .svg .pdf. Can be repeated.")] = None,
    traces: Annotated[bool, typer.Option("--traces", help="Keep pressure, flow and lift over crank angle.")] = False,
    station: Annotated[list[str] | None, typer.Option(metavar="PIPE:LENGTH", show_default=False, help="Also keep the "
                                                      "gas state there, as 'primary 1:300 mm'. Can be "
                                                      "repeated.")] = None,
    fidelity: Annotated[Literal["wave", "lumped"], typer.Option(help="Waves, or the quick lumped model that sees "
                                                                "restriction and inertia but no waves.")] = "wave",
    cell: Annotated[str, typer.Option(metavar="LENGTH", help="Target length of the duct cells.")] = "25 mm",
    workers: Annotated[int | None, typer.Option(min=1, metavar="N", show_default=False,
                                                help="Processes; default: one per core.")] = None,
    tune: Annotated[Literal["fixed", "mbt", "knock-limited"], typer.Option(help="Spark: the card's, that of best "
                                                                           "torque at each speed, or that held back "
                                                                           "by knock.")] = "fixed",
    calibration: Annotated[Path | None, typer.Option(metavar="FILE", show_default=False, help="Calibrated values; "
                                                     "their pulls never score this forecast.")] = None,
    interval: Annotated[bool, typer.Option("--interval", help="Work out how sure the torque is and keep it in the "
                                           ".nc, for a later comparison: some 25 more points.")] = False,
    store: Annotated[Path | None, typer.Option(metavar="FILE", show_default=False, help="Keep points in this file as "
                                               "they finish; what it holds is not computed again, so that a run that "
                                               "was stopped goes on.")] = None,
    error_bar: Annotated[bool, typer.Option("--error-bar", help="Also estimate the numerical error of torque from "
                                            "finer marches: about nine times the work.")] = False,
    keys: Annotated[bool, typer.Option("--keys", callback=_keys, is_eager=True,
                                       help="List the keys of JSON and CSV with their meaning, and leave.")] = False,
) -> None:
    """Forecast the full-load curve of an engine: torque, power, VE and what stands beside them.

    Ends with 3 when a speed did not converge; the speeds that did are shown and written.

    \b
    Example:
      pullcast predict configs/engines/hillclimb_v8.toml --units us --basis std --out out
    """
    rpm = None if speeds is None else parse_speeds(speeds)
    length = parse_cell(cell)
    stations = [parse_station(text) for text in station or []]
    traces = traces or bool(stations)
    files = outputs.targets(out or [], card, traces)

    from pullcast.answers.curves import predict as forecast
    from pullcast.card import read_engine

    if error_bar and fidelity != "wave":
        msg = f"--error-bar is an estimate of the wave model's error; leave it or --fidelity {fidelity} out"
        raise InputError(msg)
    as_carded = read_engine(card)
    engine, fitted = predict_sure.calibrated(as_carded, calibration)
    change = correction(basis, engine.day)
    with points(len(rpm or engine.speeds), f"predicting {engine.name}") as on_point, _store(store) as kept:
        curve = forecast(engine, speeds=rpm, cell=length, workers=workers, traces=traces, on_point=on_point,
                         fidelity=fidelity, stations=stations, tune=tune, store=kept)
    if change is not None:
        curve = curve.corrected(*change)
    if fitted is not None or interval:
        curve = predict_sure.marked(curve, as_carded, fitted, interval, fidelity=fidelity, cell=length,
                                    workers=workers)
    outputs.write(files, curve, units)
    show(curve, units, json, files, full, _bar(engine, rpm, length, workers) if error_bar else None)
    if not curve.converged:
        raise typer.Exit(NOT_CONVERGED)


def _store(path: Path | None):
    """The store of ``--store``, or none."""
    from contextlib import nullcontext

    if path is None:
        return nullcontext()
    from pullcast.solve.store import Store

    return Store(path)


def _bar(engine, rpm: list[float] | None, cell: float, workers: int | None):
    """Error bar of the torque at the curve's own settings."""
    from dataclasses import replace

    from pullcast.answers.convergence import error_bar
    from pullcast.solve.numerics import Numerics

    with points(4 * len(rpm or engine.speeds), f"error bar of {engine.name}") as on_point:
        return error_bar(engine, rpm, numerics=replace(Numerics(), cell=cell), workers=workers, on_point=on_point)


def correction(basis: str, day) -> tuple[float, str, str] | None:
    """Factor, basis and a note with formula, dry pressure and range; None for "observed"."""
    if basis == "observed":
        return None
    from pullcast.pulls.correction import correction_factor

    c = correction_factor(basis, day.pressure, day.temperature, day.humidity)
    celsius = day.temperature - 273.15
    note = f"{c.basis.upper()}: {c.formula}, at {c.dry_pressure / 100:.1f} hPa dry and {celsius:.1f} °C."
    if not c.in_range:
        note += f" Out of range: {c.note}."
    return c.factor, c.basis, note


def show(curve, units: str, json: bool, files: list[Path], full: bool = False, bar=None) -> None:
    """Print the curve (and its error bar if there is one) for people, or as JSON."""
    if json:
        from pullcast.results.records import document

        more = {} if bar is None else {"error_bar": bar.records(), "error_bar_notes": list(bar.notes)}
        print_json(document(curve, units) | more | {"files": [str(f) for f in files if f.exists()]})
        return
    from pullcast.show.tables import console, curve_view

    screen = console()
    screen.print(curve_view(curve, units, full))
    if bar is not None:
        screen.print(repr(bar), markup=False)
    for file in filter(Path.exists, files):
        screen.print(f"Written: {file}", soft_wrap=True, markup=False)
