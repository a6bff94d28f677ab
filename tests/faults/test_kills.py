"""Work killed at a random moment (SIGKILL): nothing is lost but the thing in hand, and every file is whole.

Six kinds of work, 4 kills each by default, 40 each in the long run (240 in all); they go on in one folder, so that
each starts from what the kill before left behind.
"""

import multiprocessing
import os
import random
import signal
import sys
import time

import pytest
from victims import VICTIMS, curve, day, jobs, sweep_sound

from pullcast.solve.jobs import run
from pullcast.solve.store import Store

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="kills as POSIX systems have them")
LONGEST = 0.25  # s a victim lives after its first word


def killed(work, folder, rng):
    """Run ``work`` in a forked child, kill it at a random moment, return what it said before."""
    fork = multiprocessing.get_context("fork")
    heard, said = fork.Pipe(duplex=False)
    child = fork.Process(target=_child, args=(work, folder, heard, said))
    child.start()
    said.close()
    told = [heard.recv()] if heard.poll(20.0) and rng.random() < 0.9 else []
    time.sleep(rng.uniform(0.0, LONGEST))
    os.kill(child.pid, signal.SIGKILL)
    child.join(10.0)
    assert child.exitcode in (-signal.SIGKILL, 0), "it died of something else"
    try:
        while heard.poll():
            told.append(heard.recv())
    except EOFError:
        pass
    return [text for text in told if text]


def _child(work, folder, heard, said):
    heard.close()
    work(folder, said.send)
    said.send("")
    time.sleep(60.0)


def made_ready(name, folder):
    """What costs time once is done before the killing starts."""
    if name == "ledger":
        day()
    if name == "sweep":
        run(jobs(1), workers=1)
    if name == "result files":
        curve().save(folder / "curve.nc")


def campaign(name, folder, kills):
    victim, rng = VICTIMS[name], random.Random(name)
    made_ready(name, folder)
    heard = 0
    for _ in range(kills):
        told = killed(victim.work, folder, rng)
        heard += len(told)
        victim.sound(folder, told)
    return heard


@pytest.mark.parametrize("name", VICTIMS)
def test_a_few_kills(name, tmp_path):
    assert campaign(name, tmp_path, 4) > 0


@pytest.mark.long
@pytest.mark.parametrize("name", VICTIMS)
def test_many_kills(name, tmp_path):
    assert campaign(name, tmp_path, 40) > 10  # how much is told before a kill depends on the machine


def test_a_sweep_that_was_killed_ends_like_one_that_was_not(tmp_path):
    work, rng = VICTIMS["sweep"].work, random.Random(1)
    run(jobs(1), workers=1)
    for _ in range(3):
        sweep_sound(tmp_path, killed(work, tmp_path, rng))
    with Store(tmp_path / "sweep.sqlite3") as store:
        resumed = run(jobs(), store=store, workers=1)
    fresh = run(jobs(), workers=1)
    assert [p.books.tolist() for p in resumed.results] == [p.books.tolist() for p in fresh.results]
