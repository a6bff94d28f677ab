"""The store of marched points: a SQLite file keyed by content, so that nothing is computed twice.

A row is one point (``pullcast.solve.keys.point_key``: engine values, speed, fidelity, numerics, program). Every row
carries a checksum; one that does not match is dropped and the point is computed again. Several processes may use one
store at once (write-ahead log, waiting on a busy file).
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from pullcast.errors import StoreError
from pullcast.solve.keys import program_stamp
from pullcast.solve.packing import pack, unpack
from pullcast.solve.settle import Point
from pullcast.solve.storefile import default_path, explained, open_file
from pullcast.solve.sweep import Failed

BUSY_SECONDS = 30.0
AT_ONCE = 500  # keys in one query: SQLite allows 999 in old builds

_forked: list[sqlite3.Connection] = []  # a parent's connections seen in a child: never used, never closed there

T = TypeVar("T")


class Store:
    """A store at ``path`` (default: ``default_path()``), made when first used.

    ``dropped`` counts rows found damaged. Raises StoreError, naming the file and what to do, when it cannot be read
    or written, is not a store of pullcast, or belongs to a newer one.
    """

    def __init__(self, path: str | Path | None = None, *, busy_seconds: float = BUSY_SECONDS) -> None:
        """``busy_seconds``: how long to wait for another process that is writing."""
        self.path = Path(path) if path is not None else default_path()
        self.dropped = 0
        self._busy = busy_seconds
        self._db: sqlite3.Connection | None = None
        self._owner = 0

    def __enter__(self) -> Store:
        """Open the store."""
        self._connection()
        return self

    def __exit__(self, *_: object) -> None:
        """Close it."""
        self.close()

    def __len__(self) -> int:
        """Points stored, by whatever program."""
        return self._do(lambda db: db.execute("SELECT count(*) FROM points").fetchone()[0])

    def close(self) -> None:
        """Close the file; using the store again opens it again."""
        if self._db is not None and self._owner == os.getpid():
            self._db.close()
        self._db = None

    def get(self, key: str) -> Point | Failed | None:
        """The point of a key, or None when it is not stored (or was damaged, and is now dropped)."""
        return self.get_many([key]).get(key)

    def get_many(self, keys: Iterable[str]) -> dict[str, Point | Failed]:
        """The stored points among ``keys``; damaged rows are dropped and left out."""
        wanted, found, damaged = list(dict.fromkeys(keys)), {}, []
        for i in range(0, len(wanted), AT_ONCE):
            some = wanted[i:i + AT_ONCE]
            sql = f"SELECT key, kind, head, body, checksum FROM points WHERE key IN ({', '.join('?' * len(some))})"
            for key, kind, head, body, checksum in self._do(lambda db, s=sql, k=some: db.execute(s, k).fetchall()):
                result = _sound(key, kind, head, body, checksum)
                if result is None:
                    damaged.append((key, _raw(checksum)))
                else:
                    found[key] = result
        if damaged:
            self.dropped += len(damaged)
            self._write("DELETE FROM points WHERE key = ? AND CAST(checksum AS BLOB) IS ?", damaged)
        return found

    def put(self, key: str, result: Point | Failed) -> None:
        """Store the point of a key, at once and whole; another of the same key is replaced."""
        self.put_many([(key, result)])

    def put_many(self, results: Iterable[tuple[str, Point | Failed]]) -> None:
        """Store several points in one transaction."""
        rows = []
        for key, result in results:
            kind, head, body = pack(result)
            rows.append((key, kind, program_stamp(), time.time(), head, body, _checksum(key, kind, head, body)))
        self._write("INSERT OR REPLACE INTO points VALUES (?, ?, ?, ?, ?, ?, ?)", rows)

    def forget_other_programs(self) -> int:
        """Remove the points of other versions of the program, which this one cannot use; how many."""
        return self._write("DELETE FROM points WHERE program <> ?", [(program_stamp(),)])

    def _write(self, sql: str, rows: list[tuple]) -> int:
        def write(db: sqlite3.Connection) -> int:
            db.execute("BEGIN IMMEDIATE")
            try:
                count = db.executemany(sql, rows).rowcount
                db.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):  # the first error is the one to tell
                    db.execute("ROLLBACK")
                raise
            return count

        return self._do(write)

    def _do(self, work: Callable[[sqlite3.Connection], T]) -> T:
        try:
            return work(self._connection())
        except (sqlite3.Error, UnicodeDecodeError) as error:
            raise StoreError(explained(self.path, error, self._busy)) from None

    def _connection(self) -> sqlite3.Connection:
        if self._db is not None and self._owner != os.getpid():
            _forked.append(self._db)  # closing a parent's connection in a child can undo the parent's locks
            self._db = None
        if self._db is None:
            self._db, self._owner = open_file(self.path, self._busy), os.getpid()
        return self._db


def _raw(value: object) -> bytes | None:
    """The bytes of a value as SQLite casts it to a blob; damaged text too."""
    return value if value is None or isinstance(value, bytes) else str(value).encode(errors="surrogateescape")


def _checksum(key: str, kind: str, head: str, body: bytes) -> str:
    digest = hashlib.sha256(f"{key}\0{kind}\0{head}\0".encode("utf-8", "surrogatepass"))
    digest.update(body)
    return digest.hexdigest()


def _sound(key: str, kind: object, head: object, body: object, checksum: object) -> Point | Failed | None:
    """The point of a row, None if the row is not what was written."""
    if not (isinstance(kind, str) and isinstance(head, str) and isinstance(body, bytes)):
        return None
    if _checksum(key, kind, head, body) != checksum:
        return None
    try:
        return unpack(kind, head, body)
    except ValueError:
        return None
