"""A mystery loss: four suspects, four readings."""

from __future__ import annotations

import numpy as np

from pullcast.answers.faults import FAULTS, Span
from pullcast.card import read_engine
from pullcast.show.lessons.lesson import Lesson, LessonResult, Line, Panel, Progress
from pullcast.show.lessons.runs import percent, solved, table

SPEEDS = (2000.0, 4000.0, 6000.0)
SUSPECTS = {"a": ("throttle", 0.5), "b": ("part: restriction", 2.0), "c": ("spark", 14.0), "d": ("oil", 1.4)}
CASES = {"first": ("throttle", 0.58), "second": ("part: restriction", 1.5)}
# standard deviations of the readings: torque %, plenum kPa, air flow %, exhaust K (common practice, no source)
SPREAD = np.array([0.5, 0.5, 0.5, 0.4, 1.0, 12.0])


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """Readings of two engines with a hidden fault each, and of the suspects; who fits is found by least squares."""
    engine = read_engine(lesson.card)
    span = Span(SPEEDS[0], SPEEDS[-1], SPEEDS[1])
    faults = {f.key: f for f in FAULTS}
    engines = {"sound": engine} | {name: faults[key].change(engine, severity, SPEEDS[-1], span)
                                   for name, (key, severity) in (CASES | SUSPECTS).items()}
    found = solved(lesson, engines, SPEEDS, on_point)
    seen = {name: readings(found["sound"], d) for name, d in found.items() if name != "sound"}
    first, second = (closest(seen[case], {k: seen[k] for k in SUSPECTS}) for case in CASES)
    facts = {"low": SPEEDS[0], "high": SPEEDS[-1],
             "by_torque": " and ".join(sorted(_alike(seen, lesson), key=str.lower))}
    for case in CASES:
        for name, value in zip(("low", "mid", "high", "plenum", "air", "exhaust"), seen[case], strict=True):
            facts[f"{case}_{name}"] = float(value)
    for letter in SUSPECTS:
        facts |= {f"plenum_{letter}": float(seen[letter][3]), f"air_{letter}": float(seen[letter][4]),
                  f"exhaust_{letter}": float(seen[letter][5])}
    facts["culprit"] = lesson.prediction.choices[first]
    rows = [[name, *(f"{v:+.1f}" for v in values[:3]), f"{values[3]:+.2f}", f"{values[4]:+.1f}", f"{values[5]:+.0f}"]
            for name, values in _rows(seen, lesson)]
    return LessonResult(facts, (_panel(seen, lesson),), first, second, table(
        ["against the sound engine", *(f"torque, % at {s:.0f} rpm" for s in SPEEDS), "plenum, kPa at the top",
         "air, % at the top", "exhaust, K at the top"], rows))


def readings(sound, other) -> np.ndarray:
    """Changes of an engine against the sound one: torque (%) over ``SPEEDS``, then plenum pressure (kPa), air flow
    (%) and exhaust temperature (K) at the top."""
    torque = [percent(b, a) for a, b in zip(sound["torque"].values, other["torque"].values, strict=True)]
    plenum = (other["plenum_pressure"] - sound["plenum_pressure"]).values[-1] / 1e3
    exhaust = (other["exhaust_temperature"] - sound["exhaust_temperature"]).values[-1]
    return np.array([*torque, plenum, percent(other["airflow"].values[-1], sound["airflow"].values[-1]), exhaust])


def closest(case: np.ndarray, suspects: dict[str, np.ndarray], used: slice = slice(None)) -> str:
    """The suspect whose readings fit, whatever the severity: least squares with a free positive factor."""
    return min(suspects, key=lambda k: misfit(case, suspects[k], used))


def misfit(case: np.ndarray, suspect: np.ndarray, used: slice = slice(None)) -> float:
    """Root of the mean squared misfit, in standard deviations, after scaling the suspect to the case."""
    x, s = (case / SPREAD)[used], (suspect / SPREAD)[used]
    scale = max(float(x @ s) / float(s @ s), 0.0)
    return float(np.sqrt(np.mean((x - scale * s) ** 2)))


def _alike(seen: dict[str, np.ndarray], lesson: Lesson) -> list[str]:
    """The two suspects that fit the first case best by the torque alone."""
    order = sorted(SUSPECTS, key=lambda k: misfit(seen["first"], seen[k], slice(0, 3)))
    return [lesson.prediction.choices[k] for k in order[:2]]


def _rows(seen: dict[str, np.ndarray], lesson: Lesson) -> list[tuple[str, np.ndarray]]:
    return [("the engine of today", seen["first"]), *((lesson.prediction.choices[k], seen[k]) for k in SUSPECTS)]


def _panel(seen: dict[str, np.ndarray], lesson: Lesson) -> Panel:
    lines = tuple(Line(name, SPEEDS, tuple(map(float, values[:3])), points=name == "the engine of today")
                  for name, values in _rows(seen, lesson))
    return Panel("Change of torque", "engine speed, rpm", "torque against the sound engine, %", lines)
