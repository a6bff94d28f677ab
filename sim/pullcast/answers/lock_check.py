"""Whether a lock is as it was sealed, and which part of it is not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pullcast.answers.lock_file import LAYOUT, read_document
from pullcast.answers.seal import digests_of, seal_of
from pullcast.errors import InputError

CLOCK_SLACK = 120.0  # s by which a file's time may lie ahead of this machine's clock (common practice, no source)


@dataclass(frozen=True, repr=False)
class Verdict:
    """Whether a lock is as it was sealed: what was ``changed``, in words, and ``notes`` that change nothing."""

    path: Path
    changed: tuple[str, ...]
    notes: tuple[str, ...]
    seal: str

    @property
    def unchanged(self) -> bool:
        """True when every part is as sealed."""
        return not self.changed

    def __repr__(self) -> str:
        """One sentence."""
        if self.unchanged:
            return f"{self.path.name} is as it was sealed; seal {self.seal}"
        return f"{self.path.name} was changed after it was sealed: {'; '.join(self.changed)}"


def verify(path: str | Path, seal: str | None = None) -> Verdict:
    """Whether a lock is as it was sealed, and which parts are not.

    ``seal`` is the one noted when it was made (spaces and case do not matter; eight or more first digits will do).
    Raises InputError when there is no such file or ``seal`` is no seal, StoreError when the file is not a lock.
    """
    path = Path(path)
    noted = None if seal is None else _tidy(seal)
    document = read_document(path)
    parts, stated = document["parts"], document["sha256"]
    found = digests_of(parts)
    names = _names(parts)
    changed = list(document["odd"])
    changed += [_told(label, names) for label in found if stated.get(label) not in (None, found[label])]
    changed += [f"{_told(label, names)} was added" for label in found if label not in stated]
    changed += [f"{_told(label, names)} was taken out" for label in stated if label not in found]
    if not changed and seal_of(LAYOUT, found) != document["seal"]:
        changed.append("the seal does not fit the parts: a part was changed with its digest, or the seal itself")
    if noted is not None and not document["seal"].startswith(noted):
        changed.append(f"the seal is {document['seal'][:16]}..., not the {noted[:16]} noted: this is another lock")
    return Verdict(path, tuple(changed), _notes(parts.get("head")), document["seal"])


def _notes(head: Any) -> tuple[str, ...]:
    """What is to be known about the clock."""
    if not isinstance(head, dict):
        return ()
    notes = [head["clock"]] if head.get("clock") else []
    now = datetime.now(UTC)
    try:
        if datetime.fromisoformat(head["sealed_utc"]).timestamp() > now.timestamp() + CLOCK_SLACK:
            notes.append(f"it was sealed at {head['sealed_utc']}, after now by this machine's clock ({iso(now)})")
    except (KeyError, TypeError, ValueError):
        notes.append("it does not say when it was sealed")
    return tuple(map(str, notes))


def _tidy(seal: str) -> str:
    text = "".join(seal.split()).lower()
    if not 8 <= len(text) <= 64 or set(text) - set("0123456789abcdef"):
        msg = f"{seal!r} is no seal; give 8 to 64 of the digits 0 to 9 and a to f noted when the lock was made"
        raise InputError(msg)
    return text


def _names(parts: Mapping[str, Any]) -> tuple[list, list]:
    head = parts.get("head")
    found = [head.get(key) if isinstance(head, dict) else None for key in ("curves", "texts")]
    return tuple(names if isinstance(names, list) else [] for names in found)


def _told(label: str, names: tuple[list, list]) -> str:
    """A part's label in words."""
    kind, _, rest = label.partition("/")
    number, _, what = rest.partition("/")
    known = names[kind == "text"]
    name = repr(known[int(number)]) if number.isdigit() and int(number) < len(known) else number
    if kind == "curve":
        return f"the {what.replace('_', ' ')} of curve {name}"
    return {"head": "the head (time, version, names, note)", "text": f"the text {name}"}.get(kind, f"the {label}")


def iso(time: datetime) -> str:
    """A time as text, to the second, in UTC."""
    return time.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S+00:00")
