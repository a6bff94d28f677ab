"""What the lessons' runs share: the settings as curves, and words for a change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from pullcast.errors import NotConverged
from pullcast.show.lessons.lesson import Lesson, Line, Panel, Progress

if TYPE_CHECKING:
    from xarray import Dataset

    from pullcast.card.engine import Engine

CELL = 0.03  # m: coarse enough for a class to wait for, within about .3 % of torque of finer ones
FIDELITY = {"waves": "wave", "lumped": "lumped"}


def curves(lesson: Lesson, speeds: Sequence[float], on_point: Progress | None = None, *, model: str = "",
           labels: Iterable[str] = ()) -> dict[str, Dataset]:
    """The lesson's settings (those of ``labels``, else all), label to dataset of the curve at ``speeds`` (rpm).

    Runs in this process, so that a page may call it from a thread. Raises NotConverged naming the setting and speed.
    """
    from pullcast.card import with_changes

    wanted = tuple(labels)
    engines = {s.label: with_changes(lesson.card, {**lesson.presets, **s.changes})
               for s in lesson.settings if not wanted or s.label in wanted}
    return solved(lesson, engines, speeds, on_point, model=model)


def solved(lesson: Lesson, engines: Mapping[str, Engine], speeds: Sequence[float],
           on_point: Progress | None = None, *, model: str = "") -> dict[str, Dataset]:
    """As :func:`curves` for engines at hand, label to engine."""
    from pullcast.answers.curves import predict

    found: dict[str, Dataset] = {}
    for i, (label, engine) in enumerate(engines.items()):
        def step(rpm: float, done: int, total: int, note: str, before: int = i * len(speeds)) -> None:
            on_point(rpm, before + done, len(engines) * total, note)

        curve = predict(engine, speeds=speeds, cell=CELL, workers=1, fidelity=FIDELITY[model or lesson.model],
                        on_point=step if on_point else None)
        if curve.failures:
            rpm, status = curve.failures[0]
            msg = f"lesson {lesson.key!r}, {label!r}: {status} at {rpm:g} rpm"
            raise NotConverged(msg)
        found[label] = curve.dataset
    return found


def percent(value: float, base: float) -> float:
    """Change of ``value`` from ``base``, %."""
    return 100.0 * (value / base - 1.0)


def change(value: float, small: float = 0.3) -> str:
    """A change in percent in words.

    >>> change(2.04), change(-3.0), change(0.1)
    ('gains 2.0 %', 'loses 3.0 %', 'stays within 0.3 %')
    """
    if abs(value) < small:
        return f"stays within {small:.1f} %"
    return f"{'gains' if value > 0 else 'loses'} {abs(value):.1f} %"


def panel(title: str, y_label: str, found: dict[str, Dataset], name: str, factor: float = 1.0) -> Panel:
    """A variable of several curves over speed; per-cylinder values as their mean."""
    lines = []
    for label, dataset in found.items():
        values = dataset[name].mean("cylinder") if "cylinder" in dataset[name].dims else dataset[name]
        speeds, shown = dataset["speed"].values, factor * values.values
        lines.append(Line(label, tuple(map(float, speeds)), tuple(map(float, shown))))
    return Panel(title, "engine speed, rpm", y_label, tuple(lines))


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> tuple[tuple[str, ...], ...]:
    """Heads and rows as plain tuples."""
    return (tuple(heads), *(tuple(row) for row in rows))
