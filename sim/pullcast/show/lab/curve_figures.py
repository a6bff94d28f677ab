"""The page's curve over speed with the base as a ghost, and the difference between the two."""

from __future__ import annotations

import numpy as np
from bokeh.models import ColumnDataSource, Range1d, Span

from pullcast.results.variables import variable
from pullcast.show import look
from pullcast.show.lab.figures import DASH, area, at_rest, calm, dots, line, plain
from pullcast.show.lab.readings import Curve

SHORT = {"torque": "torque", "power": "power", "volumetric_efficiency": "VE", "bmep": "BMEP", "bsfc": "BSFC"}
SHOWN = {"torque": "torque", "power": "power", "volumetric_efficiency": "volumetric efficiency",
         "bmep": "brake mean effective pressure", "bsfc": "specific fuel consumption"}
NOISE = 0.003  # of the base: closer than this the two are the same (default cells are within 0.3 % of fine ones)
EMPTY = {"rpm": [], "now": [], "base": [], "diff": [], "up": [], "down": [], "noise": [], "less": []}


class CurveFigures:
    """``curve`` and ``difference``, both over the same speeds."""

    def __init__(self) -> None:
        self.speeds = Range1d(1000, 7000)
        self._y, self._dy = Range1d(0, 1), Range1d(-1, 1)
        self._strong = ColumnDataSource(EMPTY, name="curve-data")
        self._weak = ColumnDataSource({"rpm": [], "now": []}, name="weak-data")
        self._points = ColumnDataSource({"rpm": [], "now": []}, name="points-data")
        self._at = Span(location=0, dimension="height", line_color=look.GREY, line_dash="dotted")
        self.curve, self.difference = self._make_curve(), self._make_difference()

    def _make_curve(self):
        made = plain("engine speed, rpm", "", height=330, x_range=self.speeds, y_range=self._y)
        line(made, self._weak, "rpm", "now", look.BLUE, 1.5, "dotted")
        line(made, self._strong, "rpm", "base", look.GREY, 2, DASH)
        curve = line(made, self._strong, "rpm", "now", look.BLUE, 3)
        dots(made, self._points, "rpm", "now", look.BLUE, 7)
        made.add_layout(self._at)
        at_rest(made, curve, tips=[("rpm", "@rpm{0}"), ("now", "@now{0.0}"), ("base", "@base{0.0}")])
        return made

    def _make_difference(self):
        made = plain("engine speed, rpm", "", height=190, x_range=self.speeds, y_range=self._dy)
        area(made, self._strong, "rpm", "less", "noise", look.FAINT, 0.9)
        area(made, self._strong, "rpm", 0, "up", look.SKY, 0.45)
        area(made, self._strong, "rpm", "down", 0, look.VERMILION, 0.35)
        curve = line(made, self._strong, "rpm", "diff", look.BLACK, 2)
        made.add_layout(Span(location=0, dimension="width", line_color=look.GREY, line_width=1))
        at_rest(made, curve, tips=[("rpm", "@rpm{0}"), ("difference", "@diff{+0.0}")])
        return made

    def show(self, name: str, units: str, now: Curve, base: Curve, weak: Curve | None, points: Curve | None,
             rpm: float) -> None:
        """Draw a variable. ``now`` and ``base`` are of one model; ``weak`` is the other model's, ``points`` those of
        a run under way; ``rpm`` is the speed of the cycle pictures."""
        v = variable(name)
        a, b = (np.asarray(v.convert(c.column(name), units)) for c in (now, base))
        b = b if now.speeds.size == base.speeds.size and (now.speeds == base.speeds).all() else np.interp(
            now.speeds, base.speeds, b)
        diff = a - b
        self._strong.data = {
            "rpm": now.speeds, "now": a, "base": b, "diff": diff, "up": np.fmax(diff, 0.0),
            "down": np.fmin(diff, 0.0), "noise": NOISE * np.abs(b), "less": -NOISE * np.abs(b)}
        self._weak.data = _pairs(weak, name, units)
        self._points.data = _pairs(points, name, units)
        label = v.shown(units).label
        self.curve.yaxis.axis_label = f"{SHOWN[name]}, {label}"
        self.difference.yaxis.axis_label = f"now less base, {label}"
        self.speeds.update(start=float(now.speeds[0]) - 60, end=float(now.speeds[-1]) + 60)
        everything = np.concatenate([a, b, self._weak.data["now"], self._points.data["now"]])
        calm(self._y, everything)
        calm(self._dy, diff, least=4 * NOISE * float(np.nanmax(np.abs(b), initial=1e-9)))
        self._at.location = rpm

    def clear(self) -> None:
        """Forget what is drawn, so that the next drawing is sent whole."""
        self._strong.data = dict(EMPTY)
        for source in (self._weak, self._points):
            source.data = {"rpm": [], "now": []}
        for span in (self.speeds, self._y, self._dy):
            span.update(start=0.0, end=1e-3)

    def show_points(self, name: str, units: str, points: Curve) -> None:
        """Draw the points of a run under way."""
        self._points.data = _pairs(points, name, units)
        calm(self._y, np.concatenate([self._points.data["now"], self._strong.data["now"], self._strong.data["base"]]))


def _pairs(curve: Curve | None, name: str, units: str) -> dict[str, np.ndarray]:
    if curve is None:
        return {"rpm": np.zeros(0), "now": np.zeros(0)}
    return {"rpm": curve.speeds, "now": np.asarray(variable(name).convert(curve.column(name), units))}
