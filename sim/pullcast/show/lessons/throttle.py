"""Throttle and plenum: what a small throttle costs, and how the plenum's pressure shows it."""

from __future__ import annotations

from pullcast.show.lessons.lesson import Lesson, LessonResult, Line, Panel, Progress
from pullcast.show.lessons.runs import change, curves, panel, percent, table

SPEEDS = (2000.0, 3500.0, 5000.0, 6500.0)
TWICE, EVEN = 1.5, 0.75  # the loss at the top over that at the bottom: growing, shrinking
PLENUM_SPEEDS = (3000.0, 6000.0)


def shape(low: float, high: float) -> str:
    """The prediction that fits losses (%, positive) at the bottom and the top of the speeds."""
    if max(low, high) < 0.3:
        return "d"
    return "b" if high > TWICE * max(low, 0.0) else "c" if high < EVEN * low else "a"


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """Torque and plenum depression with both throttles (lumped), torque with two plenums (waves); the answer is the
    depression at the third speed, by the square of the air flow, from that at the first."""
    big, small, *plenums = lesson.settings
    found = curves(lesson, SPEEDS, on_point, labels=(big.label, small.label))
    boxes = curves(lesson, PLENUM_SPEEDS, on_point, model="waves", labels=[s.label for s in plenums])
    torque = [d["torque"].values for d in found.values()]
    lost = [-percent(b, a) for a, b in zip(*torque, strict=True)]
    drop = {label: [(d.attrs["pressure"] - float(p)) / 1e3 for p in d["plenum_pressure"].values]
            for label, d in found.items()}
    air = [round(1e3 * float(a), 1) for a in found[small.label]["airflow"].values]
    first = round(drop[small.label][1], 2)
    answer = first * (air[-1] / air[1]) ** 2
    size = [percent(b, a) for a, b in zip(*(d["torque"].values for d in boxes.values()), strict=True)]
    facts = {"low": SPEEDS[0], "high": SPEEDS[-1], "lost_low": lost[0], "lost_high": lost[-1], "first": first,
             "seen": SPEEDS[1], "air_first": air[1], "air_last": air[-1], "drop_big": drop[big.label][-1],
             "drop_small": drop[small.label][-1], "extra": drop[small.label][-1] - drop[big.label][-1],
             "a_kpa": lost[-1] / (drop[small.label][-1] - drop[big.label][-1]), "straight": first * air[-1] / air[1],
             "by_speed": first * (SPEEDS[-1] / SPEEDS[1]) ** 2, "plenum_low": PLENUM_SPEEDS[0],
             "plenum_high": PLENUM_SPEEDS[-1], "size_low": change(size[0]), "size_high": change(size[-1])}
    rows = [[label, *(f"{t:.1f}" for t in d["torque"].values)] for label, d in found.items()]
    rows.append([f"plenum below outside, kPa: {small.label}", *(f"{x:.2f}" for x in drop[small.label][:-1]), "?"])
    rows.append([f"air, g/s: {small.label}", *(f"{x:.1f}" for x in air)])
    lines = tuple(Line(label, SPEEDS, tuple(values)) for label, values in drop.items())
    return LessonResult(facts, (panel("Torque", "torque, N m", found, "torque"),
                                Panel("Plenum depression", "engine speed, rpm", "below outside, kPa", lines)),
                        shape(lost[0], lost[-1]), answer,
                        table(["torque, N m", *(f"{s:.0f} rpm" for s in SPEEDS)], rows))
