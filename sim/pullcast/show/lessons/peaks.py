"""Why ranking by the peak misleads: the highest peak against the band that is driven."""

from __future__ import annotations

from pullcast.results.curve import Curve
from pullcast.show.lessons.lesson import Lesson, LessonResult, Progress
from pullcast.show.lessons.runs import curves, panel, percent, table

SPEEDS = (2500.0, 3500.0, 4500.0, 5500.0, 6400.0)
BAND = (2500.0, 5500.0)
EVEN = 0.5  # % of band torque: no difference


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """Peaks and band means of two parts; the answer is the first one's mean torque over the band."""
    found = curves(lesson, SPEEDS, on_point)
    first, second = (Curve(d) for d in found.values())
    mean = [c.band_average("torque", *BAND) for c in (first, second)]
    gain = percent(mean[1], mean[0])
    shown = [round(float(t), 1) for t in first.dataset["torque"].values]
    inside = shown[:4]
    answer = (inside[0] / 2 + inside[1] + inside[2] + inside[3] / 2) / 3
    facts = {"from": BAND[0], "to": BAND[1], "peak_first": first.peak_power.value / 1e3,
             "peak_second": second.peak_power.value / 1e3, "at_first": first.peak_power.rpm,
             "at_second": second.peak_power.rpm, "mean_first": mean[0], "mean_second": mean[1],
             "peak_gain": percent(second.peak_power.value, first.peak_power.value), "gain": gain,
             "plain": sum(inside) / 4, "all_speeds": sum(shown) / 5, "simple_ends": (inside[0] + inside[-1]) / 2}
    rows = [[name, *(f"{t:.1f}" for t in d["torque"].values), f"{c.peak_power.value / 1e3:.1f}"]
            for (name, d), c in zip(found.items(), (first, second), strict=True)]
    right = "c" if abs(gain) < EVEN else "b" if gain > 0 else "a"
    return LessonResult(facts, (panel("Torque", "torque, N m", found, "torque"),
                                panel("Power", "power, kW", found, "power", 1e-3)), right, answer,
                        table(["torque, N m", *(f"{s:.0f} rpm" for s in SPEEDS), "peak power, kW"], rows))
