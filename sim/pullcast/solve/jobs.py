"""Many points of many engines over any executor, kept in a store as they finish.

What is stored is not computed again, so that a run that was interrupted goes on where it stopped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import closing
from dataclasses import dataclass, field

from pullcast.card.engine import Engine
from pullcast.errors import InputError, SolveError
from pullcast.solve import crew
from pullcast.solve.ledger import Ledger, Outcome, Tick
from pullcast.solve.lumped import settle_lumped
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point, settle
from pullcast.solve.store import Store
from pullcast.solve.sweep import Failed, default_workers, lumped_points
from pullcast.solve.warm import warm

FIDELITIES = ("wave", "lumped")
# Lumped points are too quick to be sent one by one and march side by side; towards the end of a task lanes run dry.
IN_ONE_TASK = {"wave": 1, "lumped": 128}
LUMPED_WORK = 0.03  # in the unit of Job.work: a thirteenth of a V8 wave point at 4000 rpm, 25 mm cells (timed)

Solve = Callable[["Job"], Point | Failed]


@dataclass(frozen=True)
class Job:
    """One point to compute: an engine at ``rpm``, "wave" or "lumped"; the rest as in ``pullcast.solve.settle``."""

    engine: Engine
    rpm: float
    fidelity: str = "wave"
    numerics: Numerics = field(default_factory=Numerics)
    traces: bool = False
    stations: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        """Refuse a fidelity that there is not."""
        if self.fidelity not in FIDELITIES:
            msg = f"no fidelity {self.fidelity!r}; there are {' and '.join(FIDELITIES)}"
            raise InputError(msg)

    @property
    def work(self) -> float:
        """Expected computing time in no unit: a cycle by waves takes steps by its duration (1/rpm) and by 1/cell,
        over 1/cell cells; a lumped one takes steps by crank angle."""
        return self.numerics.cell**-2.0 / self.rpm if self.fidelity == "wave" else LUMPED_WORK


def solve_job(job: Job) -> Point | Failed:
    """Compute one job here: a point, or why there is none."""
    try:
        march = settle_lumped if job.fidelity == "lumped" else settle
        return march(job.engine, job.rpm, job.numerics, traces=job.traces, stations=job.stations)
    except SolveError as error:
        return Failed(job.rpm, str(error))


def run(jobs: Sequence[Job], *, store: Store | None = None, workers: int | None = None,
        executor: Executor | None = None, on_tick: Callable[[Tick], None] | None = None,
        solve: Solve = solve_job) -> Outcome:
    """Compute every job that is not in ``store``; equal jobs are computed once.

    Parameters
    ----------
    jobs
        What to compute, in any mixture of engines, speeds and fidelities.
    store
        Where points are looked up and kept; None keeps nothing. A store that can no longer be written is written to
        no more, with a warning in the outcome.
    workers
        Processes, default one a core; 1 computes in this process. Without effect when ``executor`` is given.
    executor
        Any ``concurrent.futures`` executor (``pullcast.solve.cluster.cluster`` gives that of a cluster).
    on_tick
        Called with a ``Tick`` as points finish.
    solve
        What computes one job; a module-level function, since it is sent to the workers.

    Returns
    -------
    Outcome
        Results in the order of ``jobs``. One that could not be computed is a ``Failed`` with its reason: the march
        broke down, or its worker died twice on it, or the executor gave it up. Only the first kind is stored: the
        others may go well next time.

    Raises StoreError when the store cannot be read, and what ``solve`` raises other than SolveError.

    """
    ledger = Ledger(jobs, store, on_tick)
    todo = ledger.look_up()
    if executor is None and solve is solve_job:
        _warm(todo, ledger)
    workers = workers or default_workers(len(todo))
    groups = list(_grouped(todo, len(todo) // (4 * workers)))
    split: list[Job] = []
    for group, answer in _answers(groups, solve, workers, executor):
        if isinstance(answer, crew.Lost) and len(group) > 1:
            split += group
        else:
            ledger.keep(group, answer)
    for group, answer in _answers([[job] for job in split], solve, workers, executor):
        ledger.keep(group, answer)
    return ledger.outcome()


def _warm(todo: list[Job], ledger: Ledger) -> None:
    """Have the kernels compiled before work is handed out, so that not every worker waits for it."""
    if todo:
        warm(lambda text: ledger.tell(todo[0].rpm, text))
    ledger.restart_clock()


def _grouped(jobs: list[Job], most: int) -> Iterator[list[Job]]:
    """Jobs in groups to be sent as one task, at most ``most`` in one, an engine's speeds together if may be."""
    group: list[Job] = []
    for job in jobs:
        size = max(1, min(most, IN_ONE_TASK[job.fidelity]))
        another = group and job.engine is not group[-1].engine and 2 * len(group) >= size
        if group and (another or len(group) >= size or job.fidelity != group[0].fidelity):
            yield group
            group = []
        group.append(job)
    if group:
        yield group


def _answers(groups: list[list[Job]], solve: Solve, workers: int,
             executor: Executor | None) -> Iterator[tuple[list[Job], tuple[str, list[Point | Failed]] | crew.Lost]]:
    tasks = [(solve, group) for group in groups]
    if executor is not None:
        done = crew.outside(executor, _stamped, tasks)
    elif workers == 1:
        done = ((i, _stamped(task)) for i, task in enumerate(tasks))
    else:
        done = crew.processes(min(workers, len(tasks)), _stamped, tasks)
    with closing(done):
        for i, answer in done:
            yield groups[i], answer


def _stamped(task: tuple[Solve, list[Job]]) -> tuple[str, list[Point | Failed]]:
    """In a worker: the results, with the stamp of the program that computed them."""
    from pullcast.solve.keys import program_stamp

    solve, jobs = task
    if solve is solve_job and all(job.fidelity == "lumped" for job in jobs):
        return program_stamp(), _side_by_side(jobs)
    return program_stamp(), [solve(job) for job in jobs]


def _side_by_side(jobs: list[Job]) -> list[Point | Failed]:
    """Lumped jobs, those of the same settings marched together."""
    settings: dict[tuple, list[int]] = {}
    for i, job in enumerate(jobs):
        settings.setdefault((job.numerics, job.traces, job.stations), []).append(i)
    found: dict[int, Point | Failed] = {}
    for how, mine in settings.items():
        points = lumped_points([jobs[i].engine for i in mine], [jobs[i].rpm for i in mine], *how)
        found |= zip(mine, points, strict=True)
    return [found[i] for i in range(len(jobs))]
