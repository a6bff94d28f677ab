"""What it takes to put a part on: minutes, and the order of parts with the least wrenching.

All minutes are common practice, no source; two people, engine on the stand, parts at hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise, permutations
from typing import Any

MINUTES = {
    "cam": 180.0, "head": 240.0, "intake": 60.0, "exhaust": 75.0, "fuel": 30.0, "block": 480.0, "friction": 120.0,
    "intake.throttle": 30.0, "exhaust.tail": 30.0, "exhaust.muffler": 30.0, "cam.advance": 60.0, "cam.phasing": 60.0,
    "cam.intake.lash": 30.0, "cam.exhaust.lash": 30.0, "burn": 10.0, "mixture": 15.0, "day": 0.0,
}
USUAL = 60.0
MANY = 6  # candidates up to which every order is looked at


def minutes(keys: Sequence[str]) -> float:
    """Minutes to change what ``keys`` name; keys of one part are changed together, so the longest of it counts."""
    longest: dict[str, float] = {}
    for key in keys:
        part = key.split(".")[0]
        longest[part] = max(longest.get(part, 0.0), _one(key))
    return sum(longest.values())


def _one(key: str) -> float:
    parts = key.split(".")
    for n in range(len(parts), 0, -1):
        if (name := ".".join(parts[:n])) in MINUTES:
            return MINUTES[name]
    return USUAL


def change(a: Mapping[str, Any], b: Mapping[str, Any]) -> list[str]:
    """Keys that differ between two sets of swaps: what must be wrenched to go from one to the other."""
    return sorted(k for k in {*a, *b} if str(a.get(k)) != str(b.get(k)))


def between(a: Mapping[str, Any], b: Mapping[str, Any]) -> float:
    """Minutes of wrenching from one set of swaps to another."""
    return minutes(change(a, b))


def least_order(swaps: Sequence[Mapping[str, Any]], returns: bool) -> list[int]:
    """The order of candidates with the least wrenching, beginning and ending with the base; with ``returns`` the base
    comes back after each (then only what is quickest to undo comes first)."""
    index = list(range(len(swaps)))
    if returns:
        return sorted(index, key=lambda i: between({}, swaps[i]))
    if len(index) <= MANY:
        return list(min(permutations(index), key=lambda order: (total([swaps[i] for i in order]), [
            between({}, swaps[i]) for i in order])))  # of equals the quickest first
    order, left, here = [], set(index), {}
    while left:
        nearest = min(left, key=lambda i: (between(here, swaps[i]), i))
        order.append(nearest)
        left.remove(nearest)
        here = swaps[nearest]
    return order


def total(swaps: Sequence[Mapping[str, Any]]) -> float:
    """Minutes of wrenching for a run of parts from the base through ``swaps`` and back."""
    stops = [{}, *swaps, {}]
    return sum(between(a, b) for a, b in pairwise(stops))
