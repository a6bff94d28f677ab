"""The store: content keys, whole rows, damage noticed, two writers at once."""

import dataclasses
import multiprocessing
import os
import sqlite3

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import engines
from points import invented
from pullcast.errors import StoreError
from pullcast.solve import storefile
from pullcast.solve.keys import march_sha256, point_key, program_stamp
from pullcast.solve.numerics import Numerics
from pullcast.solve.packing import pack, unpack
from pullcast.solve.store import Store, default_path
from pullcast.solve.sweep import Failed


def same(a, b):
    pairs = ((getattr(a, f.name), getattr(b, f.name)) for f in dataclasses.fields(a))
    return type(a) is type(b) and all(
        np.array_equal(x, y, equal_nan=True) if isinstance(x, np.ndarray) else repr(x) == repr(y) for x, y in pairs)


@pytest.fixture
def store(tmp_path):
    with Store(tmp_path / "deep" / "points.sqlite3") as opened:
        yield opened


def key(rpm=3000.0, **changes):
    return point_key(march_sha256(engines.single(**changes)), rpm, "wave", Numerics())


def test_a_point_comes_back_to_the_last_bit(store):
    point = invented(trace=np.random.default_rng(1).normal(size=(2, 8, 720)))
    store.put("a", point)
    store.put("b", Failed(4000.0, "the march broke down"))
    assert same(store.get("a"), point)
    assert store.get("b") == Failed(4000.0, "the march broke down")
    assert store.get("c") is None
    assert len(store) == 2
    assert store.dropped == 0


@given(st.floats(allow_nan=True), st.floats(allow_nan=True), st.text(max_size=30), st.integers(0, 2**53))
def test_any_number_and_text_survives_packing(x, y, text, n):
    point = invented(mass_residual=x, status=text, steps=n, books=np.array([y, x]), node_pressure={text: y})
    assert same(unpack(*pack(point)), point)


def test_the_key_follows_values_and_not_names_or_notes():
    base = key()
    assert key(name="another", source="told", speeds=(1.0,), text="# card") == base
    assert key(engine_class="twin") != base
    assert key(friction=dataclasses.replace(engines.single().friction, factor=1.0 + 1e-9)) != base
    assert key(3000.0 + 1e-6) != base
    sha, numerics = march_sha256(engines.single()), Numerics()
    assert point_key(sha, 3000.0, "lumped", numerics) != base
    assert point_key(sha, 3000.0, "wave", dataclasses.replace(numerics, cell=0.02)) != base
    assert point_key(sha, 3000.0, "wave", numerics, traces=True) != base
    assert point_key(sha, 3000.0, "wave", numerics, traces=True, stations=(("inlet", 0.1),)) != point_key(
        sha, 3000.0, "wave", numerics, traces=True)


def test_the_key_follows_the_program(monkeypatch):
    before = key()
    monkeypatch.setattr("pullcast.solve.keys.program_stamp", lambda: "0.0.0+another")
    assert key() != before


def test_the_program_stamp_holds_version_and_code():
    version, _, digest = program_stamp().partition("+")
    from pullcast import __version__

    assert version == __version__
    assert len(digest) == 12


@pytest.mark.parametrize("damage", [
    "UPDATE points SET head = replace(head, '3000', '3001') WHERE key = 'a'",
    "UPDATE points SET body = substr(body, 1, length(body) - 1) || x'00' WHERE key = 'a'",
    "UPDATE points SET body = x'' WHERE key = 'a'",
    "UPDATE points SET checksum = 'f' WHERE key = 'a'",
    "UPDATE points SET kind = 'failed' WHERE key = 'a'",
    "UPDATE points SET key = 'a' WHERE key = 'b'",
])
def test_a_damaged_row_is_dropped_and_its_neighbours_are_kept(store, damage):
    for name in "bc" if "= 'b'" in damage else "abc":
        store.put(name, invented(seed=ord(name)))
    with sqlite3.connect(store.path) as db:
        db.execute(damage)
    assert store.get("a") is None
    assert store.dropped == 1
    assert same(store.get("c"), invented(seed=ord("c")))
    store.put("a", invented(seed=9))
    assert same(store.get("a"), invented(seed=9))


def test_a_row_of_sound_checksum_that_is_no_point_is_dropped(store):
    from pullcast.solve.store import _checksum

    head = '{"rpm": 3000.0}'
    with sqlite3.connect(store.path) as db:
        db.execute("INSERT INTO points VALUES ('a', 'point', '', 0, ?, x'', ?)",
                   (head, _checksum("a", "point", head, b"")))
    assert store.get("a") is None
    assert store.dropped == 1


def test_a_pickle_in_the_body_is_never_run(store):
    import io
    import pickle

    class Trap:
        def __reduce__(self):
            return os.abort, ()

    with pytest.raises(ValueError, match="not a stored point"):
        unpack("point", "{}", pickle.dumps(Trap()))
    buffer = io.BytesIO()
    np.savez(buffer, out=np.array([Trap()], dtype=object))
    with pytest.raises(ValueError, match="allow_pickle=False"):
        unpack("point", "{}", buffer.getvalue())


def _fill(path, who, count, together):
    together.wait(30)
    with Store(path) as store:
        for i in range(count):
            store.put(f"{who}-{i}", invented(seed=i))
            store.put("shared", invented(seed=7))


@pytest.mark.parametrize("count", [40, *[1] * 12])  # short ones: the store is made by four at the same moment
def test_four_processes_write_one_new_store_at_once(tmp_path, count):
    path = tmp_path / "points.sqlite3"
    context = multiprocessing.get_context("fork")
    together = context.Barrier(4)
    runs = [context.Process(target=_fill, args=(path, who, count, together)) for who in "abcd"]
    for run in runs:
        run.start()
    for run in runs:
        run.join(60)
    assert [run.exitcode for run in runs] == [0] * 4
    with Store(path) as store:
        assert len(store) == 4 * count + 1
        found = store.get_many([f"{who}-{i}" for who in "abcd" for i in range(count)])
        assert len(found) == 4 * count
        assert all(same(found[f"d-{i}"], invented(seed=i)) for i in range(count))
        assert store.dropped == 0
        assert store._connection().execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_forked_child_opens_its_own_connection(store):
    store.put("a", invented())
    run = multiprocessing.get_context("fork").Process(target=lambda: store.put("child", invented(seed=1)))
    run.start()
    run.join(30)
    assert run.exitcode == 0
    assert same(store.get("child"), invented(seed=1))


def test_more_keys_than_one_query_takes(store):
    store.put_many((f"k{i}", Failed(float(i), "x")) for i in range(1203))
    assert len(store.get_many(f"k{i}" for i in range(2000))) == 1203


def test_points_of_other_programs_can_be_forgotten(store, monkeypatch):
    monkeypatch.setattr("pullcast.solve.store.program_stamp", lambda: "0.0.0+old")
    store.put("old", invented())
    monkeypatch.undo()
    store.put("new", invented())
    assert store.forget_other_programs() == 1
    assert len(store) == 1
    assert store.get("new") is not None


def test_a_busy_store_is_waited_for_then_named(tmp_path):
    path = tmp_path / "points.sqlite3"
    Store(path).put("a", invented())
    holder = sqlite3.connect(path, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreError, match=r"held the store for more than 0\.1 s .* run again: what is stored is kept"):
        Store(path, busy_seconds=0.1).put("b", invented())
    holder.execute("ROLLBACK")
    assert Store(path, busy_seconds=0.1).get("a") is not None


def test_files_that_are_no_store_are_left_alone(tmp_path):
    text = tmp_path / "notes.txt"
    text.write_text("not a store, but long enough to be looked at as a file of its own. " * 20)
    with pytest.raises(StoreError, match=r"notes\.txt: is not a store of pullcast \(not SQLite\)\. Move it away"):
        Store(text).get("a")
    assert text.read_text().startswith("not a store")

    other = tmp_path / "other.sqlite3"
    with sqlite3.connect(other) as db:
        db.execute("CREATE TABLE points (mine INTEGER)")
    before = other.read_bytes()
    with pytest.raises(StoreError, match="a SQLite file but not a store of pullcast; it was left alone"):
        Store(other).put("a", invented())
    assert other.read_bytes() == before

    with pytest.raises(StoreError, match=r"cannot be opened for writing .* \$PULLCAST_STORE"):
        Store(tmp_path).get("a")
    with pytest.raises(StoreError, match="no folder for the store can be made there"):
        Store(text / "points.sqlite3").get("a")


def test_a_newer_store_is_refused(store):
    store.close()
    with sqlite3.connect(store.path) as db:
        db.execute(f"PRAGMA user_version = {storefile.LAYOUT + 1}")
    with pytest.raises(StoreError, match=r"written in layout 2 by a newer pullcast; this one reads up to 1\. Update"):
        store.get("a")


def test_a_store_cut_short_is_named_as_damaged(tmp_path):
    path = tmp_path / "points.sqlite3"
    with Store(path) as store:
        store.put_many((f"k{i}", invented(seed=i)) for i in range(100))
    path.write_bytes(path.read_bytes()[:20000])
    with pytest.raises(StoreError, match=r"the store is damaged .* its points are then computed again"):
        Store(path).get_many(f"k{i}" for i in range(100))


def test_the_default_place_follows_option_then_platform(monkeypatch, tmp_path):
    monkeypatch.setenv("PULLCAST_STORE", str(tmp_path / "mine.sqlite3"))
    assert default_path() == tmp_path / "mine.sqlite3"
    assert Store().path == tmp_path / "mine.sqlite3"
    monkeypatch.delenv("PULLCAST_STORE")
    for platform, variable, value, expected in (
            ("linux", "XDG_CACHE_HOME", "cache", "cache/pullcast/points.sqlite3"),
            ("win32", "LOCALAPPDATA", "local", "local/pullcast/points.sqlite3")):
        monkeypatch.setattr("sys.platform", platform)
        monkeypatch.setenv(variable, str(tmp_path / value))
        assert default_path() == tmp_path / expected
    monkeypatch.setattr("sys.platform", "darwin")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert default_path() == tmp_path / "Library/Caches/pullcast/points.sqlite3"
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.delenv("XDG_CACHE_HOME")
    assert default_path() == tmp_path / ".cache/pullcast/points.sqlite3"
