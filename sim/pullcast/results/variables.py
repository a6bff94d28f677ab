"""Every variable of a predicted curve: name, unit, meaning, shape, and how it is shown. The one table.

The Dataset attributes, the columns of the terminal tables, the CSV headers, the JSON keys and the reference
printed by ``pullcast predict --keys`` all come from ``VARIABLES``. Numbers are stored in SI; a ``Shown`` says how
a number appears in one of the two display systems, "si" (the trade's SI) and "us".

The factors come from ``pullcast.units``.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass

import numpy as np

from pullcast.errors import InputError
from pullcast.units import HP, IN, LB, LBF, MERCURY_INCH, PSI

SYSTEMS = ("si", "us")
DIMENSIONS = {
    "speed": "crankshaft speed, rpm",
    "cylinder": "cylinder number, from 1",
    "station": "pipe and distance from its start",
    "angle": "crank angle of the cylinder itself, deg, 0 at its gas-exchange (overlap) top dead centre",
}
ANGLES = 720  # samples of a trace: 0, 1, ... 719 deg

_FOOT = 12 * IN


@dataclass(frozen=True)
class Shown:
    """How a number is shown: ``shown = stored * factor + offset`` with ``digits`` decimals.

    ``label`` is for people, ``suffix`` ends keys of JSON and CSV (empty for pure numbers).
    """

    label: str
    suffix: str
    factor: float
    digits: int
    offset: float = 0.0


@dataclass(frozen=True)
class Variable:
    """One variable: ``units`` are those stored (SI; crank angles in deg)."""

    name: str
    units: str
    long_name: str
    head: str  # short column head
    dims: tuple[str, ...]
    si: Shown
    us: Shown
    kind: str = "float"  # or "int", "bool", "str"
    trace: bool = False

    def shown(self, system: str) -> Shown:
        """The display of this variable in "si" or "us"."""
        if system not in SYSTEMS:
            msg = f"units {system!r} are not known: use si or us"
            raise InputError(msg)
        return self.si if system == "si" else self.us

    def key(self, system: str) -> str:
        """The key in JSON and CSV: the name with the unit, as ``torque_Nm``."""
        suffix = self.shown(system).suffix
        return f"{self.name}_{suffix}" if suffix else self.name

    def convert(self, values, system: str):
        """Stored numbers (any shape) as shown in ``system``; texts, counts and truths unchanged."""
        if self.kind != "float":
            return values
        shown = self.shown(system)
        return np.asarray(values, dtype=float) * shown.factor + shown.offset


_TORQUE = (Shown("N m", "Nm", 1.0, 1), Shown("lb-ft", "lbft", 1 / (LBF * _FOOT), 1))
_POWER = (Shown("kW", "kW", 1e-3, 1), Shown("hp", "hp", 1 / HP, 1))
_MEP = (Shown("bar", "bar", 1e-5, 2), Shown("psi", "psi", 1 / PSI, 1))
_PEAK = (Shown("bar", "bar", 1e-5, 1), Shown("psi", "psi", 1 / PSI, 0))
_AIR = (Shown("kPa", "kPa", 1e-3, 2), Shown("inHg", "inHg", 1 / MERCURY_INCH, 2))
_FINE = (Shown("kPa", "kPa", 1e-3, 3), Shown("psi", "psi", 1 / PSI, 4))
_TEMPERATURE = (Shown("°C", "degC", 1.0, 0, -273.15), Shown("°F", "degF", 1.8, 0, -459.67))
_FLOW = (Shown("g/s", "g_per_s", 1e3, 1), Shown("lb/h", "lb_per_h", 3600 / LB, 0))
_BSFC = (Shown("g/kWh", "g_per_kWh", 3.6e9, 0), Shown("lb/hp-h", "lb_per_hph", HP * 3600 / LB, 3))
_MASS = (Shown("mg", "mg", 1e6, 0), Shown("mg", "mg", 1e6, 0))
_PERCENT = (Shown("%", "pct", 100.0, 1), Shown("%", "pct", 100.0, 1))
_ANGLE = (Shown("deg", "deg", 1.0, 1), Shown("deg", "deg", 1.0, 1))
_NUMBER = (Shown("", "", 1.0, 2), Shown("", "", 1.0, 2))
_RATIO = (Shown("", "", 1.0, 3), Shown("", "", 1.0, 3))
_SMALL = (Shown("", "", 1.0, 14), Shown("", "", 1.0, 14))
_SPEED = (Shown("m/s", "m_per_s", 1.0, 1), Shown("ft/min", "ft_per_min", 60 / _FOOT, 0))
_LIFT = (Shown("mm", "mm", 1e3, 3), Shown("in", "in", 1 / IN, 4))
_COUNT = (Shown("", "", 1.0, 0), Shown("", "", 1.0, 0))

_S, _C, _T = ("speed",), ("speed", "cylinder"), ("speed", "cylinder", "angle")
_D = ("speed", "station", "angle")


def _table() -> tuple[Variable, ...]:
    v = Variable
    return (
        v("torque", "N m", "brake torque", "torque", _S, *_TORQUE),
        v("power", "W", "brake power", "power", _S, *_POWER),
        v("volumetric_efficiency", "1", "volumetric efficiency: fresh air per cycle over swept volume at the "
          "reference density", "VE", _S, *_PERCENT),
        v("bmep", "Pa", "brake mean effective pressure", "BMEP", _S, *_MEP),
        v("imep", "Pa", "net indicated mean effective pressure (whole cycle)", "IMEP", _S, *_MEP),
        v("gross_imep", "Pa", "gross indicated mean effective pressure (compression and expansion strokes)",
          "IMEP gross", _S, *_MEP),
        v("pmep", "Pa", "pumping mean effective pressure (net less gross; negative when pumping costs work)",
          "PMEP", _S, *_MEP),
        v("fmep", "Pa", "friction mean effective pressure, accessories included", "FMEP", _S, *_MEP),
        v("bsfc", "kg/J", "brake specific fuel consumption", "BSFC", _S, *_BSFC),
        v("airflow", "kg/s", "air taken in by the engine", "airflow", _S, *_FLOW),
        v("fuel_flow", "kg/s", "fuel taken in by the engine", "fuel", _S, *_FLOW),
        v("trapped_mass", "kg", "gas in the cylinder when the intake valve closes", "trapped", _C, *_MASS),
        v("residual_fraction", "1", "burned gas of earlier cycles in the trapped gas, by mass", "residual", _C,
          *_PERCENT),
        v("plenum_pressure", "Pa", "mean pressure in the plenum, absolute", "plenum", _S, *_AIR),
        v("plenum_temperature", "K", "temperature in the plenum as the cycle ends", "plenum", _S, *_TEMPERATURE),
        v("peak_pressure", "Pa", "highest cylinder pressure, absolute", "peak p", _C, *_PEAK),
        v("ca50", "deg", "angle of half burned after firing top dead centre", "CA50", _S, *_ANGLE),
        v("spark", "deg", "spark before firing top dead centre", "spark", _S, *_ANGLE),
        v("knock_integral", "1", "knock integral: end gas ignites by itself at 1", "knock", _C, *_NUMBER),
        v("injector_duty", "1", "share of the cycle the injectors are open", "inj duty", _S, *_PERCENT),
        v("port_mach_mean", "1", "mean Mach number at the intake port's valve end while the valve is open",
          "port M", _C, *_NUMBER),
        v("port_mach_max", "1", "highest Mach number at the intake port's valve end", "port M max", _C, *_NUMBER),
        v("mean_piston_speed", "m/s", "mean piston speed", "piston", _S, *_SPEED),
        v("inlet_mach_index", "1", "inlet Mach index Z (Taylor)", "Z", _S, *_NUMBER),
        v("heat_loss", "W", "heat from the gas to the cylinder walls, all cylinders", "heat loss", _S, *_POWER),
        v("exhaust_temperature", "K", "mass-averaged temperature of the gas leaving the exhaust valves", "exhaust",
          _S, *_TEMPERATURE),
        v("cycles", "1", "cycles marched", "cycles", _S, *_COUNT, kind="int"),
        v("converged", "1", "the point repeats from cycle to cycle within its tolerances", "conv.", _S, *_COUNT,
          kind="bool"),
        v("mass_residual", "1", "mass not accounted for over a cycle, by mass put through", "mass residual", _S,
          *_SMALL),
        v("energy_residual", "1", "energy not accounted for over a cycle, by energy put through", "energy residual",
          _S, *_SMALL),
        v("status", "1", "how the point ended, in words", "status", _S, *_COUNT, kind="str"),
        v("cylinder_pressure", "Pa", "cylinder pressure, absolute", "cylinder p", _T, *_FINE, trace=True),
        v("cylinder_temperature", "K", "mean temperature of the gas in the cylinder", "cylinder T", _T,
          *_TEMPERATURE, trace=True),
        v("cylinder_mass", "kg", "gas in the cylinder", "cylinder mass", _T, *_MASS, trace=True),
        v("intake_mass_flow", "kg/s", "flow through the intake valves, positive into the cylinder", "intake flow",
          _T, *_FLOW, trace=True),
        v("exhaust_mass_flow", "kg/s", "flow through the exhaust valves, positive out of the cylinder",
          "exhaust flow", _T, *_FLOW, trace=True),
        v("intake_port_pressure", "Pa", "pressure in the intake port at the valve, absolute", "intake port p", _T,
          *_FINE, trace=True),
        v("exhaust_port_pressure", "Pa", "pressure in the exhaust port at the valve, absolute", "exhaust port p",
          _T, *_FINE, trace=True),
        v("intake_port_mach", "1", "Mach number in the intake port at the valve, positive into the cylinder",
          "intake Mach", _T, *_RATIO, trace=True),
        v("intake_lift", "m", "lift of the intake valves", "intake lift", _T, *_LIFT, trace=True),
        v("exhaust_lift", "m", "lift of the exhaust valves", "exhaust lift", _T, *_LIFT, trace=True),
        v("station_pressure", "Pa", "pressure in a pipe, absolute; angle is that of the first cylinder to fire",
          "station p", _D, *_FINE, trace=True),
        v("station_velocity", "m/s", "gas velocity in a pipe, positive from its start to its end", "station u", _D,
          *_SPEED, trace=True),
        v("station_temperature", "K", "gas temperature in a pipe", "station T", _D, *_TEMPERATURE, trace=True),
    )


VARIABLES: dict[str, Variable] = {variable.name: variable for variable in _table()}


def variable(name: str) -> Variable:
    """The variable of this name. Raises InputError offering the nearest names.

    >>> variable("torque").key("us"), variable("bsfc").key("si")
    ('torque_lbft', 'bsfc_g_per_kWh')
    """
    if name in VARIABLES:
        return VARIABLES[name]
    near = difflib.get_close_matches(name, VARIABLES, n=3)
    hint = f"did you mean {' or '.join(near)}?" if near else "pullcast predict --keys lists them."
    msg = f"no result is called {name!r}: {hint}"
    raise InputError(msg)


def keys_reference(system: str = "si") -> str:
    """A markdown table of every key of the JSON and CSV outputs with its meaning and shape."""
    lines = ["| key | meaning | per |", "|---|---|---|", "| speed_rpm | crankshaft speed | speed |"]
    lines += [f"| {v.key(system)} | {v.long_name} | {', '.join(v.dims)} |" for v in VARIABLES.values()]
    return "\n".join(lines)
