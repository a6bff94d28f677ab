"""Header primaries: narrow against wide."""

from __future__ import annotations

import math

from pullcast.card import with_changes
from pullcast.show.lessons.lesson import Lesson, LessonResult, Progress
from pullcast.show.lessons.runs import change, curves, panel, percent, table

SPEEDS = (2000.0, 3000.0, 4000.0, 6000.0)
SMALL = 0.5  # % of torque: no change
BY_SIGNS = {(1, 1): "a", (1, -1): "b", (-1, 1): "c", (-1, -1): "d"}


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """Torque with both sizes of tube; the answer is the flow area (cm2) of the narrow one."""
    found = curves(lesson, SPEEDS, on_point)
    wide, narrow = (d["torque"].values for d in found.values())
    gain = [percent(b, a) for a, b in zip(wide, narrow, strict=True)]
    signs = tuple(1 if g > SMALL else -1 if g < -SMALL else 0 for g in (gain[0], gain[-1]))
    bores = [1e3 * with_changes(lesson.card, {**lesson.presets, **s.changes}).exhaust.facts["primary_id"]
             for s in lesson.settings]
    area = math.pi / 4 * bores[1] ** 2 / 100
    outside, wall = 38.1, 1.24  # the narrow tube as the question states it, mm
    back = [d["pmep"].values[-1] / 1e5 for d in found.values()]
    facts = {"low": SPEEDS[0], "high": SPEEDS[-1], "gain_low": change(gain[0]), "gain_high": change(gain[-1]),
             "second": SPEEDS[1], "gain_second": change(gain[1]), "third": SPEEDS[2], "gain_third": change(gain[2]),
             "bore_wide": bores[0], "bore_narrow": bores[1], "ratio": (bores[0] / bores[1]) ** 2, "outside": outside,
             "wall": wall, "tube_as_bore": math.pi / 4 * outside**2 / 100,
             "one_wall": math.pi / 4 * (outside - wall) ** 2 / 100, "radius": 4 * area,
             "pumping_wide": back[0], "pumping_narrow": back[1]}
    rows = [[name, *(f"{t:.1f}" for t in d["torque"].values)] for name, d in found.items()]
    return LessonResult(facts, (panel("Torque", "torque, N m", found, "torque"),
                                panel("Residual gas", "burned gas left in the charge, %", found, "residual_fraction",
                                      100.0)), BY_SIGNS.get(signs, "e"), area,
                        table(["torque, N m", *(f"{s:.0f} rpm" for s in SPEEDS)], rows))
