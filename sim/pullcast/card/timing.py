"""Where the lobes stand: events, durations, centrelines, separation and advance, and whether they agree.

Identities (by definition): ICL = D/2 - IVO, ECL = D/2 - EVC, D = IVO + IVC + 180 = EVO + EVC + 180,
LSA = (ICL + ECL)/2, advance = LSA - ICL, all in crank degrees; IVO before top centre, EVC after it, and so on.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import PlainValidator

from pullcast import units
from pullcast.card import fields as f
from pullcast.card.book import Book

TOLERANCE = 1.5  # deg: cards round to whole and half degrees
_MARK = re.compile(r"\s*\b([AB])\.?([TB])\.?D\.?C\.?\b\.?\s*\Z", re.I)


def _event(sign_mark: str) -> Any:
    """An event angle, positive on the ``sign_mark`` side ("BT", "AB" ...); "10 deg ATDC" is read with its mark."""
    def read(raw: Any) -> f.Given:
        sign = 1.0
        if isinstance(raw, str) and len(raw) <= units.LONGEST and (found := _MARK.search(raw)):
            mark = (found[1] + found[2]).upper()
            if mark[1] != sign_mark[1]:
                where = "top" if sign_mark[1] == "T" else "bottom"
                msg = f'"{raw}" counts from the wrong dead centre; this event is counted from {where} dead centre'
                raise ValueError(msg)
            sign = 1.0 if mark == sign_mark else -1.0
            raw = raw[: found.start()]
        return f.Given(sign * f.read_value(raw, "angle", -120.0, 180.0))
    return Annotated[float, PlainValidator(read), f.described("angle", -120.0, 180.0)]


class EventsCard(f.Table):
    """Event angles of a lobe, with the lift they are counted at; centreline as installed."""

    ivo: _event("BT") | None = None
    ivc: _event("AB") | None = None
    evo: _event("BB") | None = None
    evc: _event("AT") | None = None
    events_at: f.CheckLift | None = None
    events_side: Literal["tappet", "valve"] | None = None
    centreline: f.quantity("angle", 60.0, 150.0) | None = None


@dataclass(frozen=True)
class Counted:
    """Events of one lobe: the lift and side they are counted at, duration and centreline from them (deg)."""

    lift: float
    where: str
    duration: float
    centreline: float
    events: tuple[float, float]


@dataclass(frozen=True)
class Placed:
    """Centreline of a lobe as installed, deg from overlap top dead centre."""

    centreline: float


def events_of(card: EventsCard, side: str, book: Book) -> Counted | None:
    """The events a lobe card states, or None; problems go to ``book``."""
    key = f"cam.{side}"
    ours = ("ivo", "ivc") if side == "intake" else ("evo", "evc")
    for name in {"ivo", "ivc", "evo", "evc"} - set(ours):
        if getattr(card, name) is not None:
            book.problem(f"{key}.{name}", f"{name} does not belong to the {side} lobe",
                         f"Here: {ours[0]} and {ours[1]}.")
    first, second = (getattr(card, name) for name in ours)
    if first is None and second is None:
        return None
    if first is None or second is None:
        book.problem(f"{key}.{ours[0]}", f"{ours[0]} and {ours[1]} must be given together", "Give both events.")
        return None
    if card.events_at is None:
        book.problem(f"{key}.events_at", "events are given without the lift they are counted at",
                     'Seat events and 0.050 in events differ by 15 deg and more: events_at = "0.050 in".')
        return None
    where = card.events_side or ("valve" if abs(card.events_at - 0.001) < 1e-6 else "tappet")
    duration = 180.0 + first + second
    if not 60.0 <= duration <= 440.0:
        book.problem(f"{key}.{ours[0]}", f"{ours[0]} {first:g} and {ours[1]} {second:g} make a duration of "
                     f"{duration:g} deg",
                     "A valve is open for 100 to 400 deg: check the events and their dead centres.")
        return None
    opening_at_tdc = first if side == "intake" else second
    return Counted(float(card.events_at), where, duration, duration / 2 - opening_at_tdc, (float(first),
                                                                                           float(second)))


def place_lobes(card: Any, durations: dict, book: Book, *, advance_rules: bool) -> dict[str, Placed]:
    """Installed centrelines of both lobes from whatever the card gives; what is redundant is compared."""
    counted = {side: events_of_quiet(getattr(card, side), side) for side in ("intake", "exhaust")}
    stated = {side: _centreline(getattr(card, side), counted[side], side, book) for side in ("intake", "exhaust")}
    for side in ("intake", "exhaust"):
        _check_events(counted[side], durations[side], side, book)
    icl, ecl = stated["intake"], stated["exhaust"]
    lsa, advance = card.lobe_separation, card.advance
    if advance_rules and advance is not None:
        lsa = lsa if lsa is not None else (icl + ecl) / 2 if None not in (icl, ecl) else None
        icl = ecl = None
    lsa = _separation(lsa, icl, ecl, advance, book)
    if icl is None and ecl is not None and card.lobe_separation is not None:
        icl = 2 * lsa - ecl
    if icl is None:
        icl = lsa - book.take(advance, "cam.advance")
    elif advance is not None and abs(lsa - icl - advance) > TOLERANCE:
        swapped = abs(lsa - icl + advance) <= TOLERANCE
        book.found("contradiction", "cam.advance", f"separation {lsa:g} less intake centreline {icl:g} is an advance "
                   f"of "
                   f"{lsa - icl:+g} deg, the card states {advance:+g} (the centreline was used)",
                   "Advanced and retarded are swapped." if swapped else
                   "An advanced cam has its intake centreline before the separation angle.")
    if ecl is None:
        ecl = 2 * lsa - icl
    turn = float(card.installed_advance or 0.0)
    return {"intake": Placed(float(icl - turn)), "exhaust": Placed(float(ecl + turn))}


def events_of_quiet(card: EventsCard, side: str) -> Counted | None:
    """As :func:`events_of` without notes (its problems have been noted already)."""
    return events_of(card, side, _DEAF)


class _Deaf:
    def problem(self, *args: str) -> None:
        """Ignore."""


_DEAF: Any = _Deaf()


def _centreline(card: EventsCard, counted: Counted | None, side: str, book: Book) -> float | None:
    if card.centreline is None:
        return None if counted is None else counted.centreline
    book.stated(card.centreline, f"cam.{side}.centreline", "angle")
    even = not getattr(card, "asymmetry", None)
    if counted is not None and even and abs(counted.centreline - card.centreline) > TOLERANCE:
        book.found("contradiction", f"cam.{side}.centreline",
                   f"the events put the centreline at {counted.centreline:g} deg, "
                   f"the card states {card.centreline:g} (which was used)",
                   "Check the events, or state the asymmetry of the lobe.")
    return float(card.centreline)


def _check_events(counted: Counted | None, durations: tuple, side: str, book: Book) -> None:
    if counted is None:
        return
    for d in durations:
        if abs(d.lift - counted.lift) < 2e-6 and abs(d.duration_deg - counted.duration) > TOLERANCE:
            book.found("contradiction", f"cam.{side}", f"the events make a duration of {counted.duration:g} deg at "
                       f"{counted.lift * 1e3:.3f} mm, the card states {d.duration_deg:g} (which was used)",
                       "Are the events counted at another lift than stated?")


def _separation(lsa: float | None, icl: float | None, ecl: float | None, advance: float | None, book: Book) -> float:
    if icl is not None and ecl is not None:
        mean = (icl + ecl) / 2
        if lsa is not None and abs(mean - lsa) > TOLERANCE:
            book.found("contradiction", "cam.lobe_separation",
                       f"centrelines {icl:g} and {ecl:g} deg make a separation of "
                       f"{mean:g}, the card states {lsa:g} (the centrelines were used)",
                       "Is the separation written where the centreline belongs?")
        return mean
    if lsa is not None:
        book.stated(lsa, "cam.lobe_separation", "angle")
        return float(lsa)
    if icl is not None and advance is not None:
        return float(icl + advance)
    return book.take(None, "cam.lobe_separation")
