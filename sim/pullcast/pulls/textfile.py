"""Raw pull files as text lines: encodings, and refusal of what is no text. It only reads; nothing raw is written."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from pullcast.errors import InputError

LARGEST = 50_000_000  # bytes


@dataclass(frozen=True)
class TextFile:
    """A raw file: its path, text lines (line 1 first), encoding found, SHA-256 of its bytes."""

    path: Path
    lines: tuple[str, ...]
    encoding: str
    sha256: str


def read_text(path: str | Path) -> TextFile:
    """Read ``path`` whatever its encoding: UTF-8 (with or without mark), UTF-16, or Windows Western as a last resort.

    Raises `InputError` for a missing file, a folder, an empty file, one above 50 MB, or bytes that are no text.
    """
    path = Path(path)
    raw = _bytes(path)
    if not raw.strip(b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"):
        msg = f"{path}: the file is empty. Export the pull again."
        raise InputError(msg)
    encoding = _encoding(raw)
    if b"\x00" in raw and not encoding.startswith("utf-16"):
        msg = f"{path}: this is no text file (zero bytes inside). Export the pull as CSV or TSV text."
        raise InputError(msg)
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as fault:
        msg = f"{path}: byte {fault.start} is not {encoding} text. Export the pull as CSV or TSV text."
        raise InputError(msg) from None
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return TextFile(path, tuple(line.rstrip() if "\t" not in line else line.rstrip(" ") for line in lines),
                    encoding, hashlib.sha256(raw).hexdigest())


def _bytes(path: Path) -> bytes:
    if path.is_dir():
        msg = f"{path} is a folder, not a pull file."
        raise InputError(msg)
    if not path.exists():
        near = sorted(p.name for p in path.parent.glob(f"*{path.suffix}"))[:4] if path.parent.is_dir() else []
        hint = f" Beside it: {', '.join(near)}." if near else ""
        msg = f"{path}: no such file.{hint} Check the name in the session card."
        raise InputError(msg)
    size = path.stat().st_size
    if size > LARGEST:
        msg = f"{path}: {size / 1e6:.0f} MB is more than {LARGEST / 1e6:.0f} MB: cut the log to the pull."
        raise InputError(msg)
    return path.read_bytes()


def _encoding(raw: bytes) -> str:
    if raw.startswith(b"\xef\xbb\xbf"):
        return "utf-8-sig"
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    head = raw[:4000]
    if head[1::2].count(0) > 0.6 * len(head[1::2]):
        return "utf-16-le"
    if head[0::2].count(0) > 0.6 * len(head[0::2]):
        return "utf-16-be"
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"
