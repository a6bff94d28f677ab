"""The same run on a cluster: a scheduler and two worker processes of its own, one of them killed midway."""

import builtins
import signal
import socket
import subprocess
import sys
import time

import pytest

import engines
from pullcast.errors import InputError
from pullcast.solve.cluster import cluster
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.settle import Point, settle
from pullcast.solve.store import Store

LOCAL = "127.0.0.1"


def free_port():
    with socket.socket() as s:
        s.bind((LOCAL, 0))
        return s.getsockname()[1]


def start(*args):
    # the workers' parents are this test: no nanny restarts the one that is killed
    code = f"import sys; from distributed.cli import dask_{args[0]} as m; sys.exit(m.main())"
    return subprocess.Popen([sys.executable, "-c", code, *args[1:]], stdout=subprocess.DEVNULL,
                            stderr=subprocess.DEVNULL)


@pytest.fixture
def scheduler(tmp_path):
    pytest.importorskip("distributed")
    address = f"tcp://{LOCAL}:{free_port()}"
    common = ("--host", LOCAL, "--no-dashboard")
    started = [start("scheduler", "--host", LOCAL, "--port", address.rsplit(":", 1)[1], "--no-dashboard")]
    started += [start("worker", address, *common, "--no-nanny", "--nthreads", "1", "--local-directory", str(tmp_path))
                for _ in range(2)]
    yield address, started[1:]
    for process in started:
        process.kill()
        process.wait(20)


@pytest.mark.slow
def test_a_run_on_two_workers_survives_the_death_of_one(scheduler, tmp_path):
    from distributed import Client

    address, workers = scheduler
    with Client(address, timeout=60, set_as_default=False) as client:
        client.wait_for_workers(2, timeout=60)
    coarse = Numerics(cell=0.05)
    settle(engines.single(), 4000.0, coarse)  # compiled before it is needed at two places at once
    jobs = [Job(engines.single(), float(rpm), numerics=coarse) for rpm in range(1000, 7000, 40)]
    killed = []

    def kill_one(tick):
        if tick.done >= 20 and not killed:
            workers[0].send_signal(signal.SIGKILL)
            killed.append(tick.done)

    with Store(tmp_path / "points.sqlite3") as store:
        with cluster(address, patience=30.0) as executor:
            outcome = run(jobs, store=store, executor=executor, on_tick=kill_one)
        assert killed
        assert workers[0].wait(10) == -signal.SIGKILL
        assert workers[1].poll() is None
        assert [r.rpm for r in outcome.results] == [j.rpm for j in jobs]
        assert all(isinstance(r, Point) for r in outcome.results)
        assert len(store) == len(jobs)
        assert outcome.results[75].history == settle(engines.single(), 4000.0, coarse).history
        assert run(jobs, store=store).computed == 0


@pytest.mark.parametrize("address", ["127.0.0.1:8786", "http://a:1", "tcp://a", "tcp://a:99999", "tcp://a:0", "", "tcp://:1"])
def test_a_text_that_is_no_address_is_refused(address):
    with pytest.raises(InputError, match="give the scheduler's address as tcp://HOST:PORT"), cluster(address):
        pass


def test_a_missing_extra_is_named(monkeypatch):
    real = builtins.__import__

    def without(name, *args, **kwargs):
        if name == "distributed":
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(InputError, match=r"pip install 'pullcast\[cluster\]'"), cluster("tcp://127.0.0.1:8786"):
        pass


def test_a_scheduler_that_does_not_answer_is_named():
    pytest.importorskip("distributed")
    address, begin = f"tcp://{LOCAL}:{free_port()}", time.monotonic()
    with pytest.raises(InputError, match=r"no scheduler answers there within 1 s .* dask worker tcp://"), cluster(
            address, patience=1.0):
        pass
    assert time.monotonic() - begin < 8
