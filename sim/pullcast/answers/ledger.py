"""The ledger of forecasts held against pulls over many days: a file of JSON lines in the user's own project.

Lines are only ever added, by one process at a time (a hidden lock file beside it), and the file is written whole.
Each line carries the SHA-256 of the line before, so that one taken out or changed later is seen.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pullcast.answers.comparison import Comparison, Scored
from pullcast.errors import InputError, StoreError

LAYOUT = 1
SUFFIX = ".jsonl"
START = "0" * 64
NUMBERS = ("predicted_percent", "measured_percent", "predicted_sd_percent", "measured_sd_percent")
PATIENCE = 30.0  # seconds to wait for another process that adds to the same ledger


def read_ledger(path: str | Path) -> list[dict[str, Any]]:
    """The entries of a ledger, oldest first; none when there is no such file yet.

    Raises InputError for another ending, StoreError when a line cannot be read or was changed or taken out.
    """
    path = _checked(path)
    if not path.exists():
        return []
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        msg = f"{path}: cannot be read as a ledger ({error})"
        raise StoreError(msg) from None
    return [entry for _, entry in _entries(path, lines)]


def add_to_ledger(path: str | Path, compared: Comparison, now: datetime | None = None) -> dict[str, Any]:
    """Add what a comparison may score to the ledger at ``path`` (made if need be) and return the entry.

    What must not be scored is left out: parts a forecast was fitted to, numbers on an unknown basis, void
    comparisons. Raises InputError when nothing is left, or when a pull was scored by this forecast before;
    StoreError when the file cannot be read or written.
    """
    from pullcast.results.files import write_whole

    path = _checked(path)
    entry = entry_of(compared, now)
    with _held(path):
        _refuse_twice(path, read_ledger(path), entry)
        lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
        entry["previous"] = _sha(lines[-1]) if lines else START
        lines.append(json.dumps(entry, ensure_ascii=False, allow_nan=False, sort_keys=True))
        text = "\n".join(lines) + "\n"
        write_whole(path, lambda p: p.write_text(text, encoding="utf-8", newline="\n"))
    return entry


@contextmanager
def _held(path: Path) -> Iterator[None]:
    """Keep other processes from adding while this one does: between reading and writing none may come in."""
    from filelock import FileLock, Timeout

    lock = FileLock(path.absolute().with_name(f".{path.name}.lock"))
    try:
        lock.acquire(timeout=PATIENCE)
    except Timeout:
        msg = (f"{path}: another process has been adding to this ledger for {PATIENCE:g} s. Wait for it and add "
               "again; nothing was written.")
        raise StoreError(msg) from None
    except OSError as error:
        msg = f"{path}: cannot be locked for writing ({error.strerror or error}). Choose a folder that allows it."
        raise StoreError(msg) from None
    try:
        yield
    finally:
        lock.release()


def entry_of(c: Comparison, now: datetime | None = None) -> dict[str, Any]:
    """What a comparison adds to a ledger, as plain values; percent."""
    parts = [p for p in c.parts if not p.refused]
    differences = [d for d in c.differences if not d.refused]
    if not parts and not differences:
        why = "; ".join(dict.fromkeys(x.refused for x in (*c.parts, *c.differences)))
        msg = f"{c.session.title}: nothing of this comparison may be scored ({why})"
        raise InputError(msg)
    scored = {p.part for p in parts} | {d.part for d in differences}
    forecasts = dict(c.forecasts)
    return {
        "pullcast_ledger": LAYOUT,
        "written_utc": (now or datetime.now(UTC)).astimezone(UTC).isoformat("T", "seconds"),
        "session": c.session.title, "basis": c.setting.basis, "seal": c.sealed, "sealed_utc": c.sealed_utc,
        "calibrated": c.calibrated, "version": c.version,
        "forecasts": {p: forecasts[p] for p in sorted(scored)},
        "pulls": {p: sorted(d for part, d in c.digests if part == p) for p in sorted(scored)},
        "parts": [{"part": p.name, "what": p.what, **_numbers(p.percent), "peaks": [
            {"metric": k.metric, "rpm_error": round(k.rpm_error, 1), "rpm_sd": round(k.rpm_sd, 1)} for k in p.peaks]}
            for p in parts],
        "differences": [{"part": d.part, "baseline": d.baseline, "what": d.what, "resolved": d.resolved,
                         "share_of_speeds_inside": d.share_inside(c.level), **_numbers(d.value)}
                        for d in differences],
    }


def _numbers(v: Scored) -> dict[str, float | None]:
    return {"predicted_percent": round(v.predicted, 4), "measured_percent": round(v.measured, 4),
            "predicted_sd_percent": None if v.predicted_sd is None else round(v.predicted_sd, 4),
            "measured_sd_percent": round(v.measured_sd, 4)}


def _refuse_twice(path: Path, before: list[dict[str, Any]], entry: dict[str, Any]) -> None:
    for old in before:
        again = {d for p, sha in entry["forecasts"].items() for q, known in old["forecasts"].items() if sha == known
                 for d in set(entry["pulls"][p]) & set(old["pulls"][q])}
        if again:
            msg = (f"{path}: {len(again)} of these pulls have scored this forecast on {old['written_utc'][:10]} "
                   f"({old['session']}); a pull scores a forecast once")
            raise InputError(msg)


def _entries(path: Path, lines: list[str]) -> Iterator[tuple[int, dict[str, Any]]]:
    previous = START
    for number, line in enumerate(lines, 1):
        try:
            entry = json.loads(line)
            layout, stated = entry["pullcast_ledger"], entry["previous"]
            newer = layout > LAYOUT
            _check_shape(entry)
        except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
            msg = f"{path}:{number}: is no entry of a ledger ({error}). Restore the file from a copy."
            raise StoreError(msg) from None
        if newer:
            msg = f"{path}:{number}: written by a newer pullcast; this one reads layout {LAYOUT}. Update it."
            raise StoreError(msg)
        if stated != previous:
            msg = (f"{path}:{number}: does not follow the line before: an entry was changed or taken out. Restore "
                   "the file from a copy; a mended ledger proves nothing.")
            raise StoreError(msg)
        previous = _sha(line)
        yield number, entry


def _check_shape(entry: dict[str, Any]) -> None:
    """KeyError, TypeError or ValueError when an entry does not hold what a score is made from."""
    for row in (*entry["parts"], *entry["differences"]):
        for key in NUMBERS:
            value = row[key]
            if not (value is None and key == "predicted_sd_percent") and not math.isfinite(value):
                raise ValueError(key)
        if not isinstance(row["part"], str):
            raise TypeError(row["part"])
        for peak in row.get("peaks", ()):
            if not (isinstance(peak["metric"], str) and math.isfinite(peak["rpm_error"])):
                raise ValueError(peak)
    for key in ("session", "written_utc", "seal"):
        if not isinstance(entry[key], str | None):
            raise TypeError(key)
    for key in ("forecasts", "pulls"):
        for part, digests in entry[key].items():
            if not all(isinstance(d, str) for d in ([digests] if key == "forecasts" else digests)):
                raise TypeError(part)


def _sha(line: str) -> str:
    return hashlib.sha256(line.encode()).hexdigest()


def _checked(path: str | Path) -> Path:
    path = Path(path)
    if path.suffix.lower() != SUFFIX:
        msg = f"{path}: a ledger ends in {SUFFIX}"
        raise InputError(msg)
    if path.is_dir() or not path.absolute().parent.is_dir():
        msg = f"{path}: {'is a folder' if path.is_dir() else 'its folder is not there'}; name a file in your project"
        raise InputError(msg)
    return path
