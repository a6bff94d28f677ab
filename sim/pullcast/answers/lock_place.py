"""Where a lock is written: a new file, and what stands beside it (an earlier lock, a clock set back)."""

from __future__ import annotations

import math
import os
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from pullcast.answers.lock_check import CLOCK_SLACK, iso
from pullcast.answers.lock_file import SUFFIX, read_document
from pullcast.errors import InputError, StoreError


def check_place(path: Path) -> None:
    """Refuse a place where no lock can be written: another ending, a file that is there, a folder that is not."""
    if not path.name.endswith(SUFFIX) or path.name == SUFFIX:
        msg = f"{path}: a lock's name ends in {SUFFIX}"
        raise InputError(msg)
    if path.exists():
        msg = f"{path}: is there already, and a lock is never replaced; choose another name"
        raise InputError(msg)
    folder = path.absolute().parent
    if not folder.is_dir() or not os.access(folder, os.W_OK):
        msg = f"{path}: the folder {folder} {'cannot be written to' if folder.is_dir() else 'is not there'}"
        raise InputError(msg)


def beside(folder: Path, time: datetime) -> tuple[dict[str, str] | None, str]:
    """The newest lock in the folder, and a note when the clock stands before the newest thing there."""
    newest, newest_file = (-math.inf, "", ""), (-math.inf, "")
    for file in folder.iterdir() if folder.is_dir() else ():
        with suppress(OSError):
            newest_file = max(newest_file, (file.stat().st_mtime, file.name))
        if file.name.endswith(SUFFIX):
            with suppress(InputError, StoreError, KeyError, TypeError, ValueError):
                document = read_document(file)
                sealed = datetime.fromisoformat(document["parts"]["head"]["sealed_utc"]).timestamp()
                newest = max(newest, (sealed, file.name, document["seal"]))
    latest = max(newest[:2], newest_file)
    clock = ""
    if latest[0] > time.timestamp() + CLOCK_SLACK:
        clock = (f"the clock stood at {iso(time)} when this was sealed, before {latest[1]} beside it "
                 f"({iso(datetime.fromtimestamp(latest[0], UTC))}): it was set back, or that file's time is wrong")
    if newest[0] == -math.inf:
        return None, clock
    return {"file": newest[1], "seal": newest[2], "sealed_utc": iso(datetime.fromtimestamp(newest[0], UTC))}, clock
