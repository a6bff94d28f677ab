"""Runs of many jobs: resumed, computed once, killed workers survived, time left told."""

import os
import signal
import sqlite3
import subprocess
import sys
import textwrap
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

import engines
from points import invented
from pullcast.errors import InputError, StoreError
from pullcast.solve import crew
from pullcast.solve.jobs import IN_ONE_TASK, Job, _grouped, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point
from pullcast.solve.store import Store
from pullcast.solve.sweep import Failed

ENGINE = engines.single()
KILLER = 4444.0


def log(rpm):
    with Path(os.environ["JOBS_LOG"]).open("a") as file:
        file.write(f"{rpm:g} {os.getpid()}\n")


def solve(job):
    log(job.rpm)
    return invented(job.rpm, seed=int(job.rpm))


def slow(job):
    time.sleep(0.03)
    return solve(job)


def killed_at_one_speed(job):
    time.sleep(0.02)
    log(job.rpm)
    if job.rpm == KILLER:
        os.kill(os.getpid(), signal.SIGKILL)
    return invented(job.rpm, seed=int(job.rpm))


def killed_once(job):
    time.sleep(0.02)
    first = job.rpm == KILLER and KILLER not in seen()
    log(job.rpm)
    if first:
        os.kill(os.getpid(), signal.SIGKILL)
    return invented(job.rpm, seed=int(job.rpm))


def broken_down(job):
    log(job.rpm)
    return Failed(job.rpm, f"the march broke down at {job.rpm:g} rpm")


def refused(job):
    msg = "no such thing"
    raise InputError(msg)


def odd(job):
    msg = "a slip of the programmer"
    raise ValueError(msg)


def seen():
    path = Path(os.environ["JOBS_LOG"])
    return [float(line.split()[0]) for line in path.read_text().splitlines()] if path.exists() else []


@pytest.fixture(autouse=True)
def _logged(tmp_path, monkeypatch):
    monkeypatch.setenv("JOBS_LOG", str(tmp_path / "log"))


@pytest.fixture
def store(tmp_path):
    with Store(tmp_path / "points.sqlite3") as opened:
        yield opened


def jobs_at(*speeds, **changes):
    return [Job(ENGINE, float(s), **changes) for s in speeds]


def check(outcome, jobs):
    assert [r.rpm for r in outcome.results] == [j.rpm for j in jobs]
    for result, job in zip(outcome.results, jobs, strict=True):
        if isinstance(result, Point):
            assert np.array_equal(result.out, invented(job.rpm, seed=int(job.rpm)).out)


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("fidelity", ["wave", "lumped"])
def test_results_come_in_order_and_a_second_run_computes_nothing(store, workers, fidelity):
    jobs = jobs_at(5000, 1000, 3000, *range(6000, 9000, 50), fidelity=fidelity)
    first = run(jobs, store=store, workers=workers, solve=solve)
    check(first, jobs)
    assert (first.stored, first.computed) == (0, 63)
    assert sorted(seen()) == sorted(j.rpm for j in jobs)
    again = run(jobs, store=store, workers=workers, solve=odd)
    check(again, jobs)
    assert (again.stored, again.computed, again.warnings) == (63, 0, ())


def test_equal_jobs_are_computed_once():
    twins = [Job(engines.single(), 3000.0), Job(engines.single(name="another"), 3000.0), Job(ENGINE, 4000.0)]
    outcome = run(twins, workers=1, solve=solve)
    check(outcome, twins)
    assert sorted(seen()) == [3000.0, 4000.0]
    assert outcome.computed == 2


def test_what_differs_is_not_taken_from_the_store(store):
    run(jobs_at(3000), store=store, workers=1, solve=solve)
    others = [*jobs_at(3000, fidelity="lumped"), *jobs_at(3000, numerics=Numerics(cell=0.02)),
              *jobs_at(3000, traces=True), Job(engines.single(engine_class="twin"), 3000.0)]
    assert run(others, store=store, workers=1, solve=solve).computed == 4


def test_longest_jobs_go_first_and_ticks_tell_the_time_left(store):
    run(jobs_at(2500), store=store, workers=1, solve=solve)
    ticks = []
    outcome = run(jobs_at(6000, 1000, 3000, 2500), store=store, workers=1, solve=slow, on_tick=ticks.append)
    assert seen()[1:] == [1000.0, 3000.0, 6000.0]
    assert outcome.stored == 1
    assert [(t.done, t.total, t.stored) for t in ticks] == [(1, 4, 1), (2, 4, 1), (3, 4, 1), (4, 4, 1)]
    assert ticks[0].left is None
    assert ticks[0].note == "1 of 4 were stored before"
    # after 1000 rpm two thirds of the work 1/1000 + 1/3000 + 1/6000 are done
    assert ticks[1].left == pytest.approx(ticks[1].elapsed / 2)
    assert ticks[-1].left == 0.0


def test_a_worker_killed_on_one_point_loses_only_that(store):
    jobs = jobs_at(*range(1000, 3000, 100), KILLER)
    outcome = run(jobs, store=store, workers=2, solve=killed_at_one_speed)
    check(outcome, jobs)
    failed = [r for r in outcome.results if isinstance(r, Failed)]
    assert [f.rpm for f in failed] == [KILLER]
    assert failed[0].message.startswith("its worker process was killed twice while computing it")
    assert "run again to try once more (single at 4444 rpm)" in failed[0].message
    assert len(store) == 20
    assert seen().count(KILLER) == 2
    assert len(seen()) <= 20 + 2 + 1  # at most the neighbour that ran beside it is computed again
    assert run(jobs, store=store, workers=2, solve=solve).computed == 1


def test_a_worker_killed_once_costs_nothing(store):
    jobs = jobs_at(*range(1000, 2000, 100), KILLER)
    outcome = run(jobs, store=store, workers=2, solve=killed_once)
    check(outcome, jobs)
    assert all(isinstance(r, Point) for r in outcome.results)
    assert len(store) == 11


def test_a_killed_group_of_lumped_points_loses_one():
    jobs = jobs_at(*range(1000, 9000, 50), KILLER, fidelity="lumped")
    assert max(map(len, _grouped(jobs, len(jobs)))) == IN_ONE_TASK["lumped"]
    outcome = run(jobs, workers=2, solve=killed_at_one_speed)
    check(outcome, jobs)
    assert [r.rpm for r in outcome.results if isinstance(r, Failed)] == [KILLER]


def test_workers_that_cannot_start_are_reported(monkeypatch):
    monkeypatch.setattr(crew, "start_worker", _die)
    outcome = run(jobs_at(1000, 2000, 3000), workers=2, solve=solve)
    assert all(isinstance(r, Failed) for r in outcome.results)
    assert all("killed twice" in r.message or "before they start" in r.message for r in outcome.results)


def _die(parent):
    os._exit(1)


def test_a_march_that_broke_down_is_stored_with_its_reason(store):
    run(jobs_at(3000), store=store, workers=1, solve=broken_down)
    again = run(jobs_at(3000), store=store, workers=1, solve=odd)
    assert again.results == (Failed(3000.0, "the march broke down at 3000 rpm"),)


def test_a_damaged_point_is_computed_again_and_told(store):
    jobs = jobs_at(1000, 2000)
    run(jobs, store=store, workers=1, solve=solve)
    with sqlite3.connect(store.path) as db:
        db.execute("UPDATE points SET head = head || ' ' WHERE key = (SELECT min(key) FROM points)")
    outcome = run(jobs, store=store, workers=1, solve=solve)
    check(outcome, jobs)
    assert (outcome.stored, outcome.computed) == (1, 1)
    assert outcome.warnings == (f"{store.path}: 1 damaged points were dropped and computed again",)
    assert run(jobs, store=store, workers=1, solve=odd).computed == 0


def test_a_store_that_fills_up_does_not_stop_the_run(store, monkeypatch):
    def full(results):
        msg = "the disk is full"
        raise StoreError(msg)

    monkeypatch.setattr(store, "put_many", full)
    jobs = jobs_at(1000, 2000)
    outcome = run(jobs, store=store, workers=1, solve=solve)
    check(outcome, jobs)
    assert outcome.warnings == ("nothing more was stored in this run: the disk is full",)


def test_an_error_that_is_not_of_the_march_stops_the_run():
    for workers in (1, 2):
        with pytest.raises(ValueError, match="a slip of the programmer"):
            run(jobs_at(1000, 2000), workers=workers, solve=odd)


def test_another_executor_gives_the_same_and_its_losses_are_not_stored(store):
    jobs = jobs_at(1000, 2000, 3000)
    with ThreadPoolExecutor(2) as threads:
        check(run(jobs, store=store, executor=threads, solve=solve), jobs)
        lost = run(jobs_at(4000), store=store, executor=threads, solve=odd)
        with pytest.raises(InputError, match="no such thing"):
            run(jobs_at(4000), executor=threads, solve=refused)
    assert lost.results[0].message.startswith("the executor gave it up (ValueError: a slip of the programmer); run")
    late = run(jobs_at(5000), store=store, executor=threads, solve=solve)
    assert "cannot schedule new futures after shutdown" in late.results[0].message
    assert len(store) == 3


def test_a_worker_of_another_version_is_refused(store, monkeypatch):
    def elsewhere(task):
        function, jobs = task
        return "0.0.0+another", [function(job) for job in jobs]

    monkeypatch.setattr("pullcast.solve.jobs._stamped", elsewhere)
    outcome = run(jobs_at(1000), store=store, workers=1, solve=solve)
    assert "its worker runs pullcast 0.0.0+another, this is" in outcome.results[0].message
    assert "install the same one for all workers" in outcome.results[0].message
    assert len(store) == 0


def test_an_unknown_fidelity_is_refused():
    with pytest.raises(InputError, match="no fidelity 'waves'; there are wave and lumped"):
        Job(ENGINE, 1000.0, "waves")


SCRIPT = textwrap.dedent("""
    import signal, sys, time
    signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored where tests run in the background
    sys.path[:0] = [{tests!r}, {here!r}]
    import test_jobs as t
    from pullcast.solve.jobs import run
    from pullcast.solve.store import Store
    def sluggish(job):
        time.sleep(0.1)
        return t.solve(job)
    run(t.jobs_at(*range(1000, 7000, 100)), store=Store({store!r}), workers=2, solve=sluggish)
""")


@pytest.mark.skipif(os.name == "nt", reason="kills a process group")
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
def test_a_killed_run_goes_on_where_it_stopped_and_leaves_no_worker(tmp_path, how):
    path, here = tmp_path / "points.sqlite3", Path(__file__).parent
    script = SCRIPT.format(tests=str(here.parent), here=str(here), store=str(path))
    parent = subprocess.Popen([sys.executable, "-c", script], stderr=subprocess.DEVNULL, start_new_session=True)
    wait_for(lambda: len(seen()) >= 8)
    parent.send_signal(how)
    parent.wait(20)
    pids = {int(line.split()[1]) for line in (tmp_path / "log").read_text().splitlines()}
    assert len(pids) == 2
    wait_for(lambda: not any(map(alive, pids)))
    begun = len(seen())
    jobs = jobs_at(*range(1000, 7000, 100))
    with Store(path) as store:
        outcome = run(jobs, store=store, workers=1, solve=solve)
    check(outcome, jobs)
    assert outcome.stored >= begun - 4  # all but what was under way or on its way back
    assert outcome.stored + outcome.computed == 60
    assert outcome.computed > 30


def wait_for(true, seconds=20.0):
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


def alive(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


def test_real_points_are_the_same_from_a_pool_a_store_and_settle(store):
    from pullcast.solve.settle import settle

    jobs = [Job(ENGINE, 4000.0, numerics=Numerics(cell=0.05)), Job(ENGINE, 6000.0, numerics=Numerics(cell=0.05))]
    run(jobs, store=store, workers=2)
    outcome = run(jobs, store=store)
    assert outcome.stored == 2
    here = settle(ENGINE, 4000.0, Numerics(cell=0.05))
    assert np.array_equal(outcome.results[0].out, here.out)
    assert outcome.results[0].history == here.history
    assert outcome.results[0].steps == here.steps


def mark(path):
    Path(path).touch()


def test_a_process_goes_on_while_its_last_result_is_looked_at(tmp_path):
    paths = [tmp_path / "first", tmp_path / "second"]
    results = crew.processes(1, mark, paths)
    assert next(results) == (0, None)  # and nothing more is asked for until the second is there
    for _ in range(6000):
        if paths[1].exists():
            break
        time.sleep(0.01)
    assert paths[1].exists()
    assert list(results) == [(1, None)]
