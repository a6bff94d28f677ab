"""A curve as plain records: one dict per speed with unit-suffixed keys, for JSON and CSV."""

from __future__ import annotations

import math

from pullcast.results.variables import VARIABLES, Variable

KPA, CELSIUS = 1e-3, -273.15


def document(curve, system: str = "si") -> dict:
    """Everything of a Curve that JSON can carry: provenance, peaks and one record per speed.

    Numbers that are not finite become null. The card's text stays out (the netCDF file holds it).
    """
    a = curve.dataset.attrs
    head = {
        "engine": a["engine"], "engine_class": a["engine_class"], "source": a["source"],
        "displacement_cm3": a["displacement"] * 1e6, "cylinders": a["cylinders"],
        "engine_sha256": a["sha256"], "pullcast_version": a["version"], "fidelity": a["fidelity"],
        "cell_mm": _plain(a["cell"] * 1e3), "reference_density_kg_per_m3": a["reference_density"],
        "weather": {"pressure_kPa": a["pressure"] * KPA, "temperature_degC": a["temperature"] + CELSIUS,
                    "humidity_pct": a["humidity"] * 100},
        "basis": a["basis"], "correction_factor": a["correction_factor"],
        "correction_note": a.get("correction_note", ""), "all_converged": curve.converged,
    }
    for name, peak in (("torque", curve.peak_torque), ("power", curve.peak_power)):
        head[f"peak_{name}"] = None if peak is None else {
            VARIABLES[name].key(system): float(VARIABLES[name].convert(peak.value, system)), "speed_rpm": peak.rpm}
    return head | {"points": points(curve.dataset, system)}


def points(dataset, system: str = "si") -> list[dict]:
    """One dict per speed: ``speed_rpm`` and every variable; per cylinder (and angle) as nested lists."""
    names = [name for name in VARIABLES if name in dataset]
    columns = {VARIABLES[name].key(system): _converted(VARIABLES[name], dataset[name].values, system)
               for name in names}
    speeds = dataset["speed"].values.tolist()
    return [{"speed_rpm": rpm} | {key: column[i] for key, column in columns.items()}
            for i, rpm in enumerate(speeds)]


def rows(dataset, system: str = "si") -> tuple[list[str], list[list]]:
    """Header and rows of the CSV: one row per speed; per-cylinder values in columns ending in ``_cyl1``, ...;
    traces are left out (the netCDF file holds them)."""
    flat = []
    for record in points(dataset[[n for n in dataset if not VARIABLES[n].trace]], system):
        row = {}
        for key, value in record.items():
            row |= {f"{key}_cyl{k}": x for k, x in enumerate(value, 1)} if isinstance(value, list) else {key: value}
        row |= {"basis": dataset.attrs["basis"], "correction_factor": dataset.attrs["correction_factor"]}
        flat.append(row)
    return list(flat[0]), [["" if x is None else x for x in row.values()] for row in flat]


def _converted(v: Variable, values, system: str) -> list:
    return _nulled(v.convert(values, system).tolist())


def _nulled(value):
    return [_nulled(x) for x in value] if isinstance(value, list) else _plain(value)


def _plain(value):
    return None if isinstance(value, float) and not math.isfinite(value) else value
