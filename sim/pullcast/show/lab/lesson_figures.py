"""The pictures of a lesson's run: at most two panels of lines over a common axis."""

from __future__ import annotations

from collections.abc import Sequence

from bokeh.models import ColumnDataSource, Legend, LegendItem

from pullcast.show import look
from pullcast.show.lab.figures import INK, SANS, plain
from pullcast.show.lessons import Panel

COLOURS = (look.BLUE, look.VERMILION, look.GREEN, look.BLACK, look.PURPLE, look.SKY)
DASHES = ("solid", "dashed", "dotted", "dashdot", "dotdash", "solid")


class LessonFigures:
    """``a`` and ``b``: six lines each at most, named under the picture."""

    def __init__(self) -> None:
        self.a, self.b = plain("", "", height=280), plain("", "", height=280)
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
        for made, lines, legend, panel in zip((self.a, self.b), self._lines, self._legends, panels, strict=False):
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
