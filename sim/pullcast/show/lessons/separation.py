"""Lobe separation with the intake closing held, and with the overlap held."""

from __future__ import annotations

from pullcast.card import with_changes
from pullcast.show.lessons.lesson import Lesson, LessonResult, Progress
from pullcast.show.lessons.runs import change, curves, panel, percent, table

SPEEDS = (2000.0, 4500.0, 7000.0)
EVEN = 1.0  # % of torque within which both ways are called alike


def events(engine) -> dict[str, float]:
    """Events at 1 mm of an engine with even flanks: separation, intake closing after bottom centre, overlap (deg)."""
    i, e = engine.cam.intake, engine.cam.exhaust
    duration = [next(d.duration_deg for d in lobe.durations if d.side == "valve") for lobe in (i, e)]
    return {"separation": (i.centreline_deg + e.centreline_deg) / 2,
            "closing": duration[0] / 2 + i.centreline_deg - 180.0,
            "overlap": sum(duration) / 2 - i.centreline_deg - e.centreline_deg}


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """Torque of the base and of both ways of spreading; the answer is the closing angle when the overlap is held."""
    found = curves(lesson, SPEEDS, on_point)
    cams = [events(with_changes(lesson.card, {**lesson.presets, **s.changes})) for s in lesson.settings]
    base, closing, overlap = (d["torque"].values for d in found.values())
    gains = {name: [percent(b, a) for a, b in zip(base, values, strict=True)]
             for name, values in (("closing", closing), ("overlap", overlap))}
    first, second = gains["closing"][0], gains["overlap"][0]
    right = "c" if abs(first - second) < EVEN else ("a" if first < second else "b")
    residual = [100 * float(d["residual_fraction"].mean("cylinder").values[0]) for d in found.values()]
    facts = {"low": SPEEDS[0], "high": SPEEDS[-1], "wider": cams[1]["separation"] - cams[0]["separation"],
             "overlap_base": cams[0]["overlap"], "overlap_less": cams[1]["overlap"],
             "closing_base": cams[0]["closing"],
             "held_low": change(first), "held_high": change(gains["closing"][-1]), "kept_low": change(second),
             "kept_high": change(gains["overlap"][-1]), "held_low_pct": first, "kept_low_pct": second,
             "residual_base": residual[0], "residual_held": residual[1],
             "half_way": cams[0]["closing"] + cams[1]["separation"] - cams[0]["separation"]}
    rows = [[name, f"{c['separation']:.1f}", f"{c['closing']:.0f}", f"{c['overlap']:.0f}",
             *(f"{t:.1f}" for t in d["torque"].values)] for (name, d), c in zip(found.items(), cams, strict=True)]
    rows[2][2] = "?"
    return LessonResult(facts, (panel("Torque", "torque, N m", found, "torque"),
                                panel("Residual gas", "burned gas left in the charge, %", found, "residual_fraction",
                                      100.0)), right, cams[2]["closing"],
                        table(["cam", "separation, deg", "closes, deg ABDC", "overlap, deg",
                               *(f"N m at {s:.0f} rpm" for s in SPEEDS)], rows))
