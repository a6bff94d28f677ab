"""Predict: an engine at full load over speed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from pullcast.answers.speeds import checked_speeds
from pullcast.card.engine import Engine, must_be_engine
from pullcast.errors import InputError, SolveError


def checked_stations(engine: Engine, stations: Sequence[tuple[str, float]], fidelity: str) -> tuple:
    """Duct stations that exist; InputError naming the pipes there are, or a distance beyond the pipe."""
    from pullcast.network.build import build

    if not stations:
        return ()
    if fidelity != "wave":
        msg = "stations along a pipe need the wave model: a lumped pipe has one state"
        raise InputError(msg)
    lengths = {p.name: p.length for p in build(engine).pipes}
    for pipe, x in stations:
        if pipe not in lengths:
            msg = f"no pipe is called '{pipe}'; this engine has: {', '.join(lengths)}"
            raise InputError(msg)
        if not 0.0 <= x <= lengths[pipe]:
            msg = f"station {1e3 * x:g} mm is not on pipe '{pipe}', which is {1e3 * lengths[pipe]:.0f} mm long"
            raise InputError(msg)
    return tuple((str(p), float(x)) for p, x in stations)


def predict(engine: Engine, *, speeds: Sequence[float] | None = None, cell: float = 0.025,
            workers: int | None = None, traces: bool = False,
            on_point: Callable[[float, int, int, str], None] | None = None, executor=None, numerics=None,
            fidelity: str = "wave", stations: Sequence[tuple[str, float]] = (), tune: str = "fixed", store=None):
    """The full-load curve of an engine, solved wave by wave, or by the lumped model.

    Parameters
    ----------
    engine
        A resolved engine (``pullcast.card.read_engine``).
    speeds
        rpm; default: those of the card.
    cell
        Target length of the duct cells, m.
    workers
        Processes; default: one a core. 1 computes in this process.
    traces
        Keep pressures, flows and lifts over crank angle.
    on_point
        Called as ``on_point(rpm, done, total, note)`` when a point is finished.
    executor
        Any ``concurrent.futures`` executor to run on instead of local processes.
    numerics
        ``pullcast.solve.numerics.Numerics`` for full control; ``cell`` is then ignored.
    fidelity
        "wave", or "lumped" for screening: restriction and inertia ram but no waves
        (``pullcast.answers.fidelity.discrepancy`` measures by how much the two differ on an engine).
    stations
        (pipe, metres from its start): pressure, velocity and temperature there over crank angle. Wave model only.
    tune
        "fixed": the card's spark. "mbt" or "knock-limited": each speed at its best spark, found first by
        ``pullcast.answers.tune.tuned`` at the cost of one more march a speed; kept as the attribute ``tune``.
    store
        A ``pullcast.solve.store.Store``: points are kept there as they finish, and what it holds is not computed.

    Returns
    -------
    pullcast.results.Curve
        With one row a speed. Speeds that did not converge or broke down say so in ``status``.

    Raises InputError for speeds out of range, an unknown pipe or tune, SolveError when every speed broke down.

    """
    from pullcast.solve.numerics import Numerics
    from pullcast.solve.sweep import sweep

    must_be_engine(engine, "predict")
    wanted = checked_speeds(engine, speeds)
    stations = checked_stations(engine, stations, fidelity)
    traces = traces or bool(stations)
    numerics = numerics or replace(Numerics(), cell=cell)
    asked = engine
    if tune != "fixed":
        from pullcast.answers.tune import tuned

        engine = tuned(engine, wanted, tune, fidelity=fidelity, numerics=numerics, workers=workers, executor=executor,
                       on_point=on_point)
    how = {"workers": workers, "executor": executor}
    if store is None:
        points = sweep(engine, wanted, numerics, traces=traces, on_point=on_point, stations=stations,
                       fidelity=fidelity, **how)
    else:
        points = _kept(engine, wanted, numerics, traces, stations, fidelity, store, on_point, how)
    labels = [f"{pipe}, {1e3 * x:g} mm" for pipe, x in stations]
    made = curve_of_points(asked, points, fidelity=fidelity, cell=numerics.cell, marched=engine, traces=traces,
                           labels=labels)
    made.dataset.attrs["tune"] = tune
    return made


def _kept(engine: Engine, speeds: Sequence[float], numerics, traces: bool, stations: tuple, fidelity: str, store,
          on_point: Callable | None, how: dict) -> list:
    """Points out of the store or into it. Raises StoreError when it cannot be read."""
    from pullcast.solve.jobs import Job, run

    tell = (lambda t: on_point(t.rpm, t.done, t.total, t.note)) if on_point else None
    jobs = [Job(engine, rpm, fidelity, numerics, traces, stations) for rpm in speeds]
    return run(jobs, store=store, on_tick=tell, **how).results


def curve_of_points(engine: Engine, points: Sequence, *, fidelity: str, cell: float, marched: Engine | None = None,
                    traces: bool = False, labels: Sequence[str] = ()):
    """The curve of points already marched (``pullcast.solve.sweep``), speeds rising.

    ``marched`` is the engine that was marched where it is not the one asked for (its spark tuned). ``labels`` name
    the stations. Raises SolveError when every point broke down.
    """
    from pullcast import __version__
    from pullcast.answers.performance import reference_density, rows_of
    from pullcast.results.curve import Curve
    from pullcast.results.dataset import curve_dataset
    from pullcast.results.provenance import provenance_of

    marched = marched or engine
    rows = rows_of(marched, points, traces)
    if not rows:
        msg = f"no speed could be computed; the first to fail: {points[0].message}"
        raise SolveError(msg)
    where_from = provenance_of(engine, version=__version__, reference_density=reference_density(marched),
                               cell=cell if fidelity == "wave" else math.nan, fidelity=fidelity)
    dataset = curve_dataset([p.rpm for p in points], rows, where_from, labels)
    dataset.attrs["tune"] = "fixed"
    return Curve(dataset)
