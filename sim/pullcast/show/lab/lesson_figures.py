"""The pictures of a lesson's run: at most two panels of lines over a common axis."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bokeh.models import ColumnDataSource, Legend, LegendItem, Range1d

from pullcast.show import look
from pullcast.show.lab.figures import INK, SANS, plain
from pullcast.show.lessons import Panel

COLOURS = (look.BLUE, look.VERMILION, look.GREEN, look.BLACK, look.PURPLE, look.SKY)
DASHES = ("solid", "dashed", "dotted", "dashdot", "dotdash", "solid")


class LessonFigures:
    """``a`` and ``b``: six lines each at most, named under the picture."""

    def __init__(self) -> None:
        self._spans = [(Range1d(0, 1), Range1d(0, 1)) for _ in range(2)]
        self.a, self.b = (plain("", "", height=280, x_range=x, y_range=y) for x, y in self._spans)
        self._lines = [[self._line(f, k) for k in range(len(COLOURS))] for f in (self.a, self.b)]
        self._legends = [self._legend(f) for f in (self.a, self.b)]

    @staticmethod
    def _line(made, k: int):
        source = ColumnDataSource({"x": [], "y": []})
        line = made.line("x", "y", source=source, color=COLOURS[k], line_dash=DASHES[k], line_width=2.4)
        dots = made.scatter("x", "y", source=source, color=COLOURS[k], size=6)
        return source, line, dots

    @staticmethod
    def _legend(made) -> Legend:
        legend = Legend(items=[], border_line_color=None, background_fill_alpha=0.0, padding=0, spacing=0, ncols=2,
                        label_text_font=SANS, label_text_font_size="12px", label_text_color=INK)
        made.add_layout(legend, "below")
        return legend

    def show(self, panels: Sequence[Panel]) -> None:
        """Draw the panels of a run."""
        drawn = zip((self.a, self.b), self._lines, self._legends, self._spans, panels, strict=False)
        for made, lines, legend, spans, panel in drawn:
            _fit(spans[0], [x for line in panel.lines for x in line.x])
            _fit(spans[1], [y for line in panel.lines for y in line.y])
            made.xaxis.axis_label, made.yaxis.axis_label = panel.x_label, panel.y_label
            items = []
            for k, (source, line, dots) in enumerate(lines):
                known = k < len(panel.lines)
                drawn = panel.lines[k] if known else None
                source.data = {"x": list(drawn.x), "y": list(drawn.y)} if known else {"x": [], "y": []}
                line.visible = known and not drawn.points
                dots.visible = known
                if known:
                    items.append(LegendItem(label=drawn.label, renderers=[line if line.visible else dots]))
            legend.items = items


def _fit(span: Range1d, values: Sequence[float]) -> None:
    """A span around values, with room."""
    good = [v for v in values if math.isfinite(v)]
    if good:
        room = 0.06 * ((max(good) - min(good)) or abs(max(good)) or 1.0)
        span.update(start=min(good) - room, end=max(good) + room)
