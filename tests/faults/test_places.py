"""Odd places to work in: full disks, folders that cannot be written, odd names, other languages, other line ends."""

import locale
import os
import resource
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from victims import another_day, calibration, curve

from points import invented
from pullcast.answers.calibration_card import save_calibration
from pullcast.answers.ledger import add_to_ledger, read_ledger
from pullcast.answers.lock import lock, verify
from pullcast.card import read_engine
from pullcast.cli import main
from pullcast.errors import StoreError
from pullcast.pulls.reading import read_pull
from pullcast.results.curve import Curve
from pullcast.solve.store import Store

CONFIGS = Path(__file__).parents[2] / "configs"
WRITERS = {
    "result": lambda folder: curve().save(folder / "curve.nc"),
    "table": lambda folder: curve().save(folder / "curve.csv"),
    "lock": lambda folder: lock(folder / "day.lock.json", {"as it stands": curve()}),
    "calibration": lambda folder: save_calibration(calibration(), folder / "fit.toml"),
    "ledger": lambda folder: add_to_ledger(folder / "record.jsonl", another_day(1)),
}


@pytest.fixture
def small_disk():
    """No file of this process can grow beyond a few bytes (as on a full disk: the write fails)."""
    import signal

    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)

    def limit(size):
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))

    yield limit
    resource.setrlimit(resource.RLIMIT_FSIZE, before)
    signal.signal(signal.SIGXFSZ, handler)


@pytest.mark.skipif(sys.platform == "win32", reason="limits as POSIX systems have them")
@pytest.mark.parametrize("name", WRITERS)
def test_a_full_disk_is_told_and_leaves_nothing(name, tmp_path, small_disk):
    another_day(1)
    curve()
    small_disk(64)
    try:
        with pytest.raises(StoreError, match=r"cannot be written \(File too large\)\. Nothing was left behind"):
            WRITERS[name](tmp_path)
    finally:
        small_disk(resource.RLIM_INFINITY)
    assert [p.name for p in tmp_path.iterdir() if not p.name.endswith(".lock")] == []


@pytest.mark.parametrize("name", ["result", "table", "calibration", "ledger"])
def test_a_full_disk_leaves_what_was_there_before(name, tmp_path, small_disk):
    add_to_ledger(tmp_path / "record.jsonl", another_day(0))
    for other in ("result", "table", "calibration"):
        WRITERS[other](tmp_path)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    small_disk(64)
    try:
        with pytest.raises(StoreError):
            WRITERS[name](tmp_path)
    finally:
        small_disk(resource.RLIM_INFINITY)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before
    WRITERS[name](tmp_path)


def _fill(path):
    with Store(path) as store:
        for i in range(200):
            store.put(f"{i:064x}", invented(seed=i))


def test_a_store_on_a_full_disk_keeps_what_it_had(tmp_path, small_disk):
    path = tmp_path / "points.sqlite3"
    with Store(path) as store:
        store.put("a" * 64, invented())
    small_disk(path.stat().st_size + 100)
    try:
        with pytest.raises(StoreError, match=r"points\.sqlite3: the disk is full or failing"):
            _fill(path)
    finally:
        small_disk(resource.RLIM_INFINITY)
    with Store(path) as store:
        assert store.get("a" * 64) is not None
        store.put("b" * 64, invented())


@pytest.mark.parametrize("name", WRITERS)
def test_a_folder_that_cannot_be_written_is_told(name, tmp_path, monkeypatch):
    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    another_day(1)
    monkeypatch.setattr("tempfile.mkstemp", refused)
    with pytest.raises(StoreError, match=r"cannot be written \(Permission denied\)"):
        WRITERS[name](tmp_path)
    assert not [p for p in tmp_path.iterdir() if not p.name.endswith(".lock")]


@pytest.mark.parametrize("out", ["/proc/nowhere/x", "/proc/x.json", "/dev/null/x.json"])
@pytest.mark.skipif(not Path("/proc").is_dir(), reason="needs a folder nobody can write to")
def test_the_command_tells_of_a_folder_it_cannot_write(out, capsys, monkeypatch):
    code = main(["predict", str(CONFIGS / "engines/lab_single.toml"), "--fidelity", "lumped", "--speeds", "2000",
                 "--out", out])
    told = capsys.readouterr().err
    assert code in (1, 2)
    assert "Traceback" not in told
    assert out.rsplit("/", 1)[0] in told


ODD = ["with blanks", "Straße Übung", "日本 語", "emoji 🏁", "quote's \"double\"", "semi;colon & amp", "-dash",
       "per%cent {brace}", "a.b.c", "x" * 100]


@pytest.mark.parametrize("name", ODD)
def test_any_name_of_a_folder_will_do(name, tmp_path, capsys):
    home = tmp_path / name
    shutil.copytree(CONFIGS, home)
    assert read_engine(home / "engines/club_four.toml").cam.name == "Four, club cams"
    for write in WRITERS.values():
        write(home)
    assert verify(home / "day.lock.json").unchanged
    assert len(read_ledger(home / "record.jsonl")) == 1
    assert Curve.load(home / "curve.nc").dataset["torque"].size > 3
    with Store(home / "points.sqlite3") as store:
        store.put("a" * 64, invented())
    assert main(["check", str(home / "engines/club_four.toml"), "--json"]) == 0
    assert '"engine"' in capsys.readouterr().out


@pytest.mark.parametrize("end", ["\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_marks_of_other_systems(end, mark, tmp_path):
    shutil.copytree(CONFIGS, tmp_path / "p")
    for file in (tmp_path / "p").rglob("*.*"):
        text = mark + file.read_text(encoding="utf-8").replace("\n", end)
        file.write_bytes(text.encode("utf-8"))
    ours, theirs = (read_engine(base / "engines/hillclimb_v8.toml") for base in (CONFIGS, tmp_path / "p"))
    assert theirs.block == ours.block
    assert theirs.intake == ours.intake
    pull = tmp_path / "pull.csv"
    rows = ["RPM,Torque Nm", *(f"{n},{40 + n / 500:.1f}" for n in range(2000, 6000, 100))]
    pull.write_bytes((mark + end.join(rows)).encode())
    assert read_pull(pull).rpm.size == 40


@pytest.fixture
def decimal_comma(tmp_path_factory, monkeypatch):
    """A language that writes a decimal comma: one of the system's, else one made from its sources."""
    before = locale.setlocale(locale.LC_ALL)
    if not _speaks("de_DE.UTF-8", "fr_FR.UTF-8", "nl_NL.UTF-8", "es_ES.UTF-8"):
        home = tmp_path_factory.mktemp("languages")
        maker = shutil.which("localedef")
        made = maker and subprocess.run([maker, "-i", "de_DE", "-f", "UTF-8", str(home / "de_DE.UTF-8")], check=False,
                                        capture_output=True)
        monkeypatch.setenv("LOCPATH", str(home))
        if not made or not _speaks("de_DE.UTF-8"):
            pytest.skip("no language with a decimal comma is installed, and none can be made")
    yield
    locale.setlocale(locale.LC_ALL, before)


def _speaks(*names):
    for name in names:
        try:
            locale.setlocale(locale.LC_ALL, name)
        except locale.Error:
            continue
        return True
    return False


def test_a_decimal_comma_language_changes_nothing(decimal_comma, tmp_path, capsys):
    assert locale.localeconv()["decimal_point"] == ","
    engine = read_engine(CONFIGS / "engines/club_four.toml")
    assert engine.block.bore == pytest.approx(0.085)
    for write in WRITERS.values():
        write(tmp_path)
    assert "2200.0,38.8" in (tmp_path / "curve.csv").read_text()
    assert read_ledger(tmp_path / "record.jsonl")
    assert main(["check", str(CONFIGS / "engines/club_four.toml")]) == 0
    assert "8,5" not in capsys.readouterr().out


@pytest.mark.parametrize("when", [0.0, -2_000_000.0, 4e9])
def test_a_clock_set_back_changes_only_the_date_it_writes(when, tmp_path, monkeypatch):
    import time

    path = tmp_path / "points.sqlite3"
    with Store(path) as store:
        store.put("a" * 64, invented())
        monkeypatch.setattr(time, "time", lambda: when)
        store.put("b" * 64, invented(seed=1))
        assert len(store.get_many(["a" * 64, "b" * 64])) == 2
    assert os.path.getsize(path) > 0
