"""The few things of an engine that nobody knows and that pulls can tell something about, each with its prior.

All ranges stand for two standard deviations either side (a card's ``within`` too). Bounds lie three standard
deviations from the middle, or where nothing beyond can be.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from pullcast.card.classes import CLASSES
from pullcast.card.engine import Engine, FlowSheet, ValveSide
from pullcast.errors import InputError
from pullcast.network.flow_sheet import CD_LIFT, INCH_WATER, bench_flow

RANGE_IN_SD = 4.0  # a range is low to high
BOUND_IN_SD = 3.0
DEPRESSION = 28.0 * INCH_WATER


@dataclass(frozen=True)
class Unknown:
    """One unknown: ``key``, quantity ``kind``, what can be at all, how it is read from and put into an engine.

    ``usual`` (value, low, high) is for what is no key of a card, ``law`` the burn law it belongs to, ``asked_for``
    True for one that is fitted only when named.
    """

    key: str
    label: str
    kind: str
    floor: float
    ceiling: float
    read: Callable[[Engine], float]
    put: Callable[[Engine, float], Engine]
    source: str
    usual: tuple[float, float, float] | None = None
    law: str = ""
    asked_for: bool = False

    @property
    def on_card(self) -> bool:
        """Whether a card has this key."""
        return self.usual is None

    def acts_on(self, engine: Engine) -> bool:
        """Whether it has an effect: those of a burn law only where that law is used."""
        return self.law in ("", engine.burn.law)


@dataclass(frozen=True)
class Prior:
    """What is held of an unknown before the pulls: middle, standard deviation, bounds (internal units), and why."""

    key: str
    value: float
    sd: float
    low: float
    high: float
    why: str


def scaled_side(side: ValveSide, kind: str, factor: float) -> ValveSide:
    """A valve side that passes ``factor`` times the flow at every lift of its sheet.

    A side without a sheet gets the sheet that a bench at 28 inches of water would read of it, so that factor 1
    changes nothing.
    """
    if factor == 1.0:
        return side
    sheet = side.flow or _read_on_bench(side, kind)
    return replace(side, flow=replace(sheet, flows=tuple(factor * flow for flow in sheet.flows)))


@lru_cache(maxsize=64)
def _read_on_bench(side: ValveSide, kind: str) -> FlowSheet:
    """The sheet a bench would read of a side that came without one."""
    lifts = tuple(x * side.diameter for x in (0.02, *CD_LIFT))
    return FlowSheet(lifts, tuple(bench_flow(side, kind, lift, DEPRESSION) for lift in lifts), DEPRESSION)


def _put_flow(engine: Engine, factor: float) -> Engine:
    head = engine.head
    return replace(engine, head=replace(head, intake=scaled_side(head.intake, "intake", factor),
                                        exhaust=scaled_side(head.exhaust, "exhaust", factor)))


def _put_walls(engine: Engine, shift: float) -> Engine:
    w = engine.walls
    return replace(engine, walls=replace(w, piston=w.piston + shift, head=w.head + shift, liner=w.liner + shift))


UNKNOWNS = {u.key: u for u in (
    Unknown("friction.factor", "friction", "fraction", 0.3, 3.0, lambda e: e.friction.factor,
            lambda e, v: replace(e, friction=replace(e.friction, factor=v)), "factor on the FMEP correlation"),
    Unknown("burn.duration_10_90", "burn duration 10 to 90 %", "angle", 8.0, 80.0,
            lambda e: e.burn.duration_10_90_deg,
            lambda e, v: replace(e, burn=replace(e.burn, duration_10_90_deg=v)), "deg crank at the reference speed",
            law="wiebe"),
    Unknown("burn.turbulence", "turbulence the flame feels", "fraction", 0.2, 4.0, lambda e: e.burn.turbulence,
            lambda e, v: replace(e, burn=replace(e.burn, turbulence=v)), "factor on the predicted turbulence",
            law="flame"),
    Unknown("mixture.evaporated", "fuel evaporated before the valve", "fraction", 0.0, 1.0,
            lambda e: e.mixture.evaporated, lambda e, v: replace(e, mixture=replace(e.mixture, evaporated=v)),
            "share of the heat of evaporation taken from the charge"),
    Unknown("walls.factor", "wall heat", "fraction", 0.2, 3.0, lambda e: e.walls.factor,
            lambda e, v: replace(e, walls=replace(e.walls, factor=v)), "factor on the heat-transfer correlation"),
    Unknown("walls.temperature", "wall temperatures", "temperature difference", -150.0, 150.0, lambda e: 0.0,
            _put_walls, "shift of piston, head and liner together: about the classes' ranges", (0.0, -40.0, 40.0),
            asked_for=True),
    Unknown("head.flow_factor", "flow of the head", "fraction", 0.7, 1.3, lambda e: 1.0, _put_flow,
            "factor on both flow sheets: benches differ by 2 to 5 % (common practice, no source)", (1.0, 0.93, 1.07)),
)}
FREE = ("friction.factor",)  # enters after the march: costs no computing


def unknown(key: str) -> Unknown:
    """The `Unknown` of a key; InputError with the nearest and all keys."""
    if key not in UNKNOWNS:
        near = difflib.get_close_matches(key, UNKNOWNS, n=1, cutoff=0.5)
        hint = f"Did you mean {near[0]!r}? " if near else ""
        msg = f"{key!r} cannot be calibrated. {hint}What can: {', '.join(UNKNOWNS)}."
        raise InputError(msg)
    return UNKNOWNS[key]


def default_keys(engine: Engine) -> tuple[str, ...]:
    """What a card leaves open: the unknowns it assumes or gives with an uncertainty, and the flow factor.

    Wall temperatures act on torque like wall heat does and are fitted only when named.
    """
    assumed = {a.key for a in engine.assumed}
    return tuple(k for k, u in UNKNOWNS.items() if u.acts_on(engine) and not u.asked_for
                 and (k in assumed or not u.on_card))


def priors_of(engine: Engine, keys: Iterable[str] | None = None,
              stated: Mapping[str, tuple[float, float]] | None = None) -> tuple[Prior, ...]:
    """Priors of ``keys`` (default: `default_keys`) on an engine; ``stated`` gives (middle, sd) of some yourself.

    Raises InputError for a key that cannot be calibrated, twice the same key, or an sd that is not above zero.
    """
    chosen = list(default_keys(engine) if keys is None else keys)
    wrong = [k for k in stated or {} if k not in chosen]
    if len(set(chosen)) < len(chosen) or not chosen or wrong:
        what = "no unknown is named" if not chosen else f"a prior is stated for {wrong[0]}, which is not asked for" \
            if wrong else "an unknown is named twice"
        msg = f"{what}; named: {', '.join(chosen) or 'none'}"
        raise InputError(msg)
    return tuple(_prior(engine, unknown(k), (stated or {}).get(k)) for k in chosen)


def _prior(engine: Engine, u: Unknown, stated: tuple[float, float] | None) -> Prior:
    if not u.acts_on(engine):
        msg = f"{u.key} has no effect on {engine.name}: it belongs to the burn law {u.law}, not {engine.burn.law}"
        raise InputError(msg)
    value, low, high, why = _range(engine, u)
    sd = (high - low) / RANGE_IN_SD
    if stated is not None:
        (value, sd), why = stated, "stated"
    if not (sd > 0.0 and u.floor <= value <= u.ceiling):
        msg = f"{u.key}: prior {value:g} with sd {sd:g}; the sd must be above zero, the value in {u.floor:g} to " \
              f"{u.ceiling:g}"
        raise InputError(msg)
    return Prior(u.key, value, sd, max(u.floor, value - BOUND_IN_SD * sd), min(u.ceiling, value + BOUND_IN_SD * sd),
                 why)


def _range(engine: Engine, u: Unknown) -> tuple[float, float, float, str]:
    """Value, low, high of an unknown, and where they come from: the card's, else as wide as the class's."""
    for a in engine.assumed:
        if a.key == u.key:
            return a.value, a.low, a.high, a.why
    if u.usual is not None:
        return *u.usual, u.source
    row, value = CLASSES[engine.engine_class].rows[u.key], u.read(engine)
    half = 0.5 * (row.high - row.low)
    return value, value - half, value + half, "given on the card, as uncertain as the class default"


def put_all(engine: Engine, values: Mapping[str, float]) -> Engine:
    """The engine with the unknowns of ``values`` (internal units) in place."""
    for key, value in values.items():
        engine = unknown(key).put(engine, float(value))
    return engine
