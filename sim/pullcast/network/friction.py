"""Friction mean effective pressure from published correlations.

All are fits to warm engines of ordinary size; none knows oil, ring pack or bearing clearances of the engine at hand,
so each carries a range. Accessory load that a card gives apart is not in here.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches

from pullcast.card.engine import Block
from pullcast.errors import InputError

BAR = 1e5
ATMOSPHERE = 101325.0


@dataclass(frozen=True)
class ValveGear:
    """What the component model wants to know of the valve gear; ``lift`` m, ``kind`` a key of ``GEAR``."""

    kind: str = "direct"
    valves: int = 4  # per cylinder
    lift: float = 0.0095
    roller: bool = False


@dataclass(frozen=True)
class Bearings:
    """Diameters and lengths (m) and numbers of main and rod bearings, and of those of the camshafts."""

    main_diameter: float
    main_length: float
    mains: int
    rod_diameter: float
    rod_length: float
    rods: int
    cam_bearings: int


# coefficients of flat cam follower, roller cam follower, oscillating hydrodynamic, oscillating mixed lubrication:
# Patton, Nitschke & Heywood 1989, SAE 890836, table of valve gear types (from memory)
GEAR = {
    "direct": (200.0, 0.0076, 0.5, 10.7),
    "end_pivot": (600.0, 0.0227, 0.2, 42.8),
    "rocker": (400.0, 0.0151, 0.5, 21.4),
    "pushrod": (400.0, 0.0151, 0.5, 32.1),
}


def chen_flynn(p_max: float, piston_speed: float) -> float:
    """FMEP, Pa: 0.4 bar + 0.005 p_max + 0.09 Sp + 9e-4 Sp^2 (bar, m/s).

    ``p_max`` Pa, ``piston_speed`` mean, m/s. Form: Chen & Flynn 1965, SAE 650733. The constants are values in common
    use for petrol engines (from memory); the original ones are for a single-cylinder diesel. Gas exchange excluded.

    >>> round(chen_flynn(80e5, 15.0))
    235250
    """
    return (0.4 + 0.09 * piston_speed + 9e-4 * piston_speed**2) * BAR + 0.005 * p_max


def barnes_moss(rpm: float) -> float:
    """Motoring mean effective pressure, Pa: 0.97 + 0.15 n + 0.05 n^2 bar, n in 1000 rpm.

    Barnes-Moss 1975, as Heywood 1988, eq. 13.6 (from memory), for car engines of 0.85 to 2 L, wide open throttle. It
    *includes* the pumping of a motored engine and its essential accessories, so brake output that also counts pumping
    comes out low by some 0.1 to 0.5 bar.

    >>> round(barnes_moss(4000.0))
    237000
    """
    n = rpm / 1000.0
    return (0.97 + 0.15 * n + 0.05 * n * n) * BAR


def patton(block: Block, rpm: float, p_intake: float, gear: ValveGear | None = None,
           bearings: Bearings | None = None) -> float:
    """FMEP, Pa, summed over components, water and oil pump and idling alternator included, gas exchange excluded.

    ``p_intake`` absolute pressure in the intake, Pa. Patton, Nitschke & Heywood 1989, SAE 890836 (constants from
    memory). Bearings and gear that are not given are ordinary ones for the bore.
    """
    gear = gear or ValveGear()
    bearings = bearings or usual_bearings(block)
    return sum(patton_parts(block, rpm, p_intake, gear, bearings).values())


def patton_parts(block: Block, rpm: float, p_intake: float, gear: ValveGear,
                 bearings: Bearings) -> dict[str, float]:
    """The contributions to ``patton``, Pa, by component."""
    n, b, s = block.cylinders, 1e3 * block.bore, 1e3 * block.stroke  # the correlation is in mm, rpm, kPa
    mixed = 1.0 + 1000.0 / rpm
    speed = 2.0 * block.stroke * rpm / 60.0
    k = bearings
    seals = 1.22e5 * 1e3 * k.main_diameter / (b * b * s * n)
    mains = _journal(rpm, k.main_diameter, k.main_length, k.mains, b, s, n)
    churning = 1.35e-10 * (1e3 * k.main_diameter) ** 2 * rpm**2 * k.mains / n
    skirts = 2.94e2 * speed / b
    rings = 4.06e4 * mixed / (b * b)
    rods = _journal(rpm, k.rod_diameter, k.rod_length, k.rods, b, s, n)
    r = block.compression_ratio
    gas = 6.89 * p_intake / ATMOSPHERE * (0.088 * r + 0.182 * r ** (1.33 - 2.38e-2 * speed))
    accessories = 6.23 + 5.22e-3 * rpm - 1.79e-7 * rpm**2
    parts = {"crankshaft": seals + mains + churning, "pistons": skirts + rings, "rods": rods, "gas load": gas,
             "valve gear": _valve_gear(gear, k.cam_bearings, rpm, b, s, n), "pumps and alternator": accessories}
    return {name: 1e3 * value for name, value in parts.items()}


def _journal(rpm, diameter, length, count, bore, stroke, cylinders) -> float:
    return 3.03e-4 * rpm * (1e3 * diameter) ** 3 * 1e3 * length * count / (bore * bore * stroke * cylinders)


def _valve_gear(gear: ValveGear, cam_bearings: int, rpm: float, bore: float, stroke: float, cylinders: int) -> float:
    """Camshafts and followers, kPa."""
    flat, roller, hydrodynamic, boundary = GEAR[_known(gear.kind, GEAR, "valve gear")]
    mixed = 1.0 + 1000.0 / rpm
    per = gear.valves / stroke  # valves of the engine over stroke and cylinders
    lift = 1e3 * gear.lift
    shafts = 2.44e2 * rpm * cam_bearings / (bore * bore * stroke * cylinders) + 4.12
    followers = roller * rpm * per if gear.roller else flat * mixed * per
    return shafts + followers + hydrodynamic * lift**1.5 * rpm**0.5 * per / bore + boundary * mixed * lift * per


def usual_bearings(block: Block) -> Bearings:
    """Bearings of an ordinary engine, diameters 0.65 and 0.55 of the bore (common practice, no source)."""
    mains = block.cylinders + 1 if len(block.banks) < 2 else max(-(-block.cylinders // 2), 1) + 1
    return Bearings(0.65 * block.bore, 0.24 * block.bore, mains, 0.55 * block.bore, 0.24 * block.bore,
                    block.cylinders, mains * max(len(block.banks), 1))


# fraction of FMEP within which about two engines in three lie (common practice, no source)
RANGE = {"chen_flynn": 0.20, "barnes_moss": 0.20, "patton": 0.25}


def fmep(model: str, *, block: Block, rpm: float, p_max: float, p_intake: float,
         gear: ValveGear | None = None) -> float:
    """Friction mean effective pressure, Pa, of the whole engine by ``model`` "chen_flynn", "barnes_moss" or "patton".

    ``rpm`` crank speed, ``p_max`` peak cylinder and ``p_intake`` intake pressure, Pa absolute. ``gear``
    is used by "patton" alone. "barnes_moss" includes pumping and accessories. Raises InputError for an unknown model
    (with the nearest name) and for a speed or pressure that is not above zero.
    """
    _known(model, RANGE, "friction model")
    if not min(rpm, p_max, p_intake) > 0.0:
        msg = f"friction at {rpm:g} rpm, peak pressure {p_max:g} Pa, intake {p_intake:g} Pa: all must be above zero."
        raise InputError(msg)
    if model == "patton":
        return patton(block, rpm, p_intake, gear)
    return barnes_moss(rpm) if model == "barnes_moss" else chen_flynn(p_max, 2.0 * block.stroke * rpm / 60.0)


def range_fraction(model: str) -> float:
    """Half-width, as a fraction of FMEP, that about two engines in three keep (common practice, no source)."""
    return RANGE[_known(model, RANGE, "friction model")]


def _known(name: str, table: dict, what: str) -> str:
    if name not in table:
        near = get_close_matches(name, table, 1, 0.4)
        hint = f"Did you mean {near[0]!r}?" if near else f"Known: {', '.join(table)}."
        msg = f"unknown {what} {name!r}. {hint}"
        raise InputError(msg)
    return name
