"""What volumetric efficiency is: the same engine on a cold and on a hot, thin day."""

from __future__ import annotations

from pullcast.card import with_changes
from pullcast.show.lessons.lesson import Lesson, LessonResult, Progress
from pullcast.show.lessons.runs import curves, panel, percent, table

SPEEDS = (1600.0, 2400.0, 3200.0)
ASKED = 2400.0
# what each prediction says of (VE, torque), as shares of the fall in density
SAYS = {"a": (1.0, 1.0), "b": (0.0, 1.0), "c": (0.0, 0.0), "d": (1.0, 0.0)}


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """Densities, torques, efficiencies on both days; the answer is the efficiency from the air meter's reading."""
    found = curves(lesson, SPEEDS, on_point)
    cold, hot = (found[s.label].sel(speed=ASKED) for s in lesson.settings)
    engine = with_changes(lesson.card, {**lesson.presets, **lesson.settings[0].changes})
    rho = [float(d.attrs["reference_density"]) for d in found.values()]
    thinner, torque, ve = (percent(b, a) for a, b in (
        (rho[0], rho[1]), (float(cold.torque), float(hot.torque)),
        (float(cold.volumetric_efficiency), float(hot.volumetric_efficiency))))
    litres, air = round(1e3 * engine.block.displacement, 3), round(1e3 * float(cold.airflow), 2)
    meter = 100.0 * air / (round(rho[0], 4) * litres * ASKED / 120.0)
    facts = {"density_cold": rho[0], "density_hot": rho[1], "thinner": -thinner, "torque_change": torque,
             "ve_cold": 100 * float(cold.volumetric_efficiency), "ve_hot": 100 * float(hot.volumetric_efficiency),
             "ve_change": ve, "rpm": ASKED, "litres": litres, "air": air, "every_turn": meter / 2,
             "wrong_air": meter * rho[0] / rho[1], "torque_cold": float(cold.torque),
             "torque_hot": float(hot.torque)}
    rows = [[label, f"{density:.4f}", f"{1e3 * float(p.airflow):.2f}", f"{float(p.torque):.1f}",
             f"{100 * float(p.volumetric_efficiency):.1f}"]
            for label, density, p in zip(found, rho, (cold, hot), strict=True)]
    return LessonResult(
        facts, (panel("Torque", "torque, N m", found, "torque"),
                panel("Volumetric efficiency", "volumetric efficiency, %", found, "volumetric_efficiency", 100.0)),
        nearest(ve / thinner, torque / thinner), meter,
        table(["day", "air outside, kg/m3", "air meter, g/s", "torque, N m", "VE, %"], rows))


def nearest(ve: float, torque: float) -> str:
    """The prediction nearest to what came, both as shares of the fall in density."""
    return min(SAYS, key=lambda k: (SAYS[k][0] - ve) ** 2 + (SAYS[k][1] - torque) ** 2)
