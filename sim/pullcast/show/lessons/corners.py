"""Intake closing and runner length: the four corners."""

from __future__ import annotations

from pullcast.show.lessons.lesson import Lesson, LessonResult, Progress
from pullcast.show.lessons.runs import curves, panel, percent, table

SPEEDS = (2500.0, 5000.0, 7500.0)
LETTERS = "abcd"  # one a setting, in the card's order: early short, early long, late short, late long


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """Torque of the four; the answer is how much more the later closing gives with the long runner than the short."""
    found = curves(lesson, SPEEDS, on_point)
    torque = [[round(float(t), 1) for t in d["torque"].values] for d in found.values()]
    names = list(found)
    low, high = (max(range(4), key=lambda k: torque[k][i]) for i in (0, -1))
    with_short, with_long = torque[2][-1] - torque[0][-1], torque[3][-1] - torque[1][-1]
    short_early, long_early, short_late, long_late = torque
    facts = {"low": SPEEDS[0], "high": SPEEDS[-1], "best_low": names[low], "best_high": names[high],
             "best_low_torque": torque[low][0], "best_high_torque": torque[high][-1],
             "late_at_low": percent(short_late[0], short_early[0]),
             "late_at_high": percent(short_late[-1], short_early[-1]),
             "long_at_low": percent(long_early[0], short_early[0]),
             "long_at_high": percent(long_early[-1], short_early[-1]), "with_short": with_short,
             "with_long": with_long, "only_long": with_long, "turned": with_short - with_long,
             "across": long_late[-1] - short_early[-1]}
    rows = [[name, *(f"{t:.1f}" for t in values)] for name, values in zip(names, torque, strict=True)]
    return LessonResult(facts, (panel("Torque", "torque, N m", found, "torque"),
                                panel("Volumetric efficiency", "volumetric efficiency, %", found,
                                      "volumetric_efficiency", 100.0)),
                        LETTERS[high], with_long - with_short,
                        table(["torque, N m", *(f"{s:.0f} rpm" for s in SPEEDS)], rows))
