"""The pictures of a lesson's run: at most two panels of lines over a common axis."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bokeh.models import ColumnDataSource, Legend, LegendItem, MultiLine, Range1d, Scatter

from pullcast.show import look
from pullcast.show.lab.figures import INK, SANS, plain
from pullcast.show.lessons import Panel

COLOURS = (look.BLUE, look.VERMILION, look.GREEN, look.BLACK, look.PURPLE, look.SKY)
DASHES = ("solid", "dashed", "dotted", "dashdot", "dotdash", "solid")
LINES = {"xs": [], "ys": [], "colour": [], "dash": []}
MARKS = {"x": [], "y": [], "colour": []}


class _Picture:
    """One panel on the page, redrawn for each run."""

    def __init__(self) -> None:
        self._x, self._y = Range1d(0, 1), Range1d(0, 1)
        self.figure = plain("", "", height=280, x_range=self._x, y_range=self._y)
        self._lines, self._marks = ColumnDataSource(LINES), ColumnDataSource(MARKS)
        self._drawn = self.figure.add_glyph(self._lines, MultiLine(
            xs="xs", ys="ys", line_color="colour", line_dash="dash", line_width=2.4))
        self.figure.add_glyph(self._marks, Scatter(x="x", y="y", fill_color="colour", line_color="colour", size=6))
        self._legend = Legend(items=[], border_line_color=None, background_fill_alpha=0.0, padding=0, spacing=16,
                              ncols=2, label_text_font=SANS, label_text_font_size="12px", label_text_color=INK)
        self.figure.add_layout(self._legend, "below")

    def show(self, panel: Panel) -> None:
        self.figure.xaxis.axis_label, self.figure.yaxis.axis_label = panel.x_label, panel.y_label
        lines = panel.lines[:len(COLOURS)]
        self._lines.data = {"xs": [[] if x.points else list(x.x) for x in lines],
                            "ys": [[] if x.points else list(x.y) for x in lines],
                            "colour": list(COLOURS[:len(lines)]), "dash": list(DASHES[:len(lines)])}
        self._marks.data = {"x": [v for x in lines for v in x.x], "y": [v for x in lines for v in x.y],
                            "colour": [c for x, c in zip(lines, COLOURS, strict=False) for _ in x.x]}
        self._legend.items = [LegendItem(label=x.label, renderers=[self._drawn], index=k)
                              for k, x in enumerate(lines)]
        _fit(self._x, self._marks.data["x"])
        _fit(self._y, self._marks.data["y"])


class LessonFigures:
    """``a`` and ``b``: six lines each at most, named under the picture."""

    def __init__(self) -> None:
        self._pictures = (_Picture(), _Picture())
        self.a, self.b = (p.figure for p in self._pictures)

    def show(self, panels: Sequence[Panel]) -> None:
        """Draw the panels of a run."""
        for picture, panel in zip(self._pictures, panels, strict=False):
            picture.show(panel)


def _fit(span: Range1d, values: Sequence[float]) -> None:
    """A span around values, with room."""
    good = [v for v in values if math.isfinite(v)]
    if good:
        room = 0.06 * ((max(good) - min(good)) or abs(max(good)) or 1.0)
        span.update(start=min(good) - room, end=max(good) + room)
