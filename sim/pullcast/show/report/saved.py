"""What a JSON document saved by a verb gives to a report: its findings, its tables, its curves over speed."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pullcast.errors import InputError, StoreError
from pullcast.show.report.blocks import Block, Grid, Picture, lines, panels
from pullcast.show.report.chapter import Share

# what a document is of -> keys that only such a one has together
KINDS = {
    "judgement": ("sequence", "pulls", "differences"), "comparison": ("seal", "parts", "differences"),
    "diagnosis": ("causes", "check", "findings"), "explanation": ("attributes", "mechanisms", "findings"),
    "tuning": ("tune", "burn_law", "speeds"), "calibration": ("unknowns", "misfit_chi_square"),
    "forecast": ("points", "peak_torque"), "search": ("pullcast_search", "trends"),
    "plan": ("pullcast_plan", "stops"),
    "record of forecasts": ("comparisons", "coverage"), "review of a card": ("derived", "assumed"),
}
MAX_BYTES = 50_000_000
SPEEDS = ("rpm", "speed_rpm", "speeds_rpm")
UNITS = {"percent": "%", "pct": "%", "Nm": "N m", "lbft": "lb-ft", "kW": "kW", "hp": "hp", "points": "points"}
MOST_ROWS, MOST_LINES = 60, 6


@dataclass(frozen=True, repr=False)
class Saved:
    """A document as read: ``kind`` one of ``KINDS``, the name of its file, its values."""

    kind: str
    name: str
    values: Mapping[str, Any]

    def __repr__(self) -> str:
        """What it is and where from."""
        return f"saved {self.kind} {self.name}"


def read_saved(path: str | Path) -> Saved:
    """The document in a .json file. InputError when there is none, StoreError when no verb wrote it."""
    path = Path(path)
    if not path.is_file():
        msg = f"{path}: no such file. Documents are written by --out NAME.json."
        raise InputError(msg)
    try:
        if path.stat().st_size > MAX_BYTES:
            msg = f"it has more than {MAX_BYTES // 1_000_000} MB"
            raise ValueError(msg)
        values = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        msg = f"{path}: cannot be read as a saved document ({error}). Write it again with --out NAME.json."
        raise StoreError(msg) from None
    kind = next((k for k, keys in KINDS.items() if isinstance(values, dict) and set(keys) <= set(values)), None)
    if kind is None:
        msg = f"{path}: is JSON but not what a verb of pullcast saves. Give a file written by --out NAME.json."
        raise StoreError(msg)
    return Saved(kind, path.name, values)


def share(saved: Saved, units: str) -> Share:
    """The share of a saved document; its numbers are shown in the units they were saved in."""
    v = saved.values
    of = str(v.get("title") or v.get("engine") or v.get("base") or v.get("shortlist") or saved.name)
    try:
        told = [str(t) for t in v.get("findings") or ()] or list(_verdicts(saved))
        notes = [f"note: {n}" for n in v.get("notes") or ()]
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        msg = f"{saved.name}: is not a whole {saved.kind} ({error!r:.80}). Write it again with --out NAME.json."
        raise StoreError(msg) from None
    field = {"judgement": "pulls", "explanation": "why", "diagnosis": "why", "review of a card": "inputs"}.get(
        saved.kind, "answer")
    blocks: dict[str, tuple[Block, ...]] = {"curves": tuple(_pictures(v)), field: tuple(_tables(v))}
    return Share(
        f"What does the saved {saved.kind} of {of} say?", tuple(told) or (f"A saved {saved.kind} of {of}.",), 8,
        f"Saved {saved.kind}: {of}", method=lines(notes),
        origin=((f"saved {saved.kind}", saved.name),), **blocks)


def _verdicts(saved: Saved) -> Iterator[str]:
    for d in saved.values.get("differences") or ():
        if saved.kind == "judgement":
            yield (f"{d['part']} against {d['baseline']}, {d['metric']}: {d['percent']:+.2f} % "
                   f"({d['percent_low']:+.2f} to {d['percent_high']:+.2f}): {d['verdict']}.")
        elif saved.kind == "comparison":
            yield (f"{d['part']} against {d['baseline']}, {d['what']}: predicted {d['predicted_percent']:+.2f} %, "
                   f"measured {d['measured_percent']:+.2f} % ({d['verdict']}).")


def _words(key: str) -> str:
    return str(key).replace("_", " ")


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.5g}"
    if isinstance(value, list):
        return ", ".join(map(_text, value))
    return "–" if value is None or value == "" else str(value)


def _flat(value: Any) -> bool:
    """Whether a value fits into one cell."""
    return not isinstance(value, dict) and not (
        isinstance(value, list) and (len(value) > 12 or any(isinstance(x, dict | list) for x in value)))


def _tables(v: Mapping[str, Any]) -> Iterator[Grid]:
    alone = [(_words(k), _text(x)) for k, x in v.items() if _flat(x) and k not in ("findings", "notes")]
    yield Grid(("what", "value"), tuple(alone))
    for key, value in v.items():
        rows = value if isinstance(value, list) else [value]
        if _flat(value) or key in ("findings", "notes", "files") or not all(isinstance(r, dict) for r in rows):
            continue
        heads = list(dict.fromkeys(k for r in rows for k, x in r.items() if _flat(x)))
        heads = [h for h in heads if any(r.get(h) not in (None, "", []) for r in rows)][:10]
        if heads:
            cells = tuple(tuple(_text(r.get(h)) for h in heads) for r in rows[:MOST_ROWS])
            right = tuple(all(isinstance(r.get(h), int | float | None) for r in rows) for h in heads)
            yield Grid(tuple(map(_words, heads)), cells, right, _words(key))


def _pictures(v: Mapping[str, Any]) -> Iterator[Picture]:
    for name, speeds, curves in _series(v, ""):
        groups: dict[str, dict[str, list[float]]] = {}
        for key, values in curves.items():
            groups.setdefault(_unit(key), {})[key] = values
        for unit, group in groups.items():
            yield panels(f"{_words(name) or 'The whole'} over speed, as saved.",
                         (2.4, lambda ax, x=speeds, g=group, unit=unit: _draw(ax, x, g, unit)))


def _unit(key: str) -> str:
    """The part of a key that is a unit, else its last word."""
    words = key.split("_")
    return next((w for w in words if w in UNITS), words[-1])


def _series(value: Any, name: str) -> Iterator[tuple[str, list[float], dict[str, list[float]]]]:
    """Every table of numbers over speed in a document."""
    if isinstance(value, list):
        for row in value:
            label = next((row[k] for k in ("name", "part", "attribute", "mechanism") if k in row), "") \
                if isinstance(row, dict) else ""
            yield from _series(row, f"{name} {label}".strip()) if isinstance(row, dict) else ()
    if not isinstance(value, dict):
        return
    speeds = next((value[k] for k in SPEEDS if _numbers(value.get(k))), None)
    if speeds is not None:
        same = {k: x for k, x in value.items() if k not in SPEEDS and _numbers(x) and len(x) == len(speeds)}
        if same and len(speeds) > 1:
            yield name, speeds, dict(list(same.items())[:MOST_LINES])
    for key, inner in value.items():
        if isinstance(inner, dict | list) and not _numbers(inner):
            yield from _series(inner, name if key == "curve" else f"{name} {key}".strip())


def _numbers(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(
        x is None or (isinstance(x, int | float) and not isinstance(x, bool)) for x in value) and len(value) > 1


def _draw(ax, speeds: list[float], group: dict[str, list[float]], unit: str) -> None:
    from pullcast.show import look

    colours = (look.BLUE, look.VERMILION, look.GREEN, look.PURPLE, look.SKY, look.BLACK)
    for k, (name, values) in enumerate(group.items()):
        ax.plot(speeds, [math.nan if x is None else x for x in values], color=colours[k % len(colours)],
                linestyle=look.DASHES[k % len(look.DASHES)], label=_words(name))
    ax.set_xlabel("engine speed, rpm")
    ax.set_ylabel(UNITS.get(unit, _words(unit)))
    ax.legend(frameon=False, fontsize=8, loc="best")
    look.quiet(ax)
