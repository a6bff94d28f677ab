"""Tune: spark and mixture loops of an engine over speed, so that parts are compared each at its best tune.

Every speed is marched once at the card's spark; the closed part of its cycle is then marched again for each spark
(``pullcast.solve.charge``). What this leaves out is that another spark changes the exhaust, and with it pumping and
residual: so each speed is marched once more at the spark chosen, the loop run again from there, and the differences
reported. Another mixture changes them more: a mixture loop rests on marches at three lambdas beside the card's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from pullcast.answers.performance import performance
from pullcast.answers.speeds import checked_speeds
from pullcast.answers.tune_fuel import Demand, demand
from pullcast.answers.tune_loop import SparkLoop, base_of, loop_of, sparks_about
from pullcast.answers.tune_mixture import LAMBDAS, MixtureLoop, marched_lambdas, mixture_loop, with_lambda
from pullcast.card.engine import Engine
from pullcast.errors import InputError, SolveError
from pullcast.results.html import answer_html
from pullcast.solve import jobs
from pullcast.solve.charge import Charge, charge_of
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point
from pullcast.solve.sweep import Failed, sweep

HOW = ("fixed", "mbt", "knock-limited")
WAYS = {"fixed": "the card's own spark", "mbt": "least spark for best torque at every speed, knock not looked at",
        "knock-limited": "least spark for best torque at every speed, held back where the end gas would knock"}
SPARKS = 15
Progress = Callable[[float, int, int, str], None]


@dataclass(frozen=True)
class Settled:
    """What marching once more at the chosen spark changed: torque forecast by the loop and then marched (N m), MBT
    of the first loop and of the second (deg)."""

    expected: float
    torque: float
    first_mbt: float
    mbt: float

    @property
    def change(self) -> float:
        """Marched less expected torque, over the marched."""
        return (self.torque - self.expected) / self.torque


@dataclass(frozen=True, repr=False)
class Tuning:
    """The loops of an engine over ``speeds`` (rpm). Entries are None where a speed broke down (see ``failures``).

    ``how`` is what was aimed at ("mbt" or "knock-limited"); ``settled`` holds None when nothing was marched again;
    ``charges`` are what the cylinders trapped in the last march.
    """

    engine: Engine
    how: str
    fidelity: str
    speeds: tuple[float, ...]
    loops: tuple[SparkLoop | None, ...]
    mixtures: tuple[MixtureLoop | None, ...]
    settled: tuple[Settled | None, ...]
    failures: tuple[tuple[float, str], ...]
    charges: tuple[Charge | None, ...] = ()

    def strongest(self) -> int:
        """Index of the speed of the highest torque."""
        good = [(loop.at("torque", loop.best(self.how)), i) for i, loop in enumerate(self.loops) if loop is not None]
        return max(good)[1]

    def fuel(self) -> Demand | None:
        """What the engine asks of its fuel system at the speed of its greatest fuel flow; None when it makes none."""
        rows = [(loop.base.fuel * loop.rpm / 120, loop) for loop in self.loops if loop is not None]
        flow, loop = max(rows, key=lambda row: row[0])
        power = loop.at("torque", loop.best(self.how)) * loop.rpm * np.pi / 30
        return demand(self.engine, loop.rpm, power, flow / power) if power > 0.0 and flow > 0.0 else None

    def table(self) -> tuple[tuple[float, float], ...]:
        """(rpm, spark) rows to run at."""
        return tuple((loop.rpm, loop.best(self.how)) for loop in self.loops if loop is not None)

    def tuned(self) -> Engine:
        """The engine with that spark table; ``burn.timing`` is then "spark"."""
        return with_sparks(self.engine, self.table())

    def __repr__(self) -> str:
        """A sentence and a row a speed."""
        rows = [f"{p.rpm:7.0f} rpm  spark {p.best(self.how):4.1f} deg (MBT {p.mbt:.1f})"
                for p in self.loops if p is not None]
        return "\n".join([f"{self.engine.name}: {WAYS[self.how]} ({self.fidelity} model)", *rows,
                          *(f"{rpm:7.0f} rpm  {why}" for rpm, why in self.failures)])

    def _repr_html_(self) -> str:
        rows = [(f"{p.rpm:.0f}", f"{p.best(self.how):.1f}", f"{p.mbt:.1f}", f"{p.flat[0]:.0f} to {p.flat[1]:.0f}",
                 f"{p.at('torque', p.best(self.how)):.1f}") for p in self.loops if p is not None]
        heads = ("speed, rpm", "spark, deg", "MBT, deg", "within 0.5 %, deg", "torque, N m")
        return answer_html([f"{self.engine.name}: {WAYS[self.how]} ({self.fidelity} model)"], heads, rows,
                           [f"{rpm:.0f} rpm: {why}" for rpm, why in self.failures])


def with_sparks(engine: Engine, table: Sequence[tuple[float, float]]) -> Engine:
    """The engine with a spark table of (rpm, deg before firing TDC) rows."""
    return replace(engine, burn=replace(engine.burn, timing="spark", table=tuple(table)))


def checked_how(how: str) -> str:
    """One of ``HOW``; InputError otherwise."""
    if how not in HOW:
        msg = f"no tune {how!r}; there are {', '.join(f'{h} ({WAYS[h]})' for h in HOW)}"
        raise InputError(msg)
    return how


def loop_at(engine: Engine, point: Point, count: int = SPARKS) -> SparkLoop:
    """The spark loop of a marched point; moved on while its best torque lies at its end and sparks are left."""
    charge = charge_of(engine, point)
    base = base_of(engine, point, charge)
    sparks = sparks_about(base, count)
    for _ in range(4):
        loop = loop_of(charge, base, sparks)
        early = loop.peak == sparks[-1] and sparks[-1] < 58.0
        if loop.inside or not (early or loop.peak == sparks[0]):
            break
        shift = min(10.0, 58.0 - sparks[-1]) if early else -10.0
        if sparks[0] + shift < -20.0:
            break
        sparks = sparks + shift
    return loop


def _loops(engine: Engine, points: Sequence[Point | Failed], count: int) -> list[SparkLoop | None]:
    def one(point):
        return None if isinstance(point, Failed) else loop_at(engine, point, count)

    with ThreadPoolExecutor(2) as pool:  # the kernel lets threads run side by side
        return list(pool.map(one, points))


def tuned(engine: Engine, speeds: Sequence[float] | None = None, how: str = "mbt", *, fidelity: str = "wave",
          numerics: Numerics | None = None, workers: int | None = None, executor=None,
          on_point: Progress | None = None) -> Engine:
    """The engine with the spark of ``how`` at each speed: what ``predict``, ``rank`` and ``explain`` run on.

    "fixed" gives the engine back. One march a speed; the spark comes from the loop on its trapped charge. Speeds that
    broke down get no row. Raises SolveError when all broke down, InputError for an unknown ``how``.
    """
    if checked_how(how) == "fixed":
        return engine
    wanted = checked_speeds(engine, speeds)
    points = sweep(engine, wanted, numerics, workers=workers, on_point=on_point, executor=executor, fidelity=fidelity)
    table = [(loop.rpm, loop.best(how)) for loop in _loops(engine, points, SPARKS) if loop is not None]
    return with_sparks(engine, _some(table, points))


def tuned_all(engines: Sequence[Engine], speeds: Sequence[float], how: str, *, fidelity: str = "wave",
              numerics: Numerics | None = None, store=None, workers: int | None = None, executor=None,
              on_tick=None, level: float = 1.0) -> list[Engine]:
    """Many engines, each with the spark of ``how``; an engine that breaks down at every speed comes back as it was.

    ``level`` is the knock integral that "knock-limited" goes to.
    ``numerics``, ``store``, ``workers``, ``executor`` and ``on_tick`` as in ``pullcast.solve.jobs.run``.
    """
    if checked_how(how) == "fixed":
        return list(engines)
    found = jobs.run([jobs.Job(e, float(rpm), fidelity, numerics or Numerics()) for e in engines for rpm in speeds],
                     store=store, workers=workers, executor=executor, on_tick=on_tick).results
    made, n = [], len(speeds)
    for i, engine in enumerate(engines):
        loops = _loops(engine, found[i * n : (i + 1) * n], SPARKS)
        table = [(loop.rpm, loop.best(how, level)) for loop in loops if loop is not None]
        made.append(with_sparks(engine, table) if table else engine)
    return made


def tuned_shortlist(shortlist, how: str, fidelity: str = "wave", **means):
    """A shortlist (``pullcast.card.shortlist.Shortlist``) whose base and candidates each run at their best spark; its
    name and its base's say so. "knock-limited" keeps the shortlist's knock margin, and a hundredth more.

    ``means`` as for :func:`tuned_all`. Raises InputError for a search, whose engines are not known yet.
    """
    if checked_how(how) == "fixed":
        return shortlist
    if shortlist.spans:
        msg = f"{shortlist.name} is a search: its engines are made as it goes, at the card's spark; leave --tune out"
        raise InputError(msg)
    engines = [shortlist.base, *(c.engine for c in shortlist.candidates)]
    margin = next((c.value + 0.01 for c in shortlist.constraints if c.name == "knock_margin"), 0.0)
    base, *others = tuned_all(engines, shortlist.band.speeds, how, fidelity=fidelity, level=1.0 - margin, **means)
    candidates = tuple(replace(c, engine=e) for c, e in zip(shortlist.candidates, others, strict=True))
    told = f"each tuned ({how}, spark by the {fidelity} model)"
    return replace(shortlist, name=f"{shortlist.name}, {told}", base=replace(base, name=f"{base.name}, {told}"),
                   candidates=candidates)


def _some(table: list, points: Sequence[Point | Failed]) -> list:
    if not table:
        msg = f"no speed could be tuned; the first to fail: {points[0].message}"
        raise SolveError(msg)
    return table


def tune(engine: Engine, *, speeds: Sequence[float] | None = None, how: str = "knock-limited", fidelity: str = "wave",
         cell: float = 0.025, workers: int | None = None, sparks: int = SPARKS, mixture: bool = True,
         settle_again: bool = True, lambdas: Sequence[float] = LAMBDAS, on_point: Progress | None = None) -> Tuning:
    """Spark and mixture loops at every speed.

    Parameters
    ----------
    engine
        A resolved engine.
    speeds
        rpm; default: those of the card.
    how
        "mbt" or "knock-limited": the spark the table and the mixture loop take.
    fidelity
        "wave" or "lumped".
    cell
        Target length of the duct cells, m.
    workers
        Processes of the march; default one a core.
    sparks
        Sparks in a loop, 5 or more.
    mixture
        Loop over lambda as well, on marches at both ends of the loop and at lambda 1.
    settle_again
        March once more at the chosen spark and loop again from there; what that changed is in ``settled``.
    lambdas
        Of the mixture loop.
    on_point
        Called as ``on_point(rpm, done, total, note)``.

    Raises InputError for an unknown ``how`` or speeds out of range, SolveError when every speed broke down.

    """
    if checked_how(how) == "fixed":
        msg = "to tune is to change the spark: how is mbt or knock-limited"
        raise InputError(msg)
    wanted = checked_speeds(engine, speeds)
    numerics = replace(Numerics(), cell=cell)
    total = len(wanted) * marches(engine, mixture, settle_again, lambdas)

    def march(which: Engine, done: int) -> list[Point | Failed]:
        tell = (lambda rpm, n, _, note: on_point(rpm, done + n, total, note)) if on_point else None
        return sweep(which, wanted, numerics, workers=workers, on_point=tell, fidelity=fidelity)

    points, now, settled = march(engine, 0), engine, (None,) * len(wanted)
    loops = _loops(engine, points, sparks)
    if settle_again:
        first = loops
        now = with_sparks(engine, _some([(lp.rpm, lp.best(how)) for lp in loops if lp is not None], points))
        points = march(now, len(wanted))
        loops = _loops(now, points, sparks)
        settled = tuple(_settled(now, p, a, b, how) for p, a, b in zip(points, first, loops, strict=True))
    _some([lp for lp in loops if lp is not None], points)
    mixtures = (None,) * len(wanted)
    if mixture:
        others = [with_lambda(now, lam) for lam in marched_lambdas(now, lambdas)]
        away = [(e, march(e, len(wanted) * (1 + settle_again + i))) for i, e in enumerate(others)]
        mixtures = _mixtures(now, points, loops, how, lambdas, away)
    failures = tuple((p.rpm, p.message) if isinstance(p, Failed) else (p.rpm, p.status) for p in points
                     if isinstance(p, Failed) or not p.converged)
    charges = tuple(None if isinstance(p, Failed) else charge_of(now, p) for p in points)
    return Tuning(now, how, fidelity, tuple(wanted), tuple(loops), tuple(mixtures), settled, failures, charges)


def marches(engine: Engine, mixture: bool = True, settle_again: bool = True,
            lambdas: Sequence[float] = LAMBDAS) -> int:
    """How often ``tune`` marches each speed."""
    return 1 + settle_again + (len(marched_lambdas(engine, lambdas)) if mixture else 0)


def _settled(engine: Engine, point: Point | Failed, first: SparkLoop | None, loop: SparkLoop | None,
             how: str) -> Settled | None:
    if first is None or loop is None:
        return None
    marched = float(performance(engine, point)["torque"])
    return Settled(first.at("torque", first.best(how)), marched, first.mbt, loop.mbt)


def _mixtures(engine: Engine, points, loops, how: str, lambdas, away) -> list[MixtureLoop | None]:
    """Mixture loops of all speeds; ``away``: the engine at other lambdas, and its points there."""
    def one(i: int):
        if loops[i] is None:
            return None
        others = [(e, marched[i]) for e, marched in away if not isinstance(marched[i], Failed)]
        held = [(charge_of(e, p), p, e) for e, p in others]
        return mixture_loop(charge_of(engine, points[i]), loops[i], how, np.asarray(lambdas),
                            [(c, base_of(e, p, c)) for c, p, e in held])

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(one, range(len(points))))
