import threading
from concurrent.futures import ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass

import pytest

from pullcast.show.lab import behind
from pullcast.show.lab.behind import Behind, Memory
from pullcast.solve.sweep import Failed


@dataclass(frozen=True)
class Task:
    key: str
    rpm: float = 1000.0


class Desk:
    """Tasks end when they are let go, in any order."""

    def __init__(self, monkeypatch, width=2):
        self.begun, self.gates, self.lock = [], {}, threading.Lock()
        self.fail = {}
        monkeypatch.setattr(behind, "key_of", lambda job: job.key)
        monkeypatch.setattr(behind, "solve_job", self.solve)
        self.pools = []
        self.behind = Behind(self.make, width)

    def make(self):
        self.pools.append(ThreadPoolExecutor(8))
        return self.pools[-1]

    def solve(self, job):
        with self.lock:
            self.begun.append(job.key)
            gate = self.gates.setdefault(job.key, threading.Event())
        assert gate.wait(5)
        if job.key in self.fail:
            raise self.fail[job.key]
        return f"point {job.key}"

    def let(self, *keys):
        for key in keys:
            self.until(lambda key=key: key in self.begun)
            self.gates[key].set()

    @staticmethod
    def until(holds):
        for _ in range(500):
            if holds():
                return
            threading.Event().wait(0.01)
        raise AssertionError("it did not come")


@pytest.fixture
def desk(monkeypatch):
    made = Desk(monkeypatch)
    yield made
    for gate in made.gates.values():
        gate.set()
    made.behind.close()


def told(into):
    return lambda job, point: into.append((job.key, point))


def test_no_more_is_under_way_than_there_are_workers_and_order_is_kept(desk):
    got = []
    desk.behind.run("a", [Task(k) for k in "1234"], told(got))
    desk.until(lambda: len(desk.begun) == 2)
    assert desk.begun == ["1", "2"]
    desk.let("1", "2", "3", "4")
    desk.until(lambda: len(got) == 4)
    assert sorted(got) == [(k, f"point {k}") for k in "1234"]


def test_owners_take_turns(desk):
    got = []
    desk.behind.run("a", [Task(f"a{k}") for k in range(6)], told(got))
    desk.behind.run("b", [Task(f"b{k}") for k in range(2)], told(got))
    desk.let("a0", "a1")
    desk.until(lambda: len(desk.begun) == 4)
    assert {"b0"} <= set(desk.begun[2:4])


def test_a_new_run_takes_the_place_of_the_old(desk):
    old, new = [], []
    desk.behind.run("a", [Task(f"old{k}") for k in range(9)], told(old))
    desk.behind.run("a", [Task("new")], told(new))
    desk.let("old0", "old1", "new")
    desk.until(lambda: new)
    assert old == []
    assert new == [("new", "point new")]
    assert desk.begun == ["old0", "old1", "new"]


def test_what_is_known_is_told_at_once_and_not_computed_again(desk):
    got = []
    desk.behind.run("a", [Task("1")], told(got))
    desk.let("1")
    desk.until(lambda: got)
    desk.behind.run("b", [Task("1")], told(got))
    assert got == [("1", "point 1")] * 2
    assert desk.begun == ["1"]


def test_what_two_want_is_computed_once(desk):
    got = []
    desk.behind.run("a", [Task("1")], told(got))
    desk.behind.run("b", [Task("1"), Task("1", 2000.0)], told(got))
    desk.let("1")
    desk.until(lambda: len(got) == 3)
    assert desk.begun == ["1"]


def test_a_run_that_waits_gets_what_another_finished(desk):
    mine, other = [], []
    desk.behind.run("a", [Task("x"), Task("y"), Task("1")], told(other))
    desk.behind.run("b", [Task("z"), Task("1")], told(mine))
    desk.let("x", "y", "z", "1")
    desk.until(lambda: len(mine) == 2 and len(other) == 3)
    assert desk.begun.count("1") == 1


def test_a_cancelled_run_is_told_nothing(desk):
    got = []
    desk.behind.run("a", [Task("1"), Task("2"), Task("3")], told(got))
    desk.until(lambda: len(desk.begun) == 2)
    desk.behind.cancel("a")
    desk.let("1", "2")
    desk.until(lambda: desk.behind.memory.get("2") is not None)
    assert got == []
    assert desk.begun == ["1", "2"]
    assert desk.behind.waiting == 0


def test_a_lost_worker_is_told_and_the_next_goes_on_with_new_ones(desk):
    got = []
    desk.fail["1"] = BrokenProcessPool("gone")
    desk.behind.run("a", [Task("1"), Task("2"), Task("3")], told(got))
    desk.let("1")
    desk.until(lambda: got)
    desk.let("2", "3")
    desk.until(lambda: len(got) == 3)
    lost = dict(got)["1"]
    assert isinstance(lost, Failed)
    assert "worker process was lost" in lost.message
    assert dict(got)["3"] == "point 3"
    assert desk.behind.memory.get("1") is None
    assert len(desk.pools) == 2


def test_an_error_in_a_job_is_a_failed_point(desk):
    got = []
    desk.fail["1"] = ValueError("odd")
    desk.behind.run("a", [Task("1")], told(got))
    desk.let("1")
    desk.until(lambda: got)
    assert got == [("1", Failed(1000.0, "odd"))]


def test_memory_forgets_what_was_not_asked_for_longest(monkeypatch):
    monkeypatch.setattr(behind, "KEPT", 2)
    memory = Memory()
    for key in "ab":
        memory.put(key, Failed(1.0, key))
    memory.get("a")
    memory.put("c", Failed(1.0, "c"))
    assert [memory.get(k) is not None for k in "abc"] == [True, False, True]
