"""The finished answer of a forecast: a full-load curve."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pullcast.errors import InputError, NotConverged
from pullcast.results import corrected, files
from pullcast.results.html import answer_html
from pullcast.results.variables import variable

if TYPE_CHECKING:
    import xarray

IN_HTML = ("torque", "power", "volumetric_efficiency", "bmep", "bsfc")


class Peak(NamedTuple):
    """The highest computed point: ``value`` in stored units (N m or W), at ``rpm``."""

    value: float
    rpm: float


@dataclass(frozen=True, eq=False, repr=False)
class Curve:
    """A predicted full-load curve; ``dataset`` holds every number with units and provenance.

    Peaks are the highest converged points as computed, not interpolated between speeds. Averages refuse a band with a
    point that did not converge.
    """

    dataset: xarray.Dataset

    @classmethod
    def load(cls, path: str | Path) -> Curve:
        """Read a curve saved as netCDF; errors as in ``pullcast.results.files.load_dataset``."""
        return cls(files.load_dataset(path))

    def save(self, path: str | Path, units: str = "si") -> Path:
        """Write the curve: ``.nc`` (everything) or ``.csv`` (one row per speed, in ``units``)."""
        suffix = Path(path).suffix.lower()
        if suffix == ".nc":
            return files.save_dataset(self.dataset, path)
        if suffix == ".csv":
            return files.save_csv(self.dataset, path, units)
        msg = f"{path}: a curve is saved as .nc or .csv, not {suffix or 'without a suffix'}"
        raise InputError(msg)

    def corrected(self, factor: float, basis: str, note: str = "") -> Curve:
        """The curve with brake torque, power and BMEP corrected to a named basis."""
        return Curve(corrected.corrected(self.dataset, factor, basis, note))

    @property
    def name(self) -> str:
        """Name of the engine."""
        return self.dataset.attrs["engine"]

    @property
    def basis(self) -> str:
        """"observed" or the basis corrected to."""
        return self.dataset.attrs["basis"]

    @property
    def speeds(self) -> np.ndarray:
        """Speeds, rpm."""
        return self.dataset["speed"].values

    @property
    def converged(self) -> bool:
        """True when every point converged."""
        return bool(self.dataset["converged"].values.all())

    @property
    def failures(self) -> tuple[tuple[float, str], ...]:
        """(rpm, status) of every point that did not converge."""
        d = self.dataset
        return tuple((float(rpm), str(status)) for rpm, good, status in
                     zip(d["speed"].values, d["converged"].values, d["status"].values, strict=True) if not good)

    @property
    def remedied(self) -> tuple[tuple[float, str], ...]:
        """(rpm, status) of every converged point that broke down at the usual time step and took a smaller one."""
        d = self.dataset
        return tuple((float(rpm), str(status)) for rpm, good, status in
                     zip(d["speed"].values, d["converged"].values, d["status"].values, strict=True)
                     if good and "time step" in str(status))

    @property
    def peak_torque(self) -> Peak | None:
        """Highest brake torque of the converged points, N m; None when none converged."""
        return self._peak("torque")

    @property
    def peak_power(self) -> Peak | None:
        """Highest brake power of the converged points, W; None when none converged."""
        return self._peak("power")

    def _peak(self, name: str) -> Peak | None:
        values = np.where(self.dataset["converged"].values, self.dataset[name].values, np.nan)
        if not np.isfinite(values).any():
            return None
        k = int(np.nanargmax(values))
        return Peak(float(values[k]), float(self.speeds[k]))

    def band_average(self, name: str, low: float, high: float) -> float:
        """Mean of a variable over the band from ``low`` to ``high`` rpm, in stored units.

        The mean of the straight-line curve through the points, every rpm counting alike. Variables per cylinder are
        first averaged over cylinders. Raises InputError when the band leaves the computed speeds, NotConverged
        when a point it rests on did not converge.
        """
        rpm, values = self.speeds, self._over_speed(name)
        if not low < high or low < rpm[0] or high > rpm[-1]:
            msg = (f"the band {low:g} to {high:g} rpm must rise and lie within the computed {rpm[0]:g} to "
                   f"{rpm[-1]:g} rpm: compute more speeds or narrow the band")
            raise InputError(msg)
        first, last = np.searchsorted(rpm, low, "right") - 1, np.searchsorted(rpm, high, "left")
        used = slice(first, last + 1)
        bad = rpm[used][~(self.dataset["converged"].values[used] & np.isfinite(values[used]))]
        if bad.size:
            msg = (f"{name} has no band average from {low:g} to {high:g} rpm: not converged at "
                   f"{', '.join(f'{r:g}' for r in bad)} rpm")
            raise NotConverged(msg)
        inside = np.unique(np.concatenate([[low, high], rpm[(rpm > low) & (rpm < high)]]))
        return float(np.trapezoid(np.interp(inside, rpm, values), inside) / (high - low))

    def _over_speed(self, name: str) -> np.ndarray:
        v = variable(name)
        if name not in self.dataset or v.trace or v.kind == "str":
            msg = f"{name} is not a value per speed of this curve"
            raise InputError(msg)
        array = self.dataset[name].astype(float)
        return (array.mean("cylinder") if "cylinder" in v.dims else array).values

    def sentence(self, units: str = "si") -> str:
        """The curve in one or two sentences of the trade, in "si" or "us" units."""
        a = self.dataset.attrs
        cylinders = f"{a['cylinders']} cylinder{'s' if a['cylinders'] > 1 else ''}"
        head = f"{self.name} ({a['displacement'] * 1e3:.2f} L, {cylinders})"
        bad = len(self.failures)
        tail = f" {bad} of {self.speeds.size} points did not converge." if bad else ""
        if self.peak_torque is None:
            return f"{head}: no point converged."
        told = " and ".join(_told(name, peak, units) for name, peak in
                            (("torque", self.peak_torque), ("power", self.peak_power)))
        return f"{head}: {told}, {self.conditions(units)}.{tail}"

    def conditions(self, units: str = "si") -> str:
        """Basis and weather in words."""
        a = self.dataset.attrs
        pressure, temperature = variable("plenum_pressure"), variable("plenum_temperature")
        day = (f"{float(pressure.convert(a['pressure'], units)):.2f} {pressure.shown(units).label}, "
               f"{float(temperature.convert(a['temperature'], units)):.0f} {temperature.shown(units).label}, "
               f"{100 * a['humidity']:.0f} % humidity")
        if self.basis == "observed":
            return f"observed at {day}"
        return f"corrected to {self.basis.upper()} (factor {a['correction_factor']:.4f}) from {day}"

    def __repr__(self) -> str:
        """The curve in one or two sentences."""
        return self.sentence()

    def _repr_html_(self) -> str:
        shown = [variable(name) for name in IN_HTML if name in self.dataset]
        columns = [v.convert(self.dataset[v.name].values, "si") for v in shown]
        rows = [(f"{rpm:.0f}", *(f"{column[i]:.{v.si.digits}f}" for v, column in zip(shown, columns, strict=True)))
                for i, rpm in enumerate(self.speeds)]
        return answer_html([self.sentence()], ("speed\nrpm", *(f"{v.head}\n{v.si.label}" for v in shown)), rows)


def _told(name: str, peak: Peak, units: str) -> str:
    v = variable(name)
    shown = v.shown(units)
    return f"{float(v.convert(peak.value, units)):.0f} {shown.label} at {peak.rpm:.0f} rpm"


