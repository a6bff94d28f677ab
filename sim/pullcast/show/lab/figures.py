"""What the page's figures share: their look, their axes, and spans that do not jump."""

from __future__ import annotations

import numpy as np
from bokeh.models import ColumnDataSource, FixedTicker, HoverTool, Line, Range1d, Scatter, Span, VArea
from bokeh.plotting import figure

from pullcast.show import look

SANS = "'Segoe UI', 'Noto Sans', 'DejaVu Sans', Helvetica, Arial, sans-serif"
INK, PALE = "#222222", "#B8B8B8"
DASH = [7, 4]
MARKS = {360: "firing TDC", 540: "BDC", 720: "overlap TDC", 900: "BDC", 1080: "firing TDC"}


def plain(x_label: str, y_label: str, *, height: int, x_range: Range1d | None = None, **kwargs):
    """A figure without box and buttons: faint horizontal lines, ticks outside, labels in grey."""
    extra = {"x_range": x_range} if x_range is not None else {}
    made = figure(height=height, sizing_mode="stretch_both", toolbar_location=None, tools="", min_border=4,
                  background_fill_color="#FFFFFF", border_fill_color="#FFFFFF", outline_line_color=None, **extra,
                  **kwargs)
    made.xgrid.grid_line_color = None
    made.ygrid.grid_line_color = look.FAINT
    for axis, label in ((made.xaxis, x_label), (made.yaxis, y_label)):
        axis.axis_label = label
        axis.axis_line_color = axis.major_tick_line_color = look.GREY
        axis.minor_tick_line_color = None
        axis.major_tick_in = 0
        axis.axis_label_text_font_style = "normal"
        axis.axis_label_text_font = axis.major_label_text_font = SANS
        axis.axis_label_text_font_size = axis.major_label_text_font_size = "13px"
        axis.axis_label_text_color = axis.major_label_text_color = INK
    return made


def over_crank(y_label: str, x_range: Range1d, *, height: int, **kwargs):
    """A figure over one cycle from firing to firing, the dead centres named."""
    made = plain("", y_label, height=height, x_range=x_range, **kwargs)
    made.xaxis.ticker = FixedTicker(ticks=list(MARKS))
    made.xaxis.major_label_overrides = {a: f"{a % 720}°\n{name}" for a, name in MARKS.items()}
    for angle in (540, 720, 900):
        made.add_layout(Span(location=angle, dimension="height", line_color=look.FAINT, line_width=1,
                             level="underlay"))
    return made


def line(made, source: ColumnDataSource, x: str, y: str, colour: str, width: float, dash: list[int] | str = "solid"):
    """A line, added as a bare glyph: the plotting interface makes four of each, which a page waits for."""
    return made.add_glyph(source, Line(x=x, y=y, line_color=colour, line_width=width, line_dash=dash))


def dots(made, source: ColumnDataSource, x: str, y: str, colour: str, size: float):
    """Round marks."""
    return made.add_glyph(source, Scatter(x=x, y=y, size=size, fill_color=colour, line_color=colour))


def area(made, source: ColumnDataSource, x: str, low: str | float, high: str | float, colour: str, alpha: float,
         **kwargs):
    """The area between two curves."""
    return made.add_glyph(source, VArea(x=x, y1=low, y2=high, fill_color=colour, fill_alpha=alpha, **kwargs))


def at_rest(made, *renderers, tips: list[tuple[str, str]], mode: str = "vline") -> None:
    """Numbers under the pointer."""
    made.add_tools(HoverTool(renderers=list(renderers), tooltips=tips, mode=mode, point_policy="snap_to_data"))


def calm(span: Range1d, values: np.ndarray, *, room: float = 0.06, least: float = 0.0) -> None:
    """Set a span to hold ``values``; leave it as it is while they fit and fill more than half of it.

    ``least`` is the smallest half width about zero (for differences).
    """
    good = values[np.isfinite(values)]
    if not good.size:
        return
    low, high = float(good.min()), float(good.max())
    if least:
        low, high = min(low, -least), max(high, least)
    more = room * ((high - low) or abs(high) or 1.0)
    now = span.end - span.start
    if span.start <= low and high <= span.end and (high - low) > 0.5 * now:
        return
    span.update(start=low - more, end=high + more)
