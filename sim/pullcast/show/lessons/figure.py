"""The pictures of a lesson's run, for paper and screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pullcast.show.lessons.lesson import Lesson, LessonResult, Panel
from pullcast.show.look import BLACK, BLUE, DASHES, GREEN, PURPLE, SKY, STYLE, VERMILION, quiet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = (BLUE, VERMILION, GREEN, PURPLE, SKY, BLACK)
MARKERS = ("o", "s", "^", "D", "v", "x")


def lesson_figure(lesson: Lesson, result: LessonResult) -> Figure:
    """The panels of a run side by side, with the lesson's title."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context(STYLE):
        n = len(result.panels)
        figure = Figure(figsize=(4.4 * n + 0.4 * (n == 1), 3.4), layout="constrained", facecolor="white")
        for ax, panel in zip(figure.subplots(1, n, squeeze=False)[0], result.panels, strict=True):
            draw(ax, panel)
        figure.suptitle(lesson.title, x=0.01, ha="left", fontsize=12, fontweight="bold", color=BLACK)
    return figure


def draw(ax: Axes, panel: Panel) -> None:
    """One panel into an axes; lines differ in colour, dash and marker."""
    many = max(len(line.x) for line in panel.lines) > 30
    for i, line in enumerate(panel.lines):
        ax.plot(line.x, line.y, color=COLOURS[i % 6], label=line.label,
                linestyle="" if line.points else DASHES[i % 4],
                marker="" if many and not line.points else MARKERS[i % 6], markersize=4.5)
    quiet(ax)
    ax.set_title(panel.title, loc="left", fontsize=9.5, color=BLACK)
    ax.set_xlabel(panel.x_label)
    ax.set_ylabel(panel.y_label)
    ax.margins(y=0.08)
    if len(panel.lines) > 1:
        ax.legend(frameon=False, fontsize=7.5, loc="best", handlelength=2.6)
