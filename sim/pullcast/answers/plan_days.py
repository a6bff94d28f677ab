"""The stops of a plan, cut into days where they are more than one: every day begins and ends with the base.

Each day is then a session of its own, judged by itself: drift from day to day cancels, as each has its own base.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

PULL_MINUTES, WARM_MINUTES = 5.0, 25.0  # a pull with its cooling down; warming up after each wrenching


@dataclass(frozen=True)
class Stop:
    """A time an engine is on: letter, name, what is changed before it, minutes of wrenching, pulls, which day."""

    letter: str
    name: str
    change: tuple[str, ...]
    wrench_minutes: float
    pulls: int
    day: int = 1

    @property
    def minutes(self) -> float:
        """Wrenching, warming up and pulls."""
        return self.wrench_minutes + WARM_MINUTES + self.pulls * PULL_MINUTES


def cut(stops: Sequence[Stop], most: float) -> list[Stop]:
    """The stops spread over days of at most ``most`` minutes, each cut at a return to the base "A", which is put on
    again the next morning. A round from base to base is never cut, so a day of one round may be longer."""
    first, out, day = stops[0], [], 1
    today = [first]
    for part in _rounds(stops):
        if len(today) > 1 and minutes([*today, *part]) > most:
            out += today
            day += 1
            today = [replace(first, wrench_minutes=0.0, change=(), day=day)]
        today += [replace(s, day=day) for s in part]
    return out + today


def _rounds(stops: Sequence[Stop]) -> list[list[Stop]]:
    """The stops after the first, in pieces that end with the base."""
    found: list[list[Stop]] = [[]]
    for s in stops[1:]:
        found[-1].append(s)
        if s.letter == "A":
            found.append([])
    return [part for part in found if part]


def minutes(stops: Sequence[Stop]) -> float:
    """Wrenching, warming up and pulls of all."""
    return sum(s.minutes for s in stops)


def days(stops: Sequence[Stop]) -> list[list[Stop]]:
    """The stops of each day."""
    return [[s for s in stops if s.day == day] for day in dict.fromkeys(s.day for s in stops)]


def sequence(stops: Sequence[Stop]) -> str:
    """The letters in order, days apart: "A-B-A | A-C-A"."""
    return " | ".join("-".join(s.letter for s in day) for day in days(stops))


def fitting_pulls(day: Sequence[Stop], most: float) -> int:
    """Pulls each with which the stops of a day come to at most ``most`` minutes; 0 when none does."""
    bare = sum(s.wrench_minutes + WARM_MINUTES for s in day)
    return max(int((most - bare) // (PULL_MINUTES * len(day))), 0)
