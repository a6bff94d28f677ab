"""Pictures of one cylinder over one cycle: valve events, pressures, flows, the loop, waves in the tract."""

from __future__ import annotations

import numpy as np
from bokeh.models import (
    ColorBar,
    ColumnDataSource,
    FixedTicker,
    Image,
    LinearColorMapper,
    NumeralTickFormatter,
    Range1d,
    Span,
)
from bokeh.palettes import Cividis256

from pullcast.results.variables import variable
from pullcast.show import look
from pullcast.show.lab.figures import DASH, INK, SANS, area, at_rest, calm, line, over_crank, plain
from pullcast.show.lab.readings import ANGLES, Cycle
from pullcast.units import IN

TRACES = ("intake_lift", "exhaust_lift", "intake_port_pressure", "exhaust_port_pressure", "cylinder_pressure",
          "intake_mass_flow", "exhaust_mass_flow")
COLUMNS = ("angle", "both", "volume", "loop", *TRACES)
ROWS = 48  # rows of the wave picture: places between the stations are on a straight line
UNIT_OF = {"lift": "intake_lift", "pressure": "intake_port_pressure", "flow": "intake_mass_flow",
           "high": "peak_pressure", "length": "intake_lift"}  # a variable that is shown in the figure's unit
VOLUME = {"si": ("cm³", 1e6), "us": ("in³", 1 / IN**3)}
SEAT = 5e-5  # m: lifts above it count as open in the picture of the overlap


class CycleFigures:
    """``lifts``, ``pressures``, ``flows``, ``loop`` and ``waves``."""

    def __init__(self, units: str = "si") -> None:
        self._units, self._in = units, {kind: variable(name).shown(units) for kind, name in UNIT_OF.items()}
        self._x = Range1d(360, 1080)
        self._now = ColumnDataSource({n: [] for n in COLUMNS}, name="cycle-data")
        self._base = ColumnDataSource({n: [] for n in COLUMNS})
        self._p, self._q, self._lift = Range1d(50, 150), Range1d(-1, 1), Range1d(-0.3, 12)
        self._outside = Span(location=100, dimension="width", line_color=look.GREY, line_dash="dotted")
        self._v, self._bar = Range1d(50, 1000), Range1d(0.3, 100)
        self._image = ColumnDataSource({"p": [], "dw": [], "dh": []}, name="waves-data")
        self._colour = LinearColorMapper(palette=Cividis256, low=80, high=120)
        self._far = Range1d(0, 300)
        self.lifts, self.pressures, self.flows = self._make_lifts(), self._make_pressures(), self._make_flows()
        self.loop, self.waves = self._make_loop(), self._make_waves()

    def _lines(self, made, *parts: tuple[str, str, list | str]):
        """Lines of the cycle now, each with its colour and dash."""
        return [line(made, self._now, "angle", name, colour, 2.2, dash) for name, colour, dash in parts]

    def _ghost(self, made, *names: str) -> None:
        for name in names:
            line(made, self._base, "angle", name, look.GREY, 1.3, [3, 3])

    def _at_rest(self, made, renderer, kind: str, *named: tuple[str, str]) -> None:
        """Numbers under the pointer, with the figure's unit and a digit for each of a hundredth of it."""
        label, digits = self._in[kind].label, {"in": 3, "mm": 2, "psi": 2}.get(self._in[kind].label, 1)
        at_rest(made, renderer, tips=[(name, f"@{column}{{0.{'0' * digits}}} {label}") for name, column in named])

    def _make_lifts(self):
        made = over_crank(f"valve lift, {self._in['lift'].label}", self._x, height=220, y_range=self._lift)
        area(made, self._now, "angle", 0, "both", look.PURPLE, 0.35, hatch_pattern="/", hatch_color=look.PURPLE,
             hatch_scale=8)
        self._ghost(made, "intake_lift", "exhaust_lift")
        lines = self._lines(made, ("intake_lift", look.BLUE, "solid"), ("exhaust_lift", look.VERMILION, DASH))
        self._at_rest(made, lines[0], "lift", ("intake", "intake_lift"), ("exhaust", "exhaust_lift"))
        return made

    def _make_pressures(self):
        made = over_crank(f"pressure, {self._in['pressure'].label}", self._x, height=270, y_range=self._p)
        self._ghost(made, "intake_port_pressure", "exhaust_port_pressure")
        lines = self._lines(made, ("cylinder_pressure", look.BLACK, [2, 2]),
                            ("exhaust_port_pressure", look.VERMILION, DASH),
                            ("intake_port_pressure", look.BLUE, "solid"))
        made.add_layout(self._outside)
        self._at_rest(made, lines[2], "pressure", ("intake port", "intake_port_pressure"),
                      ("exhaust port", "exhaust_port_pressure"), ("cylinder", "cylinder_pressure"))
        return made

    def _make_flows(self):
        made = over_crank(f"flow at the valves, {self._in['flow'].label}", self._x, height=220, y_range=self._q)
        self._ghost(made, "intake_mass_flow", "exhaust_mass_flow")
        lines = self._lines(made, ("intake_mass_flow", look.BLUE, "solid"),
                            ("exhaust_mass_flow", look.VERMILION, DASH))
        made.add_layout(Span(location=0, dimension="width", line_color=look.GREY))
        self._at_rest(made, lines[0], "flow", ("into the cylinder", "intake_mass_flow"),
                      ("out of it", "exhaust_mass_flow"))
        return made

    def _make_loop(self):
        made = plain(f"cylinder volume, {VOLUME[self._units][0]}", f"cylinder pressure, {self._in['high'].label}",
                     height=330, x_axis_type="log", y_axis_type="log", x_range=self._v, y_range=self._bar)
        line(made, self._base, "volume", "loop", look.GREY, 1.3, [3, 3])
        line(made, self._now, "volume", "loop", look.BLUE, 2.2)
        made.xgrid.grid_line_color = look.FAINT
        for axis in (made.xaxis, made.yaxis):
            axis.ticker = FixedTicker(ticks=[m * 10.0**k for k in range(-2, 4) for m in (1, 2, 5)])
            axis.formatter = NumeralTickFormatter(format="0[.]0")
        return made

    def _make_waves(self):
        made = over_crank(f"from the tract's mouth, {self._in['length'].label}", self._x, height=300,
                          y_range=self._far)
        made.add_glyph(self._image, Image(image="p", x=360, y=0, dw="dw", dh="dh", color_mapper=self._colour))
        made.ygrid.grid_line_color = None
        bar = ColorBar(color_mapper=self._colour, title=self._in["pressure"].label, width=12, padding=2,
                       title_text_font=SANS, major_label_text_font=SANS, title_text_font_style="normal",
                       title_text_color=INK,
                       major_label_text_color=INK, title_text_font_size="13px", major_label_text_font_size="13px")
        made.add_layout(bar, "right")
        return made

    def clear(self) -> None:
        """Forget what is drawn, so that the next drawing is sent whole."""
        for source in (self._now, self._base):
            source.data = {n: [] for n in COLUMNS}
        self._image.data = {"p": [], "dw": [], "dh": []}
        for span in (self._p, self._q, self._lift, self._v, self._bar, self._far):
            span.update(start=1.0, end=1.001)
        self._colour.update(low=0.0, high=1e-3)

    def show(self, now: Cycle, base: Cycle | None, outside: float) -> None:
        """Draw a cycle and the base's as a ghost; ``outside`` is the air's pressure, Pa."""
        self._now.data = self._columns(now)
        self._base.data = self._columns(base) if base is not None else {n: [] for n in COLUMNS}
        self._outside.location = outside * self._in["pressure"].factor
        d = self._now.data
        ports = np.concatenate([d["intake_port_pressure"], d["exhaust_port_pressure"]])
        calm(self._p, ports, room=0.15)
        calm(self._q, np.concatenate([d["intake_mass_flow"], d["exhaust_mass_flow"]]))
        self._v.update(start=0.9 * float(d["volume"].min()), end=1.1 * float(d["volume"].max()))
        self._bar.update(start=0.85 * float(d["loop"].min()), end=1.25 * float(d["loop"].max()))
        top = max(d["intake_lift"].max(), d["exhaust_lift"].max())
        calm(self._lift, np.array([0.0, top]))
        self._show_waves(now)

    def _show_waves(self, cycle: Cycle) -> None:
        if not cycle.along.size:
            self._image.data = {"p": [], "dw": [], "dh": []}
            return
        length = cycle.along[0] + cycle.along[-1]  # stations lie half a spacing inside both ends
        places = (np.arange(ROWS) + 0.5) / ROWS * length
        rows = np.array([np.interp(places, cycle.along, column) for column in cycle.pressure.T[::2]]).T
        rows, length = rows * self._in["pressure"].factor, length * self._in["length"].factor
        self._colour.update(low=float(rows.min()), high=float(rows.max()))
        self._far.update(start=0.0, end=length)
        self._image.data = {"p": [rows.astype(np.float32)], "dw": [720], "dh": [length]}


    def _columns(self, cycle: Cycle) -> dict[str, np.ndarray]:
        """Traces as shown, the lift both valves have, and the cycle's loop."""
        made = {n: np.asarray(variable(n).convert(cycle.traces[n], self._units), dtype=np.float32) for n in TRACES}
        both = np.minimum(cycle.traces["intake_lift"], cycle.traces["exhaust_lift"])
        made["both"] = np.where(both > SEAT, both * self._in["lift"].factor, 0.0).astype(np.float32)
        made["angle"] = ANGLES.astype(np.float32)
        made["volume"] = (cycle.volume * VOLUME[self._units][1]).astype(np.float32)
        made["loop"] = (cycle.traces["cylinder_pressure"] * self._in["high"].factor).astype(np.float32)
        return made
