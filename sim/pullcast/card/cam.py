"""The cam card: durations with their lift references, lifts, lash, and where the lobes stand."""

from __future__ import annotations

import itertools
from typing import Literal

from pydantic import Field

from pullcast.card import fields as f
from pullcast.card.book import Book
from pullcast.card.engine import Cam, Duration, Lobe
from pullcast.card.timing import EventsCard as EventsCard
from pullcast.card.timing import Placed, events_of, place_lobes

IN_050, IN_200, MM_1 = 0.050 * 0.0254, 0.200 * 0.0254, 0.001


class LobeTable(f.Table):
    """Measured valve lift over crank angle from the centreline (valve side, after lash)."""

    angle: f.series("angle", -360.0, 360.0)
    lift: f.series("length", 0.0, 0.030)


class LobeCard(EventsCard):
    """Table [intake] or [exhaust] of a cam card."""

    duration_at_0p050in: f.Duration | None = None  # at the tappet
    duration_at_0p200in: f.Duration | None = None  # at the tappet
    duration_at_1mm: f.Duration | None = None  # at the valve
    advertised_duration: f.Duration | None = None
    advertised_at: f.CheckLift | None = None
    advertised_side: Literal["tappet", "valve"] = "tappet"
    duration: f.Duration | None = None  # class reference: 0.050 in at the tappet or 1 mm at the valve
    lobe_lift: f.Lift | None = None
    valve_lift: f.Lift | None = None  # as on the card: lobe lift times ratio, before lash
    rocker_ratio: f.quantity("fraction", 0.7, 2.6) | None = None
    lash: f.Lash | None = None
    asymmetry: f.Angle | None = None
    table: LobeTable | None = None


class PhasingRow(f.Table):
    """One row of a cam-phasing schedule."""

    speed: f.Speed
    intake_advance: f.Angle = 0.0
    exhaust_retard: f.Angle = 0.0


class CamCard(f.Table):
    """A cam card; one cam or two, the lobes are described apart."""

    name: str = "class default cam"
    follower: Literal["roller", "flat"] = "roller"
    tappet_diameter: f.Valve | None = None
    lobe_separation: f.quantity("angle", 85.0, 135.0) | None = None
    advance: f.quantity("angle", -30.0, 30.0) | None = None  # lobe separation less intake centreline
    installed_advance: f.quantity("angle", -30.0, 30.0) | None = None  # turned from the card's position
    intake: LobeCard = LobeCard()
    exhaust: LobeCard = LobeCard()
    phasing: tuple[PhasingRow, ...] = ()
    source: dict[str, str] = Field(default_factory=dict)


def resolve_cam(card: CamCard, book: Book, *, advance_rules: bool = False) -> Cam:
    """The cam of a card. ``advance_rules``: a changed advance overrides the card's centrelines."""
    sides = {}
    for side in ("intake", "exhaust"):
        sides[side] = _durations(getattr(card, side), side, book)
        if side == "intake":
            book.scales["intake duration"] = sides[side][0].duration_deg if sides[side] else 250.0
    placed = place_lobes(card, sides, book, advance_rules=advance_rules)
    rows = tuple((float(r.speed), float(r.intake_advance), float(r.exhaust_retard)) for r in card.phasing)
    if any(b[0] <= a[0] for a, b in itertools.pairwise(rows)):
        book.problem("cam.phasing", "the speeds of the schedule do not rise", "Sort the rows by speed.")
    return Cam(card.name, _lobe(card.intake, "intake", sides["intake"], placed, book),
               _lobe(card.exhaust, "exhaust", sides["exhaust"], placed, book), card.follower, rows,
               float(card.tappet_diameter) if card.tappet_diameter is not None else None)


def _durations(card: LobeCard, side: str, book: Book) -> tuple[Duration, ...]:
    """Every duration stated, the class default if none is; from the events if only they are given."""
    found = []
    for name, lift, where in (("duration_at_0p050in", IN_050, "tappet"), ("duration_at_1mm", MM_1, "valve"),
                              ("duration_at_0p200in", IN_200, "tappet")):
        value = getattr(card, name)
        if value is not None:
            found.append(Duration(lift, float(value), where))
            book.stated(value, f"cam.{side}.{name}", "angle")
    if card.duration is not None:
        found.append(Duration(*_reference(book, float(card.duration))))
    if card.advertised_duration is not None:
        if card.advertised_at is None:
            book.problem(f"cam.{side}.advertised_at", "the advertised duration is given without the lift it is "
                         "counted at",
                         'Ask the grinder; 0.004, 0.006, 0.015 to 0.020 in are in use: advertised_at = "0.006 in".')
        else:
            found.append(Duration(float(card.advertised_at), float(card.advertised_duration), card.advertised_side))
            book.stated(card.advertised_duration, f"cam.{side}.advertised_duration", "angle")
    elif card.advertised_at is not None:
        book.found("note", f"cam.{side}.advertised_at", "stated, but no advertised_duration is given")
    counted = events_of(card, side, book)
    if counted is not None and not any(_same(d, counted.lift, counted.where) for d in found):
        found.append(Duration(counted.lift, counted.duration, counted.where))
    if not found and card.table is None:
        value = book.take(None, f"cam.{side}.duration")
        found.append(Duration(*_reference(book, value)))
    _check_order(found, side, book)
    return tuple(found)


def _reference(book: Book, value: float) -> tuple[float, float, str]:
    inch = book.engine_class.duration_at == "0p050in"
    return (IN_050, value, "tappet") if inch else (MM_1, value, "valve")


def _same(duration: Duration, lift: float, side: str) -> bool:
    return duration.side == side and abs(duration.lift - lift) < 2e-6


def _check_order(found: list[Duration], side: str, book: Book) -> None:
    for where in ("tappet", "valve"):
        rows = sorted((d for d in found if d.side == where), key=lambda d: d.lift)
        for low, high in itertools.pairwise(rows):
            if high.lift > low.lift and high.duration_deg >= low.duration_deg:
                book.problem(f"cam.{side}", f"the duration at {high.lift * 1e3:.3f} mm ({high.duration_deg:g} deg) "
                             f"is not shorter than that at {low.lift * 1e3:.3f} mm ({low.duration_deg:g} deg)",
                             "A duration counted at more lift is shorter: are two of them swapped?")


def _lobe(card: LobeCard, side: str, durations: tuple[Duration, ...], placed: dict[str, Placed], book: Book) -> Lobe:
    key = f"cam.{side}"
    table = _table(card.table, f"{key}.table", book)
    ratio = book.take(card.rocker_ratio, f"{key}.rocker_ratio")
    lash = book.take(card.lash, f"{key}.lash")
    if table is not None:
        lift = max(row[1] for row in table)
    else:
        lift = _gross_lift(card, key, ratio, book) - lash
    if lift <= 0:
        book.problem(f"{key}.lash", "the lash takes up the whole lift", "Check lift and lash.")
    for d in durations:
        top = lift if d.side == "valve" else (lift + lash) / ratio
        if d.lift >= top:
            book.problem(f"{key}", f"a duration is counted at {d.lift * 1e3:.2f} mm but the {d.side} lifts only "
                         f"{top * 1e3:.2f} mm", "Check the lift and its unit.")
    return Lobe(lift=lift, durations=durations, centreline_deg=placed[side].centreline, rocker_ratio=ratio, lash=lash,
                table=table, asymmetry_deg=float(card.asymmetry or 0.0))


def _gross_lift(card: LobeCard, key: str, ratio: float, book: Book) -> float:
    """Valve lift before lash, m; lobe lift and valve lift both given are compared."""
    if card.lobe_lift is None:
        return book.take(card.valve_lift, f"{key}.valve_lift")
    lift = card.lobe_lift * ratio
    book.stated(card.lobe_lift, f"{key}.lobe_lift", "length")
    if card.valve_lift is None:
        return lift
    if abs(lift / card.valve_lift - 1.0) > 0.015:
        book.found("contradiction", f"{key}.valve_lift", f"lobe lift {card.lobe_lift * 1e3:.2f} mm x {ratio:g} is "
                   f"{lift * 1e3:.2f} mm, the card states {card.valve_lift * 1e3:.2f} mm (which was used)",
                   f"The card's valve lift belongs to a rocker ratio of {card.valve_lift / card.lobe_lift:.2f}: "
                   "is another rocker fitted?")
    return float(card.valve_lift)


def _one_peak(lifts: list[float], top: int) -> bool:
    """Whether lifts rise to ``top`` and fall after it, but for 0.02 mm of reading noise."""
    rising, falling = lifts[: top + 1], lifts[top:]
    return (all(b >= a - 2e-5 for a, b in itertools.pairwise(rising))
            and all(b <= a + 2e-5 for a, b in itertools.pairwise(falling)))


def _table(card: LobeTable | None, key: str, book: Book) -> tuple[tuple[float, float], ...] | None:
    if card is None:
        return None
    rows = tuple(zip(card.angle, card.lift, strict=False))
    lifts = [r[1] for r in rows]
    top = lifts.index(max(lifts)) if lifts else 0
    if len(card.angle) != len(card.lift) or len(rows) < 5:
        book.problem(key, f"{len(card.angle)} angles and {len(card.lift)} lifts do not make a lift table",
                     "Give at least five angles and one lift for each.")
    elif any(b <= a for a, b in zip(card.angle, card.angle[1:], strict=False)):
        book.problem(f"{key}.angle", "the angles do not rise", "Sort the table, each angle once.")
    elif lifts[0] > 1e-6 or lifts[-1] > 1e-6:
        book.problem(f"{key}.lift", f"the table starts at {lifts[0] * 1e3:g} mm and ends at {lifts[-1] * 1e3:g} mm",
                     "Start and end it at zero lift: add the points where the valve is on its seat.")
    elif not _one_peak(lifts, top):
        book.problem(f"{key}.lift", "the table has more than one peak", "Check for a slip of the pen.")
    else:
        return rows
    return None
