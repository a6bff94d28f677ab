"""How the engine is run: mixture, burn, walls, friction, limits, speeds."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, PlainValidator, StrictInt

from pullcast import units
from pullcast.card import fields as f
from pullcast.card.book import Book
from pullcast.card.classes import BETWEEN, EVAPORATED, PLAIN_FRICTION
from pullcast.card.engine import Burn, Friction, Limits, Mixture, Walls
from pullcast.errors import InputError

MAX_POINTS = 400


def _lambda(raw: Any) -> f.Given:
    try:
        given = f.read_value(raw, "fraction", 0.7, 1.4)  # the range of the gas tables
    except ValueError as e:
        number = raw.get("value") if isinstance(raw, dict) else raw
        if isinstance(number, int | float) and 6.0 <= number <= 20.0:
            msg = (f"{number:g} is an air-fuel ratio; "
                   "lambda is that over the fuel's stoichiometric ratio (petrol 14.5: 12.8 is 0.88)")
            raise ValueError(msg) from None
        raise ValueError(str(e)) from None
    return given


def _flow(raw: Any) -> tuple[float, str]:
    """An injector's flow: (value, "mass flow" or "volume flow")."""
    for kind in ("mass flow", "volume flow"):
        try:
            value = units.to_si(raw, kind)
        except InputError:
            continue
        if not value > 0.0:
            msg = f"{units.shown(raw)}: an injector's flow is above zero"
            raise ValueError(msg)
        return value, kind
    msg = f"{units.shown(raw)}: an injector's flow fits: g/min, lb/h, cc/min"
    raise ValueError(msg)


class MixtureCard(f.Table):
    """Table [mixture]."""

    lambda_: Annotated[float, PlainValidator(_lambda), f.described("fraction", 0.7, 1.4)] | None = Field(
        None, alias="lambda")
    preparation: Literal["port", "carburettor", "direct"] | None = None
    evaporated: f.Share | None = None
    spread: f.quantity("fraction", 0.0, 0.08) | None = None
    between_cylinders: f.quantity("fraction", 0.0, 0.15) | None = None


class BurnCard(f.Table):
    """Table [burn]: CA50 or spark, one value or rows over speed; durations at the reference speed.

    law = "flame" predicts the burn: the chamber's shape, plug, squish and turbulence count then, not the durations.
    """

    ca50: f.quantity("angle", -20.0, 60.0) | None = None
    spark: f.quantity("angle", -20.0, 70.0) | None = None
    speeds: f.series("rotational speed", 100.0, 25000.0) | None = None
    ca50_at_speeds: f.series("angle", -20.0, 60.0) | None = None
    spark_at_speeds: f.series("angle", -20.0, 70.0) | None = None
    duration_10_90: f.quantity("angle", 5.0, 90.0) | None = None
    delay: f.quantity("angle", 3.0, 60.0) | None = None
    efficiency: f.quantity("fraction", 0.5, 1.0) | None = None
    reference_speed: f.Speed | None = None
    law: Literal["wiebe", "flame"] = "wiebe"
    chamber: Literal["roof", "wedge", "flat"] | None = None
    plug_offset: f.quantity("length", 0.0, 0.1) | None = None
    squish: f.quantity("fraction", 0.0, 0.7) | None = None
    squish_clearance: f.quantity("length", 0.0002, 0.01) | None = None
    turbulence: f.quantity("fraction", 0.1, 10.0) | None = None
    tumble: f.quantity("fraction", 0.0, 1.0) | None = None
    crevice: f.quantity("fraction", 0.0, 0.1) | None = None
    knock_delay: Literal["douaud_eyzat", "he"] = "douaud_eyzat"


class WallsCard(f.Table):
    """Table [walls]."""

    piston: f.WallT | None = None
    head: f.WallT | None = None
    liner: f.WallT | None = None
    model: Literal["hohenberg", "woschni", "annand"] = "hohenberg"
    factor: f.Factor | None = None


class FrictionCard(f.Table):
    """Table [friction]."""

    model: Literal["chen_flynn", "barnes_moss", "patton"] = "chen_flynn"
    factor: f.Factor | None = None
    accessory_torque: f.quantity("torque", 0.0, 200.0) | None = None


class LimitsCard(f.Table):
    """Table [limits]: what stands beside the power."""

    rpm: f.Speed | None = None
    injector_flow: Annotated[tuple[float, str], PlainValidator(_flow)] | None = None
    injectors: StrictInt | None = Field(None, ge=1, le=48)
    driveline_torque: f.Torque | None = None
    piston_speed: f.quantity("speed", 2.0, 40.0) | None = None


class RunCard(f.Table):
    """Table [run]: the speeds of the pull, listed, or from, to and points."""

    speeds: f.series("rotational speed", 100.0, 25000.0) | None = None
    from_: f.Speed | None = Field(None, alias="from")
    to: f.Speed | None = None
    points: StrictInt | None = Field(None, ge=1, le=MAX_POINTS)


def resolve_mixture(card: MixtureCard, fuel_key: str, cylinders: int, book: Book) -> Mixture:
    """The mixture of a card."""
    preparation = card.preparation or book.engine_class.preparation
    return Mixture(book.take(card.lambda_, "mixture.lambda"), preparation,
                   book.take(card.evaporated, "mixture.evaporated", EVAPORATED.get(fuel_key)),
                   book.take(card.spread, "mixture.spread"), _between(card, preparation, cylinders, book))


def _between(card: MixtureCard, preparation: str, cylinders: int, book: Book) -> float:
    """Scatter of strength from cylinder to cylinder: none where there is one, by preparation otherwise."""
    if cylinders == 1:
        return float(card.between_cylinders or 0.0)
    shared = preparation == "carburettor" and book.engine_class.intake_style != "individual"
    return book.take(card.between_cylinders, "mixture.between_cylinders", BETWEEN["shared" if shared else "own"])


def resolve_burn(card: BurnCard, speeds: tuple[float, ...], book: Book) -> Burn:
    """The burn of a card; CA50 by class default if neither it nor the spark is given."""
    given = [n for n in ("ca50", "spark", "ca50_at_speeds", "spark_at_speeds") if getattr(card, n) is not None]
    if len(given) > 1:
        book.problem(f"burn.{given[1]}", f"{' and '.join(given)} are given",
                     "Keep one: each of them sets the timing.")
    rows: tuple[tuple[float, float], ...]
    timing = "spark" if given and given[0].startswith("spark") else "ca50"
    if given and given[0].endswith("at_speeds"):
        values = getattr(card, given[0])
        if card.speeds is None or len(card.speeds) != len(values):
            book.problem(f"burn.{given[0]}", f"{len(values)} values for {len(card.speeds or ())} speeds",
                         'Give speeds = "2000 4000 6000 rpm" with one value for each.')
        rows = tuple(zip(card.speeds or (), values, strict=False)) or ((speeds[0], 8.0),)
    else:
        rows = ((speeds[0], book.take(getattr(card, timing), f"burn.{timing}")),)
    return Burn(
        timing=timing, table=rows, duration_10_90_deg=book.take(card.duration_10_90, "burn.duration_10_90"),
        delay_deg=book.take(card.delay, "burn.delay"), efficiency=book.take(card.efficiency, "burn.efficiency"),
        reference_rpm=float(card.reference_speed or 3000.0),
        crevice=card.crevice or 0.0, knock_delay=card.knock_delay, **_flame(card, book))


def _flame(card: BurnCard, book: Book) -> dict[str, Any]:
    """What a predicted burn needs; with the Wiebe law nothing, and whatever of it is stated is noted as unused."""
    names = ("chamber", "plug_offset", "squish", "squish_clearance", "turbulence", "tumble")
    if card.law != "flame":
        for name in names:
            if getattr(card, name) is not None:
                book.found("note", f"burn.{name}", 'is used by law = "flame" alone', "Add the law, or take it out.")
        return {}
    shape = card.chamber or ("roof" if book.engine_class.valves[0] > 1 else "wedge")
    central = shape != "wedge"
    plug = book.take(card.plug_offset, "burn.plug_offset")
    squish = book.take(card.squish, "burn.squish")
    if card.plug_offset is None and central:
        plug = 0.0
    if plug > 0.48 * book.scales["bore"]:
        book.problem("burn.plug_offset", f"a plug {plug * 1e3:.1f} mm off the axis is outside the bore",
                     "Measure from the bore's axis.")
        plug = 0.0
    return {"law": "flame", "chamber": shape, "plug": plug, "squish": 0.0 if shape == "flat" else squish,
            "squish_gap": book.take(card.squish_clearance, "burn.squish_clearance"),
            "turbulence": book.take(card.turbulence, "burn.turbulence"),
            "tumble": book.take(card.tumble, "burn.tumble")}


def resolve_walls(card: WallsCard, book: Book) -> Walls:
    """Wall temperatures and heat-transfer correlation of a card."""
    return Walls(book.take(card.piston, "walls.piston"), book.take(card.head, "walls.head"),
                 book.take(card.liner, "walls.liner"), card.model, book.take(card.factor, "walls.factor"))


def resolve_friction(card: FrictionCard, book: Book) -> Friction:
    """Friction correlation, its factor and accessories of a card."""
    row = None if card.model == "chen_flynn" else PLAIN_FRICTION
    return Friction(card.model, book.take(card.factor, "friction.factor", row),
                    book.take(card.accessory_torque, "friction.accessory_torque"))


def resolve_limits(card: LimitsCard, fuel_density: float, book: Book) -> Limits:
    """Limits of a card; an injector's volume flow becomes mass flow with the fuel's density."""
    flow = None
    if card.injector_flow is not None:
        value, kind = card.injector_flow
        flow = value * (fuel_density if kind == "volume flow" else 1.0)
    return Limits(book.take(card.rpm, "limits.rpm"), flow, card.injectors, _plain(card.driveline_torque),
                  _plain(card.piston_speed))


def resolve_speeds(card: RunCard, limit: float, book: Book) -> tuple[float, ...]:
    """Speeds of the pull, rising, rpm; by class default up to ``limit`` (rpm)."""
    span, usual = (card.from_, card.to, card.points), book.engine_class.speeds
    if card.speeds is not None:
        if any(v is not None for v in span):
            book.problem("run.speeds", "speeds are listed and given as from, to, points", "Keep one of the two.")
        if len(card.speeds) > MAX_POINTS or any(b <= a for a, b in zip(card.speeds, card.speeds[1:], strict=False)):
            book.problem("run.speeds", "the speeds do not rise",
                         "List them from the lowest to the highest, each once.")
        return tuple(card.speeds)
    if all(v is None for v in span):
        first, last, count = usual[0], min(usual[-1], limit), len(usual)
        return tuple(first + (last - first) * i / (count - 1) for i in range(count)) if last > first else (last,)
    if any(v is None for v in span):
        book.problem("run.from", "from, to and points must be given together",
                     'Write from = "1500 rpm", to = "6500 rpm", points = 11.')
        return usual
    first, last, count = float(card.from_), float(card.to), card.points
    if not first < last and count > 1:
        book.problem("run.to", f"the speeds run from {first:g} down to {last:g} rpm", "Give from below to.")
        return usual
    return tuple(first + (last - first) * i / max(1, count - 1) for i in range(count))


def _plain(value: float | None) -> float | None:
    return None if value is None else float(value)
