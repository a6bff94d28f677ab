"""The bench in a link: the query of the page's address, and back. What is not understood is left out and named."""

from __future__ import annotations

import base64
import binascii
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlencode

from pullcast.card.tree import PARTS
from pullcast.sheets.files import MAX_BYTES
from pullcast.show.lab.bench import LONGEST, MOST_KEYS, Bench
from pullcast.show.lab.knobs import KNOBS

LONGEST_QUERY = 16_000
SET, TEXT = "set.", "text"


@dataclass(frozen=True)
class View:
    """What is looked at: the speed of the cycle pictures (rpm; None: the middle) and the quantity of the curve."""

    rpm: float | None = None
    shows: str = "torque"


def encode(bench: Bench, view: View) -> str:
    """The query of a bench and view; "" when a typed card is too long for a link."""
    pairs = [("card", bench.card)] if bench.card else [(TEXT, _packed(bench.text))]
    pairs += bench.parts
    pairs += [(SET + key, value) for key, value in bench.keys]
    pairs += bench.knobs
    if view.rpm is not None:
        pairs.append(("rpm", f"{view.rpm:g}"))
    if view.shows != "torque":
        pairs.append(("shows", view.shows))
    query = urlencode(pairs)
    return query if len(query) <= LONGEST_QUERY else ""


def decode(query: str | Iterable[tuple[str, str]], shows: Iterable[str]) -> tuple[Bench, View, list[str]]:
    """Bench, view and notes of what was left out; ``shows`` are the quantities there are.

    The bench is well formed but may still not make an engine.
    """
    if isinstance(query, str):
        query = parse_qsl(query[:LONGEST_QUERY], keep_blank_values=False, max_num_fields=None)
    found: dict[str, str] = {}
    notes: list[str] = []
    for key, value in query:
        if len(found) >= MOST_KEYS or (key != TEXT and len(value) > LONGEST) or len(key) > LONGEST:
            notes.append(f"the link says too much at {key[:40]!r}; the rest was left out")
            break
        found[key] = value
    bench = Bench(card=found.pop("card", ""), text=_unpacked(found.pop(TEXT, ""), notes))
    view = _view(found, set(shows), notes)
    return _benched(bench, found, notes), view, notes


def _benched(bench: Bench, found: Mapping[str, str], notes: list[str]) -> Bench:
    parts = tuple((k, v) for k, v in found.items() if k in PARTS)
    keys = tuple((k.removeprefix(SET), v) for k, v in found.items() if k.startswith(SET) and len(k) > len(SET))
    knobs = tuple((k, v) for k, v in found.items() if k in KNOBS)
    known = {*dict(parts), *(SET + k for k, _ in keys), *dict(knobs)}
    notes += [f"the link's {k[:40]!r} means nothing here" for k in found if k not in known]
    return Bench(bench.card, bench.text, parts, keys, knobs)


def _view(found: dict[str, str], shows: set[str], notes: list[str]) -> View:
    rpm, shown = found.pop("rpm", None), found.pop("shows", "torque")
    try:
        speed = None if rpm is None else float(rpm)
    except ValueError:
        speed = None
    if rpm is not None and not (speed is not None and 50.0 <= speed <= 30000.0):
        notes.append(f"the link's speed {rpm[:20]!r} is no speed")
        speed = None
    return View(speed, shown if shown in shows else "torque")


def _packed(text: str) -> str:
    return base64.urlsafe_b64encode(zlib.compress(text.encode(), 9)).decode().rstrip("=")


def _unpacked(text: str, notes: list[str]) -> str:
    """The text of a link, at most as long as a card may be."""
    if not text:
        return ""
    try:
        raw = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
        inflate = zlib.decompressobj()
        plain = inflate.decompress(raw, MAX_BYTES)
        if inflate.unconsumed_tail or not inflate.eof:
            notes.append("the card in the link is cut off or too long")
            return ""
        return plain.decode()
    except (binascii.Error, zlib.error, ValueError):
        notes.append("the card in the link cannot be read")
        return ""
