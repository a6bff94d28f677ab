"""Rankings as runs of real marches: stopped and resumed, two at once, on a cluster; a candidate's own uncertainty."""

import json
import shutil
import signal
import socket
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from validation.parts.rank_chances.case import by_pairs, shelf, tally, true_gains

from pullcast.answers import scoring
from pullcast.answers.rank import rank
from pullcast.answers.ranking_file import ranking_document
from pullcast.card.shortlist import read_shortlist
from pullcast.cli import main
from pullcast.cli import rank as cli_rank
from pullcast.solve import jobs
from pullcast.solve.cluster import cluster
from pullcast.solve.store import Store

CONFIGS = Path(__file__).parents[2] / "configs"
LIST = """name = "Two for the single"
base = "engines/lab_single.toml"
band = { low = "2200 rpm", high = "3200 rpm", speeds = "2200 3200 rpm" }
[[candidate]]
name = "ratio"
block.compression_ratio = 8.0
[[candidate]]
name = "long"
intake.pipe.1.length = "300 mm"
"""
HOW = {"fidelity": "lumped", "samples": 2}
LOCAL = "127.0.0.1"


@pytest.fixture(scope="module")
def cards(tmp_path_factory):
    return shutil.copytree(CONFIGS, tmp_path_factory.mktemp("cards") / "configs")


@pytest.fixture
def listed(cards):
    def make(text=LIST):
        path = cards / "shortlists" / "mine.toml"
        path.write_text(text, encoding="utf-8")
        return read_shortlist(path)
    return make


def counted(monkeypatch, before=lambda job: None):
    """Every point that is really marched goes into the list."""
    marched = []

    def solve(job):
        before(job)
        marched.append((job.rpm, job.fidelity))
        return jobs.solve_job(job)

    monkeypatch.setattr(jobs.run, "__kwdefaults__", jobs.run.__kwdefaults__ | {"solve": solve})
    return marched


def test_a_ranking_that_was_stopped_computes_only_what_is_missing(listed, tmp_path, monkeypatch):
    whole = counted(monkeypatch)
    with Store(tmp_path / "whole.sqlite3") as store:
        wanted = rank(listed(), store=store, workers=1, **HOW)
    again, stop_at = [], 3 * len(whole) // 4

    def stop(job):
        if len(again) == stop_at:
            raise KeyboardInterrupt
        again.append(job)

    with Store(tmp_path / "stopped.sqlite3") as store:
        counted(monkeypatch, stop)
        with pytest.raises(KeyboardInterrupt):
            rank(listed(), store=store, workers=1, **HOW)
        kept = len(store)
        # lumped points are handed out and kept some at a time
        assert max(1, stop_at - jobs.IN_ONE_TASK["lumped"]) <= kept <= stop_at
        rest = counted(monkeypatch)
        found = rank(listed(), store=store, workers=1, **HOW)
        assert len(rest) == len(whole) - kept
        assert ranking_document(found) == ranking_document(wanted)
        nothing = counted(monkeypatch)
        rank(listed(), store=store, workers=1, **HOW)
        assert nothing == []


def test_two_rankings_at_once_on_one_store(listed, tmp_path):
    shortlist, path = listed(), tmp_path / "points.sqlite3"

    def one(seed):
        with Store(path) as store:
            return ranking_document(rank(shortlist, store=store, workers=1, seed=seed, **HOW))

    with ThreadPoolExecutor(2) as pool:
        together = list(pool.map(one, (0, 1)))
    with Store(path) as store:
        assert store.dropped == 0
        kept = len(store)
    assert together == [one(0), one(1)]
    with Store(path) as store:
        assert len(store) == kept  # nothing new was computed
    alone = ranking_document(rank(shortlist, workers=1, seed=0, **HOW))
    assert alone == together[0]


def test_a_candidates_own_doubt_widens_its_band_and_is_named(listed):
    plain = rank(listed(), workers=1, fidelity="lumped", samples=4)
    doubtful = LIST.replace('"300 mm"', '{ value = "300 mm", within = "90 mm" }')
    r = rank(listed(doubtful), workers=1, fidelity="lumped", samples=4)
    wide, narrow = ((p := x.place("long")).high - p.low for x in (r, plain))
    assert r.place("long").gain == pytest.approx(plain.place("long").gain, abs=1e-9)
    assert wide > narrow
    factors = [r.influence.label, *(label for label, _ in r.influence.others)]
    assert "intake.pipe.1.length of 300 mm" in factors


def test_a_change_without_effect_is_said(listed):
    text = LIST.replace('"300 mm"', '"180 mm"')  # as the base has it
    notes = " ".join(rank(listed(text), workers=1, fidelity="lumped", samples=0).notes)
    assert "long: what it changes (intake.pipe.1.length) leaves the engine as it is" in notes
    assert "ratio" not in notes


def port():
    with socket.socket() as s:
        s.bind((LOCAL, 0))
        return s.getsockname()[1]


def start(*args):
    code = f"import sys; from distributed.cli import dask_{args[0]} as m; sys.exit(m.main())"
    return subprocess.Popen([sys.executable, "-c", code, *args[1:]], stdout=subprocess.DEVNULL,
                            stderr=subprocess.DEVNULL)


@pytest.fixture
def scheduler(tmp_path):
    pytest.importorskip("distributed")
    address = f"tcp://{LOCAL}:{port()}"
    started = [start("scheduler", "--host", LOCAL, "--port", address.rsplit(":", 1)[1], "--no-dashboard")]
    started += [start("worker", address, "--host", LOCAL, "--no-dashboard", "--no-nanny", "--nthreads", "1",
                      "--local-directory", str(tmp_path)) for _ in range(2)]
    yield address, started[1:]
    for process in started:
        process.kill()
        process.wait(20)


@pytest.mark.slow
def test_a_ranking_on_a_cluster_survives_the_death_of_a_worker(listed, scheduler, tmp_path, monkeypatch):
    from distributed import Client

    address, workers = scheduler
    with Client(address, timeout=60, set_as_default=False) as client:
        client.wait_for_workers(2, timeout=60)
    killed = []

    def kill_one(stage, tick):
        if stage.startswith("spread") and tick.done >= 6 and not killed:
            workers[0].send_signal(signal.SIGKILL)
            killed.append(tick.done)

    with Store(tmp_path / "points.sqlite3") as store, cluster(address, patience=30.0) as executor:
        found = rank(listed(), store=store, executor=executor, on_stage=kill_one, fidelity="lumped", samples=8)
    assert killed
    assert workers[0].wait(10) == -signal.SIGKILL
    assert workers[1].poll() is None
    assert [p.trouble for p in found.places] == ["", ""]
    nothing = counted(monkeypatch)
    with Store(tmp_path / "points.sqlite3") as store:
        here = rank(listed(), store=store, workers=1, fidelity="lumped", samples=8)
    assert nothing == []
    assert ranking_document(found) == ranking_document(here)


@pytest.mark.slow
def test_the_command_on_a_cluster_survives_the_death_of_a_worker(cards, scheduler, tmp_path, monkeypatch, capsys):
    from distributed import Client

    address, workers = scheduler
    path = cards / "shortlists" / "by_command.toml"
    path.write_text(LIST, encoding="utf-8")
    with Client(address, timeout=60, set_as_default=False) as client:
        client.wait_for_workers(2, timeout=60)
    killed = []

    @contextmanager
    def watched(title):
        def on_stage(stage, tick):
            if stage.startswith("spread") and tick.done >= 4 and not killed:
                workers[0].send_signal(signal.SIGKILL)
                killed.append(tick.done)
        yield on_stage

    monkeypatch.setattr(cli_rank, "stages", watched)
    store = tmp_path / "by_command.sqlite3"
    how = ["rank", str(path), "--fidelity", "lumped", "--samples", "8", "--store", str(store), "--json"]
    assert main([*how, "--scheduler", address]) == 0
    far = json.loads(capsys.readouterr().out)
    assert killed
    assert workers[0].wait(10) == -signal.SIGKILL
    assert workers[1].poll() is None
    assert [c["trouble"] for c in far["candidates"]] == ["", ""]
    nothing = counted(monkeypatch)
    assert main([*how, "--workers", "1"]) == 0  # the same answer from the store, nothing computed again
    assert json.loads(capsys.readouterr().out) == far
    assert nothing == []


def test_chances_come_true_over_real_marches(cards, monkeypatch):
    """The lumped march as the truth and as the ranking's only model, truths drawn by plain random numbers from the
    same ranges. The same by waves on six engines: ``validation/parts/rank_chances``."""
    compute = scoring.compute

    def lumped(engines, speeds, fidelity, means, stage, shortlist=None):
        return compute(engines, speeds, "lumped", means, stage, shortlist)

    monkeypatch.setattr(scoring, "compute", lumped)
    monkeypatch.setattr(sys.modules["pullcast.answers.rank"], "NUMERICAL", 0.0)  # truth and ranking on the same grid
    shortlist = shelf("vintage_twin", cards)
    r = rank(shortlist, samples=16, spread="wave", workers=1)
    c = tally(r, true_gains(shortlist, 24, "lumped"))
    assert 0.70 <= c.inside.mean() <= 0.90
    told = np.isfinite(c.said)
    assert c.true[told].mean() == pytest.approx(c.said[told].mean(), abs=0.07)


def test_the_interval_of_a_share_by_pairs():
    random, pair = np.random.default_rng(1), np.repeat(np.arange(12), 10)
    missed = caught = 0
    for _ in range(400):
        for middle in (0.8, 0.5):  # right, wrong
            chance = np.clip(random.normal(middle, 0.15, 12), 0.0, 1.0)
            low, high = by_pairs(random.random(120) < chance[pair], pair)
            missed += middle == 0.8 and (low > 0.9 or high < 0.7)
            caught += middle == 0.5 and high < 0.7
    assert missed / 400 <= 0.02
    assert caught / 400 >= 0.8
    assert by_pairs(np.ones(12), np.repeat([0, 1], 6)) == (0.0, 1.0)  # two pairs that all hit say little
