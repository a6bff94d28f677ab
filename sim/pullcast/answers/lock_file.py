"""The text of a lock: JSON with one part on a line, read without trusting any of it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pullcast.errors import InputError, StoreError

LAYOUT = 1  # of the document; raised when an older reader would misread it
SUFFIX = ".lock.json"
MAX_BYTES = 50_000_000


def text_of(parts: Mapping[str, Any], digests: Mapping[str, str], seal: str) -> str:
    """The file's text: the seal first, then the digests, then the parts."""
    lines = [f'"pullcast_lock": {LAYOUT},', f'"seal": "{seal}",', '"sha256": {', *_rows(digests), "},", '"parts": {',
             *_rows(parts), "}"]
    return "\n".join(["{", *lines, "}", ""])


def _rows(table: Mapping[str, Any]) -> list[str]:
    rows = [f"{json.dumps(key)}: {json.dumps(value, ensure_ascii=False, allow_nan=False)}" for key, value in
            table.items()]
    return [f" {row}," for row in rows[:-1]] + [f" {rows[-1]}"]


def read_document(path: Path) -> dict[str, Any]:
    """``seal`` (text), ``sha256`` and ``parts`` (tables) of a lock, and ``odd``: what no lock is written with.

    Raises InputError when there is no such file, StoreError when it is no lock or a newer pullcast's.
    """
    if not path.is_file():
        msg = f"{path}: no such lock file. Locks are written by pullcast lock ... --out NAME{SUFFIX}."
        raise InputError(msg)
    repeated: list[str] = []

    def table(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        made = dict(pairs)
        if len(made) < len(pairs):
            repeated.append(sorted(key for key, _ in pairs if [k for k, _ in pairs].count(key) > 1)[0])
        return made

    try:
        if path.stat().st_size > MAX_BYTES:
            msg = f"more than {MAX_BYTES} bytes"
            raise ValueError(msg)
        document = json.loads(path.read_text(encoding="utf-8-sig"), object_pairs_hook=table, parse_constant=_refused)
        if not isinstance(document, dict) or not isinstance(document.get("pullcast_lock"), int):
            msg = "it does not say that it is one"
            raise ValueError(msg)
        if document["pullcast_lock"] > LAYOUT:
            msg = (f"{path}: written in layout {document['pullcast_lock']} by a newer pullcast; this one reads up to "
                   f"{LAYOUT}. Update it.")
            raise StoreError(msg)
        _check_shape(document)
        json.dumps(document, ensure_ascii=False, allow_nan=False).encode()  # no endless number, no broken letter
    except (OSError, ValueError, RecursionError) as error:
        msg = f"{path}: is not a lock of pullcast, or was cut short ({error}). Nothing in it can be relied on."
        raise StoreError(msg) from None
    extra = sorted(set(document) - {"pullcast_lock", "seal", "sha256", "parts"})
    odd = [f"{key!r} is there twice" for key in repeated] + [f"{key!r} is there, which no lock has" for key in extra]
    return document | {"odd": odd}


def _check_shape(document: Mapping[str, Any]) -> None:
    for key, kind, what in (("seal", str, "text"), ("sha256", dict, "a table"), ("parts", dict, "a table")):
        if not isinstance(document.get(key), kind):
            msg = f"{key} is not {what}"
            raise ValueError(msg)


def _refused(name: str) -> None:
    msg = f"{name} is not a number"
    raise ValueError(msg)
