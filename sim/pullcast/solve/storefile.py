"""The SQLite file behind the store: opened for several processes at once, its errors explained."""

from __future__ import annotations

import os
import sqlite3
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from pullcast.errors import StoreError

LAYOUT = 1  # of the tables; raised when an older reader would misread them
APPLICATION = 0x70756C6C  # marks the SQLite file as a store of pullcast
ENVIRONMENT = "PULLCAST_STORE"
_TABLE = """CREATE TABLE IF NOT EXISTS points (
  key TEXT PRIMARY KEY, kind TEXT NOT NULL, program TEXT NOT NULL, written REAL NOT NULL,
  head TEXT NOT NULL, body BLOB NOT NULL, checksum TEXT NOT NULL) WITHOUT ROWID"""
_ELSEWHERE = f"Name another file with ${ENVIRONMENT}."


def default_path() -> Path:
    """Where the store is kept: $PULLCAST_STORE, else points.sqlite3 in the user's cache folder of this platform."""
    named = os.environ.get(ENVIRONMENT)
    if named:
        return Path(named).expanduser()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "pullcast" / "points.sqlite3"


def open_file(path: Path, busy: float) -> sqlite3.Connection:
    """A connection to the store at ``path``, made if need be; waits ``busy`` seconds for others. Or StoreError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        msg = f"{path}: no folder for the store can be made there ({error.strerror}). {_ELSEWHERE}"
        raise StoreError(msg) from None
    db = None
    try:
        db = sqlite3.connect(path, timeout=busy, isolation_level=None)
        db.text_factory = lambda raw: raw.decode(errors="surrogateescape")  # damaged text is judged by its checksum
        db.execute("PRAGMA trusted_schema = OFF")  # nothing hidden in its schema is run
        _check_kind(path, db)
        _patiently(lambda: db.execute("PRAGMA journal_mode = WAL"), busy)
        db.execute("PRAGMA synchronous = NORMAL")
        _patiently(lambda: _prepare(db), busy)
    except (sqlite3.Error, UnicodeDecodeError, StoreError) as error:
        if db is not None:
            db.close()
        if isinstance(error, StoreError):
            raise
        raise StoreError(explained(path, error, busy)) from None
    return db


def _check_kind(path: Path, db: sqlite3.Connection) -> None:
    """Refuse a file that is another program's or a newer pullcast's."""
    db.execute("BEGIN")  # one view of the file: another process may be making the store at this moment
    mark, layout, tables = (db.execute(sql).fetchone()[0] for sql in (
        "PRAGMA application_id", "PRAGMA user_version", "SELECT count(*) FROM sqlite_master"))
    db.execute("COMMIT")
    if mark != APPLICATION and tables:
        msg = f"{path}: is a SQLite file but not a store of pullcast; it was left alone. {_ELSEWHERE}"
        raise StoreError(msg)
    if mark == APPLICATION and layout > LAYOUT:
        msg = (f"{path}: was written in layout {layout} by a newer pullcast; this one reads up to {LAYOUT}. "
               f"Update pullcast. {_ELSEWHERE}")
        raise StoreError(msg)


def _prepare(db: sqlite3.Connection) -> None:
    db.execute("BEGIN IMMEDIATE")
    try:
        db.execute(f"PRAGMA application_id = {APPLICATION}")
        db.execute(f"PRAGMA user_version = {LAYOUT}")
        db.execute(_TABLE)
        db.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            db.execute("ROLLBACK")
        raise


def _patiently(work: Callable[[], object], busy: float) -> None:
    """Do what SQLite may refuse without waiting (changing the journal, recovering it) until it is let in."""
    end = time.monotonic() + busy
    while True:
        try:
            work()
            return
        except sqlite3.OperationalError as error:
            if ("locked" not in str(error) and "busy" not in str(error)) or time.monotonic() > end:
                raise
            time.sleep(0.02)


def explained(path: Path, error: sqlite3.Error | UnicodeDecodeError, busy: float) -> str:
    """What a SQLite error means for the user of the store, and what to do."""
    text = str(error)
    if "not a database" in text:
        return f"{path}: is not a store of pullcast (not SQLite). Move it away. {_ELSEWHERE}"
    if "malformed" in text or isinstance(error, UnicodeDecodeError):  # its own tables do not decode
        return f"{path}: the store is damaged ({text}). Move it away: its points are then computed again."
    if "locked" in text or "busy" in text:
        return (f"{path}: another run has held the store for more than {busy:g} s ({text}). "
                f"Wait for it and run again: what is stored is kept. {_ELSEWHERE}")
    if "unable to open" in text or "readonly" in text:
        return f"{path}: the store cannot be opened for writing ({text}). Check its permissions. {_ELSEWHERE}"
    if "full" in text or "disk I/O" in text:
        return (f"{path}: the disk is full or failing ({text}); the points written before are kept. Make room and "
                f"run again. {_ELSEWHERE}")
    return f"{path}: the store cannot be used ({text}). {_ELSEWHERE}"
