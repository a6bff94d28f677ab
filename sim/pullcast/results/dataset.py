"""The Dataset of a predicted curve, built from plain arrays and checked against the table of variables."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence

import numpy as np

from pullcast.errors import InputError
from pullcast.results.provenance import Provenance
from pullcast.results.variables import ANGLES, DIMENSIONS, Variable, variable

REQUIRED = ("torque", "power", "converged", "status")
_DTYPES = {"int": np.int64, "bool": np.bool_, "str": object, "float": np.float64}


def curve_dataset(speeds, arrays: Mapping[str, object], provenance: Provenance, stations: Sequence[str] = ()):
    """An xarray Dataset of a curve at the card's weather.

    Parameters
    ----------
    speeds
        rpm, shape (speed,), increasing.
    arrays
        Numbers in stored units by the names of ``pullcast.results.variables``, of shape (speed,),
        (speed, cylinder) or (speed, cylinder, angle) as that table says; nan where a point failed. ``torque``,
        ``power``, ``converged`` and ``status`` must be there.
    provenance
        Stored as attributes.
    stations
        Names of the duct stations, for variables per station.

    Raises InputError for an unknown or missing name, a wrong shape, or speeds that do not increase.

    """
    import xarray as xr

    rpm = _speeds(speeds)
    missing = [name for name in REQUIRED if name not in arrays]
    if missing:
        msg = f"a curve needs {', '.join(missing)} as well"
        raise InputError(msg)
    sizes = {"speed": rpm.size, "cylinder": provenance.cylinders, "station": len(stations), "angle": ANGLES}
    data = {name: _column(variable(name), values, sizes) for name, values in arrays.items()}
    used = {dim for dims, _, _ in data.values() for dim in dims}
    coords = {"speed": ("speed", rpm, {"units": "rpm", "long_name": DIMENSIONS["speed"]})}
    cylinders = np.arange(1, provenance.cylinders + 1)
    named = {"cylinder": cylinders, "station": list(stations), "angle": np.arange(ANGLES)}
    for dim, values in named.items():
        if dim in used:
            units = "deg" if dim == "angle" else "1"
            coords[dim] = (dim, values, {"units": units, "long_name": DIMENSIONS[dim]})
    attrs = dataclasses.asdict(provenance) | {"basis": "observed", "correction_factor": 1.0}
    return xr.Dataset(data, coords=coords, attrs=attrs)


def _speeds(speeds) -> np.ndarray:
    rpm = np.asarray(speeds, dtype=float)
    if rpm.ndim != 1 or rpm.size == 0 or not np.isfinite(rpm).all() or (rpm <= 0).any() or (np.diff(rpm) <= 0).any():
        msg = f"speeds must be a list of rising numbers above zero, in rpm, not {rpm.tolist()}"
        raise InputError(msg)
    return rpm


def _column(v: Variable, values, sizes: Mapping[str, int]):
    array = np.asarray(values, dtype=_DTYPES[v.kind])
    shape = tuple(sizes[dim] for dim in v.dims)
    if array.shape != shape:
        msg = f"{v.name} has shape {array.shape}; {', '.join(v.dims)} make {shape}"
        raise InputError(msg)
    return v.dims, array, {"units": v.units, "long_name": v.long_name}
