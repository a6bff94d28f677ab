"""Both cams turned: what advance does over the speed range."""

from __future__ import annotations

import math
from itertools import pairwise

from pullcast.show.lessons.lesson import Lesson, LessonResult, Progress
from pullcast.show.lessons.runs import change, curves, panel, percent, table

SPEEDS = (2000.0, 4500.0, 6000.0, 7200.0)
SMALL = 0.3  # % of torque: no change
BY_SIGNS = {(1, 1): "a", (1, -1): "b", (-1, 1): "c", (-1, -1): "d"}


def crossing(speeds, first, second) -> tuple[float, float]:
    """Highest speed at which ``first`` less ``second`` changes sign or comes to nothing, by straight lines, and the
    middle between the two speeds about it; nan when there is none.

    >>> crossing((2000.0, 4000.0), (10.0, 9.0), (9.0, 12.0))
    (2500.0, 3000.0)
    >>> crossing((2000.0, 4000.0, 6000.0), (10.0, 9.0, 7.0), (9.0, 9.0, 8.0))
    (4000.0, 3000.0)
    """
    at = middle = math.nan
    gaps = [a - b for a, b in zip(first, second, strict=True)]
    for (n0, g0), (n1, g1) in pairwise(zip(speeds, gaps, strict=True)):
        if g0 * g1 < 0 or (g0 != 0 and g1 == 0):
            at, middle = n0 + (n1 - n0) * g0 / (g0 - g1), (n0 + n1) / 2
    return at, middle


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """Torque with the cams retarded, as they are, advanced; the answer is where advanced and retarded cross."""
    found = curves(lesson, SPEEDS, on_point)
    late, base, early = ([round(float(t), 1) for t in d["torque"].values] for d in found.values())
    gain = [percent(b, a) for a, b in zip(base, early, strict=True)]
    loss = [percent(b, a) for a, b in zip(base, late, strict=True)]
    signs = tuple(1 if g > SMALL else -1 if g < -SMALL else 0 for g in (gain[0], gain[-1]))
    pivot, middle = crossing(SPEEDS, early, late)
    facts = {"low": SPEEDS[0], "high": SPEEDS[-1], "early_low": change(gain[0]), "early_high": change(gain[-1]),
             "late_low": change(loss[0]), "late_high": change(loss[-1]), "pivot": pivot,
             "base_crossing": crossing(SPEEDS, early, base)[0], "middle": middle}
    rows = [[name, *(f"{t:.1f}" for t in values)] for name, values in zip(found, (late, base, early), strict=True)]
    return LessonResult(facts, (panel("Torque", "torque, N m", found, "torque"),
                                panel("Volumetric efficiency", "volumetric efficiency, %", found,
                                      "volumetric_efficiency", 100.0)),
                        BY_SIGNS.get(signs, "e"), pivot,
                        table(["torque, N m", *(f"{s:.0f} rpm" for s in SPEEDS)], rows))
