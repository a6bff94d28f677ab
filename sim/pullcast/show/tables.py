"""A predicted curve as tables for a terminal of 80 columns."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from rich import box
from rich.console import Console, Group
from rich.table import Table
from rich.text import Text

from pullcast.results.curve import Curve
from pullcast.results.variables import Variable, variable
from pullcast.show import CAUTION

SHORT = ("torque", "power", "volumetric_efficiency", "bmep", "bsfc", "residual_fraction", "plenum_pressure",
         "peak_pressure", "knock_integral")
PULL = ("torque", "power", "volumetric_efficiency", "bmep", "imep", "pmep", "fmep", "bsfc", "airflow")
BESIDE = ("spark", "ca50", "residual_fraction", "plenum_pressure", "peak_pressure", "knock_integral",
          "port_mach_mean", "port_mach_max")
LIMITS = ("mean_piston_speed", "inlet_mach_index", "injector_duty", "fuel_flow", "trapped_mass",
          "exhaust_temperature", "heat_loss", "cycles")
HIGHEST = {"peak_pressure", "knock_integral", "port_mach_max"}  # over cylinders; the others are averaged
MORE = "Every other number of each speed: --full; as files: --out FOLDER."
NOTHING = "–"


def curve_view(curve: Curve, units: str = "si", full: bool = False) -> Group:
    """What ``pullcast predict`` prints: a sentence, one table (``full``: three), what did not converge, the books."""
    parts = [Text(curve.sentence(units), style="bold"), Text(reference(curve, units)), Text("")]
    parts += [columns(curve, names, units) for names in ((PULL, BESIDE, LIMITS) if full else (SHORT,))]
    parts += [Text(f"* {rpm:.0f} rpm: {status}") for rpm, status in curve.failures]
    parts += [Text(f"{rpm:.0f} rpm: {status}") for rpm, status in curve.remedied]
    parts += [Text(line) for line in (knocking(curve), books(curve), note(curve), "" if full else MORE) if line]
    return Group(*parts, Text(""), Text(CAUTION, style="dim"))


def columns(curve: Curve, names: Sequence[str], units: str = "si") -> Table:
    """A table over speed of the named variables; those the curve does not hold, or only as nan, are left out.

    Of values per cylinder the highest is shown for peaks and limits, else the mean. The highest torque and power
    stand in bold, a speed that did not converge carries a star.
    """
    shown = [(v, series(curve, v)) for v in map(variable, names) if v.name in curve.dataset]
    shown = [(v, s) for v, s in shown if np.isfinite(s).any()]
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, collapse_padding=True, header_style="")
    table.add_column("speed \nrpm ", justify="right", no_wrap=True)
    for v, _ in shown:
        table.add_column(f"{v.head}\n{v.shown(units).label}", justify="right", no_wrap=True)
    peaks = {"torque": curve.peak_torque, "power": curve.peak_power}
    good = curve.dataset["converged"].values
    for i, rpm in enumerate(curve.speeds):
        cells = [Text(f"{rpm:.0f}" + (" " if good[i] else "*"))]
        for v, s in shown:
            peak = peaks.get(v.name)
            style = "bold" if peak is not None and peak.rpm == rpm else ""
            cells.append(Text(cell(v, s[i], units), style=style))
        table.add_row(*cells)
    return table


def series(curve: Curve, v: Variable) -> np.ndarray:
    """The values of a variable over speed, stored units, cylinders reduced to their highest or mean."""
    values = curve.dataset[v.name].values.astype(float)
    if "cylinder" in v.dims:
        return values.max(axis=1) if v.name in HIGHEST else values.mean(axis=1)
    return values


def cell(v: Variable, value: float, units: str) -> str:
    """One number with the digits of its unit; a dash for none."""
    if not np.isfinite(value):
        return NOTHING
    if v.kind == "int":
        return f"{value:.0f}"
    return f"{float(v.convert(value, units)):.{v.shown(units).digits}f}"


def reference(curve: Curve, units: str = "si") -> str:
    """What VE refers to and how the curve was computed."""
    a = curve.dataset.attrs
    how = f"{a['fidelity']} model"
    if np.isfinite(a["cell"]):
        how += f", {a['cell'] * 1e3:g} mm cells"
    text = f"VE refers to air of {a['reference_density']:.4f} kg/m3. By the {how}, pullcast {a['version']}."
    spark = {"mbt": "best torque at each speed, knock not looked at",
             "knock-limited": "best torque at each speed, held back where the end gas would knock"}
    return text + (f" Spark: {spark[a['tune']]}." if a.get("tune") in spark else "")


def knocking(curve: Curve) -> str:
    """At which speeds the stated spark would knock, in words; "" if at none."""
    d = curve.dataset
    if "knock_integral" not in d:
        return ""
    worst = np.nan_to_num(d["knock_integral"].values.max(axis=1))
    where = curve.speeds[worst > 1.0]
    if not where.size:
        return ""
    span = f"{where[0]:.0f} rpm"
    if where.size > 1:
        span = f"{where.size} speeds from {span} to {where[-1]:.0f} rpm"
    return (f"Knock: the integral passes 1 at {span}; at this spark and fuel the engine would knock there, "
            "which the curve leaves out. pullcast tune finds a spark that does not.")


def books(curve: Curve) -> str:
    """How well mass and energy close at the converged points, in words."""
    d = curve.dataset
    if "mass_residual" not in d or "energy_residual" not in d or not d["converged"].values.any():
        return ""
    good = d["converged"].values
    mass, energy = (np.abs(d[n].values[good]).max() for n in ("mass_residual", "energy_residual"))
    return f"Over a cycle mass closes to {mass:.0e} and energy to {energy:.0e} of what passes through, at worst."


def note(curve: Curve) -> str:
    """The correction's formula and range, when the curve is corrected."""
    return curve.dataset.attrs.get("correction_note", "")


def console(stderr: bool = False, width: int | None = None) -> Console:
    """The terminal: at least 80 columns, plain when not a terminal."""
    made = Console(stderr=stderr, highlight=False, width=width)
    if width is None and made.width < 80:
        made = Console(stderr=stderr, highlight=False, width=80)
    return made
