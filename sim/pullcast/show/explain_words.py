"""An explained swap in plain sentences, each with its number."""

from __future__ import annotations

import math

import numpy as np

from pullcast import units as u
from pullcast.answers.attributes import Attribute
from pullcast.answers.cycle_evidence import Evidence
from pullcast.answers.explanation import MECHANISMS, Explanation
from pullcast.answers.ve_ledger import ENTRIES, RAM, TUNING

MOST = 3  # attributes that get a sentence of their own
PLAIN = {
    "intake layout": "how throttles, plenum and runners are joined",
    "exhaust layout": "how the pipes are joined, what follows the collector",
}
WORDS = {  # what each mechanism does when it takes torque, and when it gives
    "air taken in": ("less air taken in", "more air taken in"),
    "work from the air": ("less work from each gram of it", "more work from each gram of it"),
    "pumping": ("more work to pump gas in and out", "less work to pump gas in and out"),
    "friction": ("more friction", "less friction"),
}
WORTH = 0.1  # points of VE, percent of gas: smaller changes are not told


def sentences(x: Explanation, units: str = "si") -> list[str]:
    """Findings in the order in which they matter: the whole, its parts, the mechanism, what is seen in the cycle,
    what would fix it and whether it may be limited on purpose."""
    told = [headline(x, units)]
    if not x.attributes:
        return [*told, "The two engines do not differ in anything that is computed."]
    told += [part_sentence(x, i, units) for i in x.order[:MOST] if _told_from_zero(x, i)]
    told += [s for s in (pair_sentence(x), ve_sentence(x, units), mechanism_sentence(x, units), ledger_sentence(x))
             if s]
    for a, b in x.evidence:
        told += cycle_sentences(a, b, units)
    return told + remedy_sentences(x, units)


def headline(x: Explanation, units: str) -> str:
    """The difference over the band, and where it is largest."""
    share, worst = 100.0 * x.band_difference / x.band_torque, _worst(x)
    rel = 100.0 * (x.torque_other / x.torque_base - 1.0)
    band = f"from {_rpm(x.band[0])} to {_rpm(x.band[1])} rpm"
    if (np.abs(x.torque_other - x.torque_base) <= x.noise).all():
        return f"There is no difference in torque {band}."
    amount = f"{abs(share):.1f} % {'less' if share < 0 else 'more'} torque"
    amount = "as much torque" if abs(x.band_difference) <= x.band_noise else amount
    who = x.other if x.swap == x.other else x.base
    how = f"than {x.base}" if x.swap == x.other else f"with {x.swap} instead of its own"
    how = f"as {x.base}" if x.swap == x.other and amount.startswith("as") else how
    size = f"{_torque(x.band_difference, units, True)} of {_torque(x.band_torque, units)}"
    text = (f"{who} makes {amount} {how} on average {band} ({size}); the difference is largest at "
            f"{_rpm(x.speed[worst])} rpm, {rel[worst]:+.1f} %")
    k = int(np.argmax(-np.sign(rel[worst]) * rel))
    return text + (f", and at {_rpm(x.speed[k])} rpm it is {rel[k]:+.1f} %." if rel[k] * rel[worst] < 0 else ".")


def part_sentence(x: Explanation, i: int, units: str) -> str:
    """What one attribute does over the band, and where most either way."""
    rel = 100.0 * x.torque.parts[i] / x.torque_base
    share = 100.0 * x.band_parts[i] / x.band_torque
    k = int(np.argmax(np.abs(rel)))
    j = int(np.argmax(-np.sign(rel[k]) * rel))
    a = x.attributes[i]
    sizes = sizes_of(a, units)
    size = PLAIN.get(a.name, "")
    if sizes:
        size = f"{_loss(a)}{sizes[0]} on the base, {sizes[1]} on the other"
    size = f" ({size})" if size else ""
    text = (f"{a.name.capitalize()}{size}: {abs(share):.1f} % of the torque {'lost' if share < 0 else 'gained'} on "
            f"average over the band; {rel[k]:+.1f} % at {_rpm(x.speed[k])} rpm")
    if rel[j] * rel[k] < 0 and abs(x.torque.parts[i][j]) > x.noise[j]:
        text += f" but {rel[j]:+.1f} % at {_rpm(x.speed[j])} rpm"
    if not x.torque.exact:
        text += f" (drawn orders: ±{100 * float(x.torque.error[i] @ x.weights) / x.band_torque:.2f} %)"
    return text + "."


def pair_sentence(x: Explanation) -> str:
    """The pair of attributes that do most together beyond their sum, if it is told from zero."""
    if not x.torque.exact or len(x.attributes) < 2:
        return ""
    band = np.abs(x.torque.pairs @ x.weights)
    i, j = np.unravel_index(int(np.argmax(band)), band.shape)
    if band[i, j] <= 2.0 * x.band_noise:
        return ""
    share = 100.0 * float(x.torque.pairs[i, j] @ x.weights) / x.band_torque
    how = "less" if share < 0 else "more"
    return (f"{x.attributes[i].name.capitalize()} and {x.attributes[j].name} act on each other: together they make "
            f"{abs(share):.1f} % {how} torque than each alone would add up to (half of it is in the share of each).")


def ve_sentence(x: Explanation, units: str) -> str:
    """Air at the worst speed: the attribute that takes most of it, and the plenum."""
    k = _worst(x)
    parts = 100.0 * x.ve.parts[:, k]
    change = 100.0 * (x.ve_other[k] - x.ve_base[k])
    if abs(change) < WORTH:
        return ""
    i = int(np.argmax(np.sign(change) * parts))
    text = (f"At {_rpm(x.speed[k])} rpm the volumetric efficiency (air drawn in, over what would fill the cylinders) "
            f"{'falls' if change < 0 else 'rises'} from {100 * x.ve_base[k]:.1f} to {100 * x.ve_other[k]:.1f} %, "
            f"{parts[i]:+.1f} points of that by the {x.attributes[i].name}")
    before, after = x.plenum[:, k]
    if max(before, after) > 200.0:
        old, new = alike(before, after, "depression", units)
        text += f". The mean pressure in the plenum is {new} below the outside's, {old} on the base"
    return text + "."


def mechanism_sentence(x: Explanation, units: str) -> str:
    """What the difference at the worst speed is made of, leaving out what is not worth naming."""
    k = _worst(x)
    whole = float(x.torque_other[k] - x.torque_base[k])
    if abs(whole) <= x.noise[k]:
        return ""
    parts = [(WORDS[name][int(v > 0.0)], v) for name, v in zip(MECHANISMS, x.mechanisms[:, k], strict=True)
             if abs(v) >= 0.02 * abs(whole)]
    shown = [f"{u.from_si(v, 'torque', units):+.1f} by {word}" for word, v in sorted(parts, key=lambda p: -abs(p[1]))]
    return (f"At {_rpm(x.speed[k])} rpm the difference of {_torque(whole, units, True)} is made of "
            f"{', '.join(shown)}.")


def ledger_sentence(x: Explanation) -> str:
    """The entry of the ledger that changes most at the worst speed; ram and tuning counted as one, since only their
    sum is of the wave model."""
    if x.ledgers is None:
        return ""
    k = _worst(x)
    rows = [100.0 * book.entries[:, k] for book in x.ledgers]
    names = [f"{name} ({what})" for name, what in ENTRIES]
    names[RAM] = "ram and tuning (air in motion that presses on, and the waves of the intake)"
    for row in rows:
        row[RAM] += row[TUNING]
        row[TUNING] = 0.0
    i = int(np.argmax(np.abs(rows[1] - rows[0])))
    if abs(rows[1][i] - rows[0][i]) < WORTH:
        return ""
    return (f"Of all that gives or takes air at {_rpm(x.speed[k])} rpm (see the table of volumetric efficiency) this "
            f"changes most: {names[i]}, {rows[0][i]:+.1f} points on the base, {rows[1][i]:+.1f} on the other.")


def cycle_sentences(a: Evidence, b: Evidence, units: str) -> list[str]:
    """What the traces of one speed show: port pressure at closing, reversion, waves, inlet Mach index."""
    at = f"At {_rpm(a.rpm)} rpm"
    change = b.closing_pressure - a.closing_pressure
    word = "less" if change < 0 else "more"
    old, new = alike(a.closing_pressure, b.closing_pressure, "pressure", units)
    told = [f"{at}, while the intake valve closes, the pressure in its port is {new} instead of {old}: the wave that "
            f"returns then packs {word} charge in."]
    if max(a.reversion, b.reversion) > 0.01:
        told.append(f"{at} {100 * b.reversion:.1f} % of the gas drawn in is pushed back through the intake valve, "
                    f"{100 * a.reversion:.1f} % on the base.")
    if abs(a.overlap_flow - b.overlap_flow) > 0.005:
        told.append(f"{at}, while both valves are open (overlap), {100 * b.overlap_flow:+.1f} % of the gas drawn in "
                    f"passes the intake valve, {100 * a.overlap_flow:+.1f} % on the base (below zero: backwards).")
    if abs(a.residual - b.residual) > 0.002:
        told.append(f"{at} {100 * b.residual:.1f} % of the trapped gas is burned gas of the cycle before, "
                    f"{100 * a.residual:.1f} % on the base.")
    if b.inlet_mach_index > 0.5:
        told.append(f"{at} the inlet Mach index (speed of the gas in the open intake valves over that of sound) is "
                    f"{b.inlet_mach_index:.2f}: beyond about 0.5 to 0.6 the valves themselves hold the engine back.")
    return told


def remedy_sentences(x: Explanation, units: str) -> list[str]:
    """What one change would give back, and what the driveline and the hood say."""
    best, limit, told = x.best_remedy, x.limits.driveline, []
    if best is not None:
        share = f"{100 * best.regained:.0f} % of the loss"
        if best.regained > 0.995:
            share = "all of the loss" if best.regained < 1.005 else "all of the loss and more"
        told.append(f"Going back to the base's {best.attribute} alone would recover {share} over the band "
                    f"({_torque(best.band_gain, units, True)}).")
        peak = float(best.torque.max())
        if limit is not None:
            word = "within" if peak <= limit else "ABOVE"
            told.append(f"The recovered curve peaks at {_torque(peak, units)}, {word} the driveline's limit of "
                        f"{_torque(limit, units)}.")
    if x.limits.on_purpose:
        told.append(f"The loss may be there on purpose: the base makes {_torque(x.limits.base_peak[0], units)}, more "
                    f"than the driveline's {_torque(limit, units)}, the other stays below.")
    a, b = x.limits.base_height, x.limits.other_height
    if a is not None and b is not None and abs(a - b) > 5e-4:
        told.append(f"Under the hood the other intake stands {u.show(abs(b - a), 'length', units, 3)} "
                    f"{'lower' if b < a else 'higher'}.")
    return told


def name_of(a: Attribute, units: str) -> str:
    """An attribute with its size on both engines: ``Runner length (135 mm to 188 mm)``."""
    sizes = size_text(a, units) or PLAIN.get(a.name, "")
    return a.name.capitalize() + (f" ({sizes})" if sizes else "")


def size_text(a: Attribute, units: str) -> str:
    """Size on the base and on the other, empty where no number tells it or both round to the same."""
    sizes = sizes_of(a, units)
    return _loss(a) + " to ".join(sizes) if sizes else ""


def _loss(a: Attribute) -> str:
    return "loss coefficient " if a.quantity == "loss" else ""


def sizes_of(a: Attribute, units: str) -> tuple[str, ...]:
    """Both sizes as text, none where no number tells them or both round to the same."""
    if not (math.isfinite(a.base) and math.isfinite(a.other)):
        return ()
    if a.quantity == "loss":
        sizes = (f"{a.base:.2f}", f"{a.other:.2f}")
    else:
        sizes = alike(a.base, a.other, a.quantity or "fraction", units)
    return sizes if sizes[0] != sizes[1] else ()


def alike(a: float, b: float, kind: str, units: str, digits: int = 3) -> tuple[str, str]:
    """Two internal values as text with as many decimals each: ``digits`` significant ones of the larger.

    >>> alike(3e3, 2.94e3, "depression", "si", 2)
    ('3.0 kPa', '2.9 kPa')
    """
    label = u.unit_label(kind, units)
    shown = [float(u.from_si(v, kind, units)) for v in (a, b)]
    size = max(map(abs, shown))
    places = max(0, digits - 1 - math.floor(math.log10(size))) if size > 0.0 else 0
    while places and all(f"{v:.{places}f}".endswith("0") for v in shown):
        places -= 1
    first, second = (f"{v:.{places}f}" + ("" if label == "-" else f" {label}") for v in shown)
    return first, second


def _told_from_zero(x: Explanation, i: int) -> bool:
    return bool(abs(x.band_parts[i]) > x.band_noise or (np.abs(x.torque.parts[i]) > 2.0 * x.noise).any())


def _worst(x: Explanation) -> int:
    return int(np.argmax(np.abs(x.torque_other / x.torque_base - 1.0)))


def _rpm(rpm: float) -> str:
    return f"{rpm:.0f}"


def _torque(value: float, units: str, signed: bool = False) -> str:
    shown = float(u.from_si(value, "torque", units))
    return f"{shown:{'+' if signed else ''}.{1 if signed else 0}f} {u.unit_label('torque', units)}"
