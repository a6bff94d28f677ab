"""Correction factors: the same engine in two weathers, corrected on two bases."""

from __future__ import annotations

from pullcast.card import with_changes
from pullcast.pulls.correction import correction_factor
from pullcast.show.lessons.lesson import Lesson, LessonResult, Line, Panel, Progress
from pullcast.show.lessons.runs import curves, panel, percent, table

SPEEDS = (1600.0, 2400.0, 3200.0)
ASKED = 1  # index of the speed talked about
SAME = 0.4  # % within which corrected torques are called the same


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """Observed and corrected torque on both days; the answer is the J1349 factor of the second day."""
    found = curves(lesson, SPEEDS, on_point)
    days = [with_changes(lesson.card, {**lesson.presets, **s.changes}).day for s in lesson.settings]
    factor = {basis: [correction_factor(basis, d.pressure, d.temperature, d.humidity) for d in days]
              for basis in ("j1349", "std")}
    torque = [float(d["torque"].values[ASKED]) for d in found.values()]
    corrected = [t * f.factor for t, f in zip(torque, factor["j1349"], strict=True)]
    observed, left = percent(torque[1], torque[0]), percent(corrected[1], corrected[0])
    dry, celsius = round(factor["j1349"][1].dry_pressure / 100, 1), round(days[1].temperature - 273.15, 1)
    total = days[1].pressure / 100
    heat = ((celsius + 273.0) / 298.0) ** 0.5
    share = 990.0 / dry * heat
    sound = next(iter(found.values())).isel(speed=ASKED)
    gap = [percent(s.factor, j.factor) for s, j in zip(factor["std"], factor["j1349"], strict=True)]
    facts = {"rpm": SPEEDS[ASKED], "torque_first": torque[0], "torque_second": torque[1], "observed": observed,
             "left": left, "factor_first": factor["j1349"][0].factor, "factor_second": factor["j1349"][1].factor,
             "corrected_first": corrected[0], "corrected_second": corrected[1], "gap_first": gap[0],
             "gap_second": gap[1], "std_second": factor["std"][1].factor, "dry": dry, "total": total,
             "celsius": celsius, "undried": 1.180 * 990.0 / total * heat - 0.180, "no_friction": share,
             "upside": 1.180 / share - 0.180,
             "mechanical": 100 * float(sound["bmep"]) / float(sound["gross_imep"])}
    rows = [[name, f"{d.pressure / 100:.1f}", f"{d.temperature - 273.15:.0f}", f"{t:.1f}", f"{t * j.factor:.1f}",
             f"{t * s.factor:.1f}"] for name, d, t, j, s in
            zip(found, days, torque, factor["j1349"], factor["std"], strict=True)]
    lines = tuple(Line(name, SPEEDS, tuple(float(t) * f.factor for t in d["torque"].values))
                  for (name, d), f in zip(found.items(), factor["j1349"], strict=True))
    right = "a" if abs(left) < SAME else "b" if abs(left) < 0.5 * abs(observed) else "c"
    return LessonResult(facts, (panel("Observed torque", "torque, N m", found, "torque"),
                                Panel("Corrected to J1349", "engine speed, rpm", "corrected torque, N m", lines)),
                        right, 1.180 * share - 0.180,
                        table(["day", "station, hPa", "air, deg C", "observed, N m", "J1349, N m", "STD, N m"], rows))
