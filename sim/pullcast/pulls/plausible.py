"""Units held against physics: power = torque * speed tells which units a file is in, or that it names wrong ones."""

from __future__ import annotations

import math

import numpy as np

from pullcast.errors import InputError
from pullcast.pulls.labels import Unit, unit_named
from pullcast.pulls.layout import Table

CLOSE = 0.006  # of the ratio of power to torque * speed; hp and PS lie 1.4 % apart
WRONG = 0.03
Chosen = dict[str, tuple[int, Unit | None]]

_USUAL = {"rpm": "rpm", "lambda": "lambda", "air_fuel_ratio": "afr", "humidity": "%", "throttle": "%", "spark": "deg",
          "time": "s"}
_TORQUES, _POWERS = ("Nm", "lbft"), ("kW", "hp", "PS", "W")


def usual_unit(channel: str) -> Unit | None:
    """The unit a channel has when a file names none, or None where that would be a guess between several."""
    return unit_named(_USUAL[channel]) if channel in _USUAL else None


def agree_units(table: Table, chosen: Chosen, sure: dict[str, float], where: str):
    """Fill units left open and hold stated ones against power = torque * speed.

    Returns (chosen, confidence per channel, reasons). Raises `InputError` when stated units contradict each other.
    """
    chosen, sure, reasons = dict(chosen), dict(sure), []
    index, unit = chosen["rpm"]
    if unit is None:
        thousand = np.max(np.abs(_finite(table, index)), initial=0.0, where=_there(table, index)) < 30.0
        chosen["rpm"] = index, unit_named("krpm" if thousand else "rpm")
        sure["rpm"] *= 0.85 if thousand else 1.0
    if {"torque", "power"} <= set(chosen):
        reasons += _by_power(table, chosen, sure, where)
    for channel, (i, u) in list(chosen.items()):
        if u is None:
            u = usual_unit(channel)
            chosen[channel] = i, u
            if u is None and channel in ("torque", "power"):
                sure[channel] *= 0.4
                reasons.append(f"{channel} column {table.labels[i]!r} names no unit and nothing tells it")
            elif u is None:
                del chosen[channel]
    if not any(chosen.get(c, (0, None))[1] for c in ("torque", "power")):
        _refuse_unitless(table, chosen, where)
    for channel in ("torque", "power"):
        if channel in chosen and chosen[channel][1] is None:
            del chosen[channel], sure[channel]
    return chosen, sure, reasons


def check_speed(table: Table, chosen: Chosen, where: str) -> None:
    """Raise `InputError` when the speeds are none of an engine (largest outside 300 to 25 000 rpm)."""
    index, unit = chosen["rpm"]
    top = float(np.max(unit.to_si(_finite(table, index)), initial=0.0, where=_there(table, index)))
    if not 300.0 <= top <= 25000.0:
        msg = (f"{where}: column {table.labels[index]!r} read as engine speed reaches {top:g} rpm; 300 to 25000 is "
               "expected. Check the column, its unit and the decimal mark.")
        raise InputError(msg)


def _by_power(table: Table, chosen: Chosen, sure: dict[str, float], where: str) -> list[str]:
    (i, torque), (j, power), (k, speed) = chosen["torque"], chosen["power"], chosen["rpm"]
    omega = speed.to_si(_finite(table, k)) * math.pi / 30.0
    with np.errstate(divide="ignore", invalid="ignore"):
        raw = _finite(table, j) / (_finite(table, i) * omega)
    good = raw[np.isfinite(raw) & (raw > 0.0)]
    if good.size < 2:
        return []
    ratio = float(np.median(good))
    tries = [(abs(ratio * p.slope / t.slope - 1.0), t, p) for t in ([torque] if torque else map(unit_named, _TORQUES))
             for p in ([power] if power else map(unit_named, _POWERS))]
    miss, t, p = min(tries, key=lambda x: x[0])
    if torque and power:
        if miss > WRONG:
            _refuse_contradiction(table, chosen, ratio, where)
        return [f"power equals torque * speed within {100 * miss:.1f} %"]
    if miss > CLOSE:
        return [f"no units make power equal torque * speed (best {t.text} and {p.text}, off {100 * miss:.1f} %)"]
    chosen["torque"], chosen["power"] = (i, t), (j, p)
    sure["torque"] = min(sure["torque"], 0.93)
    sure["power"] = min(sure["power"], 0.93)
    return [f"power equals torque * speed within {100 * miss:.1f} % in {t.text} and {p.text}"]


def _refuse_contradiction(table: Table, chosen: Chosen, ratio: float, where: str) -> None:
    (i, torque), (j, power) = chosen["torque"], chosen["power"]
    fits = [f"{t} with {p}" for t in _TORQUES for p in _POWERS
            if abs(ratio * unit_named(p).slope / unit_named(t).slope - 1.0) < CLOSE]
    hint = f" It would fit {' or '.join(fits)}." if fits else " No usual pair of units fits."
    off = ratio * power.slope / torque.slope
    msg = (f"{where}: columns {table.labels[i]!r} ({torque.text}) and {table.labels[j]!r} ({power.text}) contradict "
           f"each other: power is {off:.3f} times torque * speed.{hint} Say the units in [columns] of the session "
           "card, or name only one of the two there.")
    raise InputError(msg)


def _refuse_unitless(table: Table, chosen: Chosen, where: str) -> None:
    channel = "torque" if "torque" in chosen else "power"
    label = table.labels[chosen[channel][0]]
    fits = " or ".join(_TORQUES if channel == "torque" else _POWERS)
    msg = (f"{where}: column {label!r} is {channel} but in which unit? {fits}: say it in [columns] of the session "
           f'card, such as {channel} = {{ column = "{label}", unit = "{fits.split()[0]}" }}.')
    raise InputError(msg)


def _there(table: Table, index: int) -> np.ndarray:
    return np.isfinite(table.values[:, index])


def _finite(table: Table, index: int) -> np.ndarray:
    values = table.values[:, index]
    return np.where(np.isfinite(values), values, np.nan)
