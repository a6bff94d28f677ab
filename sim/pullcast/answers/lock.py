"""Lock: a forecast sealed before the pulls, so that it can be scored afterwards and not be mended in between.

A lock is one text file (JSON) of parts, each with its SHA-256, and a seal over them all. A changed part no longer
matches its digest; a part changed together with its digest no longer matches the seal; and the seal, noted elsewhere
when the lock is made (on the dyno sheet, in a message to somebody), shows a lock that was made anew.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pullcast.answers.lock_check import Verdict, iso, verify
from pullcast.answers.lock_file import LAYOUT, read_document, text_of
from pullcast.answers.lock_place import beside, check_place
from pullcast.answers.seal import canonical, digests_of, seal_of
from pullcast.errors import InputError, StoreError
from pullcast.results.html import answer_html

if TYPE_CHECKING:
    from pullcast.results.curve import Curve

__all__ = ["Lock", "Verdict", "lock", "read_lock", "verify"]


@dataclass(frozen=True, repr=False)
class Lock:
    """A sealed forecast as read. ``parts`` are its JSON values by label; ``seal`` is 64 hex digits."""

    path: Path
    seal: str
    parts: Mapping[str, Any]

    @property
    def head(self) -> Mapping[str, Any]:
        """``sealed_utc``, ``version``, ``curves`` (names), ``texts`` (names), ``note``, ``previous``, ``clock``."""
        return self.parts["head"]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the curves."""
        return tuple(self.head["curves"])

    @property
    def ranking(self) -> Any | None:
        """The ranking, None when none was sealed."""
        return self.parts.get("ranking")

    def curve(self, name: str) -> Curve:
        """A sealed curve, numbers to the last digit (without traces). InputError for a name there is not."""
        from pullcast.answers.lock_curves import unpacked

        if name not in self.names:
            msg = f"{self.path.name} holds no curve {name!r}; it holds {', '.join(self.names)}"
            raise InputError(msg)
        return unpacked(self.parts, self.names.index(name))

    def __repr__(self) -> str:
        """One sentence: what is sealed, when, and the seal."""
        count = len(self.names)
        with_ranking = " and a ranking" if self.ranking is not None else ""
        return (f"Lock of {count} curve{'' if count == 1 else 's'}{with_ranking}, sealed {self.head['sealed_utc']} "
                f"by pullcast {self.head['version']}; seal {self.seal}")

    def _repr_html_(self) -> str:
        rows = [("curve", name) for name in self.names] + [("text", name) for name in self.head["texts"]]
        rows += [("ranking", "sealed")] if self.ranking is not None else []
        return answer_html([repr(self)], ("what", "name"), rows, [self.head["note"]] if self.head["note"] else [])


def lock(path: str | Path, curves: Mapping[str, Curve] | Sequence[Curve], *, ranking: Any = None,
         texts: Mapping[str, str] | None = None, note: str = "", now: datetime | None = None) -> Lock:
    """Seal a forecast into a new file.

    Parameters
    ----------
    path
        Ends in ``.lock.json`` and is not there yet: a lock is never replaced.
    curves
        What is forecast, by name (candidates of one engine need names); each brings its cards' text and provenance.
    ranking
        What a ranking printed with ``--json``, or any value JSON can hold.
    texts
        More texts to seal by name: a shortlist card, a plan of the day.
    note
        A line of your own.
    now
        The time to seal at, default the clock's (with its offset from UTC).

    Returns
    -------
    Lock
        Whose ``seal`` should be noted where it cannot be changed.

    Raises InputError when there is nothing to seal or the file is there, StoreError when it cannot be written; the
    file then is not there.

    """
    from pullcast import __version__
    from pullcast.answers.lock_curves import packed
    from pullcast.results.files import write_whole

    path = Path(path)
    if not curves:
        msg = "there is no curve to lock: predict one first"
        raise InputError(msg)
    check_place(path)
    named = dict(curves) if isinstance(curves, Mapping) else _named(curves)
    time = (now or datetime.now(UTC)).astimezone(UTC).replace(microsecond=0)
    previous, clock = beside(path.parent, time)
    head = {"sealed_utc": iso(time), "version": __version__, "curves": list(named), "texts": sorted(texts or {}),
            "note": note, "previous": previous, "clock": clock}
    parts: dict[str, Any] = {"head": head}
    for i, curve in enumerate(named.values()):
        parts |= packed(curve, i)
    parts |= {f"text/{i}": (texts or {})[name] for i, name in enumerate(head["texts"])}
    if ranking is not None:
        parts["ranking"] = ranking
    parts = json.loads(canonical(parts))  # what will be read back, whatever went in
    digests = digests_of(parts)
    seal = seal_of(LAYOUT, digests)
    write_whole(path, lambda p: p.write_text(text_of(parts, digests, seal), encoding="utf-8", newline="\n"))
    with suppress(OSError):
        path.chmod(0o444)  # against a slip of the hand; the seal is what holds
    return Lock(path, seal, parts)


def read_lock(path: str | Path) -> Lock:
    """The lock of a file, for scoring. StoreError when it was changed, naming the parts."""
    verdict = verify(path)
    if not verdict.unchanged:
        msg = f"{verdict!r}. A changed forecast is not scored."
        raise StoreError(msg)
    document = read_document(Path(path))
    return Lock(Path(path), document["seal"], document["parts"])


def _named(curves: Sequence[Curve]) -> dict[str, Curve]:
    named: dict[str, Curve] = {}
    for curve in curves:
        name, k = curve.name, 2
        while name in named:
            name, k = f"{curve.name} ({k})", k + 1
        named[name] = curve
    return named
