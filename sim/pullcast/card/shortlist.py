"""The shortlist card: a base engine, the candidates, the rpm band, the goal and what must be kept.

::

    name = "Intakes and cams for the hill"
    base = "engines/hillclimb_v8.toml"
    goal = "band torque"

    [band]
    low = "3000 rpm"
    high = "6000 rpm"
    time = { speeds = "3000 4500 6000 rpm", share = [1, 2, 1] }

    [[candidate]]
    name = "dual plane, cam advanced"
    intake = "intakes/v8_dual_plane.toml"
    cam.advance = "4 deg"

    [constraints]
    hood_height = "150 mm"

In place of [[candidate]] tables a card may have a [grid] (key = list of values: every combination) or a [search]
(key = { from, to }). Where one candidate changes a part and a value in it, the value's key is in quotes:
``"cam.advance" = "4 deg"`` beside ``cam = "cams/warm.toml"``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
from pydantic import Field, ValidationError

from pullcast.card import candidates as c
from pullcast.card import fields as f
from pullcast.card.band import Band, BandCard, resolve_band
from pullcast.card.constraints import Constraint, ConstraintsCard, constraints_of
from pullcast.card.engine import Engine
from pullcast.card.faults import problems_of
from pullcast.card.reading import read_engine, with_changes
from pullcast.errors import CardError, InputError, Problem
from pullcast.sheets.files import Sheet, locate, project_root, read_sheet
from pullcast.sheets.lines import find_line

Goal = Literal["band torque", "band power", "lowest torque in band", "peak torque", "peak power"]
WAYS = ("candidate", "grid", "search")


class ShortlistCard(f.Table):
    """A shortlist card; what is swapped is checked by reading the engine with it."""

    name: str
    base: str
    goal: Goal = "band torque"
    band: BandCard
    candidate: tuple[dict[str, Any], ...] = ()
    grid: dict[str, Any] | None = None
    search: dict[str, Any] | None = None
    constraints: ConstraintsCard = ConstraintsCard()
    source: dict[str, str] = Field(default_factory=dict)


@dataclass(frozen=True)
class Candidate:
    """A candidate: its name, what it changes on the base engine, and the engine that makes."""

    name: str
    swaps: dict[str, Any]
    engine: Engine


@dataclass(frozen=True)
class Shortlist:
    """A shortlist, read and checked. ``candidates`` are in the card's order, without the base; with ``spans`` (free
    search) there are none, and ``engine_at`` makes them. ``held``: keys whose values in the engines stand in place of
    the card's (of a calibration), ``ready`` puts these into the engine of a place in the search."""

    name: str
    goal: str
    band: Band
    base: Engine
    candidates: tuple[Candidate, ...]
    spans: tuple[c.Span, ...]
    constraints: tuple[Constraint, ...]
    source: str
    base_path: Path
    text: str
    held: frozenset[str] = frozenset()
    ready: Callable[[Engine], Engine] | None = None

    def score(self, rpm: Sequence[float], torque: Sequence[float]) -> float:
        """What the goal comes to for brake ``torque`` (N m) at ``rpm``: N m or W, more is better.

        The curve is taken as straight between speeds; band means count each speed by the time spent there, peaks and
        the lowest torque are those within the band. Raises InputError when ``rpm`` does not cover the band.
        """
        speed, moment = np.asarray(rpm, dtype=float), np.asarray(torque, dtype=float)
        if self.goal == "band torque":
            return self.band.mean(speed, moment)
        if self.goal == "band power":
            return self.band.mean(speed, moment * speed * math.pi / 30)
        if self.goal == "peak power":
            return self.band.extremes(speed, moment * speed * math.pi / 30)[1]
        lowest, highest = self.band.extremes(speed, moment)
        return highest if self.goal == "peak torque" else lowest

    def engine_at(self, values: Mapping[str, float]) -> Engine:
        """The engine at a place in the search: a number, in the span's unit, for each key of ``spans``.

        Raises InputError for a missing or unknown key or a number outside its span, CardError where the cards do not
        fit together there.
        """
        if set(values) != {span.key for span in self.spans}:
            msg = f"a place in the search needs {', '.join(span.key for span in self.spans)}, not {', '.join(values)}"
            raise InputError(msg)
        for span in self.spans:
            if not span.low <= values[span.key] <= span.high:
                msg = f"{span.key} {values[span.key]:g} is outside {span.low:g} to {span.high:g} {span.unit}"
                raise InputError(msg)
        made = with_changes(self.base_path, {span.key: span.text(values[span.key]) for span in self.spans})
        return self.ready(made) if self.ready else made


def read_shortlist(path: str | Path) -> Shortlist:
    """The shortlist of a card file, base and every candidate read.

    Raises CardError with every problem of the card, of the base engine and of all candidates: file, line, key, what
    is wrong, what fits.
    """
    path = Path(path)
    sheet = _sheet(path)
    problems: list[Problem] = []
    card = None
    try:
        card = ShortlistCard.model_validate(sheet.data)
    except ValidationError as error:
        problems += problems_of(error, ShortlistCard, "", lambda key: _at(sheet, key))

    def problem(place: str | c.Place, text: str, remedy: str) -> None:
        key = place if isinstance(place, str) else ".".join(map(str, place))
        problems.append(Problem(sheet.name, _at(sheet, place)[1], key, text, remedy))

    band = resolve_band(card.band, problem) if card else None
    base_path, base = _base(sheet, path.parent, problem, problems)
    wanted, spans = _wanted(sheet.data, problem)
    found = _resolve(wanted, spans, base_path, sheet, problems) if base_path and (wanted or spans) else []
    if problems:
        order = sorted(dict.fromkeys(problems), key=lambda p: (p.file != sheet.name, p.file, p.line or 0, p.key))
        raise CardError(order)
    return Shortlist(card.name, card.goal, band, base, tuple(found) if wanted else (), tuple(spans),
                     constraints_of(card.constraints), " ".join(card.source.values()) or "not stated", base_path,
                     sheet.text)


def _sheet(path: Path) -> Sheet:
    try:
        return read_sheet(path, path.name)
    except CardError as error:
        if "overwrite" not in str(error):
            raise
        raise CardError([Problem(p.file, p.line, p.key, p.text, 'Beside cam = "..." a key in the cam is written in '
                                 'quotes: "cam.advance" = "4 deg".') for p in error.problems]) from None


def _at(sheet: Sheet, key: str | c.Place) -> tuple[str, int | None]:
    place = key if isinstance(key, tuple) else tuple(int(p) if p.isdigit() else p for p in key.split("."))
    return sheet.name, find_line(sheet.lines, place)


def _base(sheet: Sheet, folder: Path, problem, problems: list[Problem]) -> tuple[Path | None, Engine | None]:
    """Path and engine of the base; its problems are noted."""
    reference = sheet.data.get("base")
    if not isinstance(reference, str):
        return None, None
    where = locate(reference, folder.resolve(), project_root(folder))
    if isinstance(where, str) or not where.is_file():
        near = ""
        if isinstance(where, Path):
            near = f"Cards there: {', '.join(sorted(p.name for p in where.parent.glob('*.toml'))[:8]) or 'none'}."
        problem("base", f'"{reference}": {where if isinstance(where, str) else "no such file"}', near)
        return None, None
    try:
        return where, read_engine(where)
    except CardError as error:
        problems += error.problems
        return where, None


def _wanted(data: Mapping[str, Any], problem) -> tuple[list[c.Swaps], list[c.Span]]:
    """What is to be compared, by the one way the card uses."""
    ways = [way for way in WAYS if way in data]
    if len(ways) != 1:
        said = f"both [{ways[0]}] and [{ways[1]}] are given" if ways else "there is nothing to compare"
        problem(ways[1] if ways else "", said, "Write [[candidate]] tables, or a [grid], or a [search].")
    wanted: list[c.Swaps] = []
    spans: list[c.Span] = []
    if isinstance(rows := data.get("candidate"), list) and all(isinstance(row, dict) for row in rows):
        wanted += c.listed(rows, problem)
        if len(rows) > c.MOST:
            problem("candidate", f"{len(rows)} candidates, more than {c.MOST}", "List fewer.")
            wanted = []
    if isinstance(table := data.get("grid"), dict):
        wanted += c.grid(table, problem)
    if isinstance(table := data.get("search"), dict):
        spans += c.spans(table, problem)
    return wanted, spans


def _resolve(wanted: list[c.Swaps], spans: list[c.Span], base_path: Path, sheet: Sheet,
             problems: list[Problem]) -> list[Candidate]:
    """The candidates; of a search its corners: both ends of each range, and of all at once."""
    found, of_base = [], set(problems)
    for swaps in [*wanted, *_corners(spans, sheet)]:
        try:
            found.append(Candidate(swaps.name, swaps.values, with_changes(base_path, swaps.values)))
        except CardError as error:
            problems += [p if p in of_base else _placed(p, swaps, sheet, base_path) for p in error.problems]
        except InputError as error:
            key = next(k for k in swaps.values if repr(k) in str(error))
            problems.append(_placed(Problem("change", None, key, str(error)), swaps, sheet, base_path))
    return found


def _corners(spans: list[c.Span], sheet: Sheet) -> list[c.Swaps]:
    if not spans:
        return []
    pairs = c.flat(sheet.data["search"], ("search",), lambda v: bool(set(v) & {"from", "to"}))
    places = {key: place for key, (place, _) in pairs.items()}
    low, high = ({s.key: s.text(end(s)) for s in spans} for end in (lambda s: s.low, lambda s: s.high))
    each = [{key: value} for ends in (low, high) for key, value in ends.items()]
    return [c.Swaps("", values, places) for values in ([*each, low, high] if len(spans) > 1 else each)]


def _placed(problem: Problem, swaps: c.Swaps, sheet: Sheet, base_path: Path) -> Problem:
    """A problem of a changed key at its place on the shortlist; one that it makes on the base says whose it is."""
    if problem.file == base_path.name and swaps.name:
        return replace(problem, text=f'{problem.text} (with "{swaps.name}")')
    key = problem.key.removeprefix("parts.")
    owners = [k for k in swaps.places if key == k or key.startswith(f"{k}.")]
    if problem.file != "change" or not owners:
        return problem
    place = swaps.places[max(owners, key=len)]
    return replace(problem, file=sheet.name, line=_at(sheet, place)[1], key=key)
