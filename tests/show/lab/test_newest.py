import threading
from concurrent.futures import ThreadPoolExecutor

from pullcast.show.lab.newest import Newest


def test_what_is_put_while_busy_falls_out_but_the_last():
    done, go, started = [], threading.Event(), threading.Event()
    with ThreadPoolExecutor(2) as pool:
        newest = Newest(pool)

        def first():
            started.set()
            go.wait(5)
            done.append("first")

        newest.put(first)
        assert started.wait(5)
        for k in range(50):
            newest.put(lambda k=k: done.append(k))
        go.set()
        wait_idle(newest)
    assert done == ["first", 49]


def test_an_error_does_not_stop_what_comes_after():
    done = []
    with ThreadPoolExecutor(1) as pool:
        newest = Newest(pool)
        newest.put(lambda: 1 / 0)
        wait_idle(newest)
        newest.put(lambda: done.append(1))
        wait_idle(newest)
    assert done == [1]


def test_what_is_dropped_is_not_run():
    done, go, started = [], threading.Event(), threading.Event()
    with ThreadPoolExecutor(1) as pool:
        newest = Newest(pool)
        newest.put(lambda: (started.set(), go.wait(5)))
        assert started.wait(5)
        newest.put(lambda: done.append(1))
        newest.drop()
        go.set()
        wait_idle(newest)
    assert done == []


def wait_idle(newest):
    for _ in range(500):
        with newest._lock:
            if not newest._busy and newest._waiting is None:
                return
        threading.Event().wait(0.01)
    raise AssertionError("still busy")
