"""A-B-A and noise: the same part under two letters, with drift and scatter."""

from __future__ import annotations

import numpy as np

from pullcast.answers.pulls_needed import pulls_needed
from pullcast.answers.session_stats import Priors, design, difference
from pullcast.show.lessons.lesson import Lesson, LessonResult, Line, Panel, Progress
from pullcast.show.lessons.runs import percent, table

SEED, LEVEL = 1, 480.0  # of the drawn session; N m
DRIFT, NOISE = -0.0035, 0.004  # a pull, and pull to pull sd, as fractions
ORDER = "AAABBBAAA"
CLEAR = 0.3  # % from which a difference is called one


def session() -> tuple[float, ...]:
    """Torque (N m) of the pulls of ``ORDER``: one and the same engine, drifting and scattering."""
    rng = np.random.default_rng(SEED)
    pulls = LEVEL * (1 + DRIFT * np.arange(len(ORDER)) + NOISE * rng.standard_normal(len(ORDER)))
    return tuple(round(float(t), 1) for t in pulls)


def best_of(n: int) -> float:
    """Mean of the highest of ``n`` normal readings, in standard deviations: from 200 000 draws, good to 0.003.

    >>> round(best_of(3), 2)
    0.85
    """
    return float(np.random.default_rng(SEED).standard_normal((200_000, n)).max(axis=1).mean())


def measure(lesson: Lesson, on_point: Progress | None = None) -> LessonResult:
    """What each way of comparing says of a part against itself; the answer is the A-B-A difference in percent."""
    pulls = np.array(session())
    first, second, third = (pulls[i:i + 3] for i in (0, 3, 6))
    before = percent(second.mean(), first.mean())
    around = (first.mean() + third.mean()) / 2
    answer = percent(second.mean(), around)
    layout = design([int(c == "B") for c in ORDER], np.repeat([0, 1, 2], 3))
    post = difference((100 * pulls / first.mean())[:, None], layout, Priors())
    low, high = (float(post.quantile(1, q)[0]) for q in (0.025, 0.975))
    plan = pulls_needed(0.01, noise=NOISE, refit=0.0)
    facts = {"before": before, "answer": answer, "low": low, "high": high, "drift": 100 * DRIFT, "noise": 100 * NOISE,
             "bias_three": 100 * NOISE * best_of(3), "bias_ten": 100 * NOISE * best_of(10),
             "best": percent(second.max(), first.mean()), "after": percent(second.mean(), third.mean()),
             "turned": -answer, "per_fit": plan.per_fit, "total": plan.total, "in_newton": second.mean() - around,
             "inside": "holds zero" if low <= 0.0 <= high else "leaves zero out"}
    facts = {key: value if isinstance(value, str) else float(value) for key, value in facts.items()}
    right = "a" if abs(before) < CLEAR else "b" if before < 0 else "c"
    numbers = np.arange(1.0, len(ORDER) + 1)
    letters = np.array(list(ORDER))
    lines = tuple(Line(c, tuple(numbers[letters == c].tolist()), tuple(pulls[letters == c].tolist()), points=True)
                  for c in "AB")
    rows = [["torque, N m", *(f"{t:.1f}" for t in pulls)]]
    return LessonResult(facts, (Panel("The session", "pull", "torque, N m", lines),), right, float(answer),
                        table(["pull", *(f"{n:.0f} ({c})" for n, c in zip(numbers, ORDER, strict=True))], rows))
