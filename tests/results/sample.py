"""An invented curve of smooth formulas, for tests of what is stored, shown and written. No forecast."""

from __future__ import annotations

import numpy as np

from pullcast.results.curve import Curve
from pullcast.results.dataset import curve_dataset
from pullcast.results.provenance import Provenance

DISPLACEMENT, CYLINDERS = 4.0e-3, 4


def provenance(**changes) -> Provenance:
    values = {
        "engine": "Kestrel test four", "engine_class": "car_four_4v", "displacement": DISPLACEMENT,
        "cylinders": CYLINDERS, "source": "invented for tests", "card": 'name = "Kestrel test four"  # ±\n',
        "sha256": "ab" * 32, "version": "0.1.0", "fidelity": "wave", "cell": 0.025, "reference_density": 1.18,
        "pressure": 98900.0, "temperature": 295.15, "humidity": 0.45,
    }
    return Provenance(**(values | changes))


def arrays(rpm: np.ndarray, failed: tuple[int, ...] = (), traces: bool = False) -> dict:
    x = rpm / 1000.0
    torque = 330.0 + 60.0 * np.exp(-((x - 4.2) / 1.6) ** 2) - 4.0 * np.maximum(x - 5, 0) ** 2
    omega = rpm * 2 * np.pi / 60
    bmep = torque * 4 * np.pi / DISPLACEMENT
    fmep = (0.97 + 0.15 * x + 0.05 * x**2) * 1e5
    pmep = -(0.03 + 0.012 * x**2) * 1e5
    per = np.ones((rpm.size, CYLINDERS)) * (1 + 0.01 * np.arange(CYLINDERS))
    values = {
        "torque": torque, "power": torque * omega,
        "volumetric_efficiency": 0.8 + 0.18 * np.exp(-((x - 4.4) / 2) ** 2),
        "bmep": bmep, "fmep": fmep, "pmep": pmep, "imep": bmep + fmep, "gross_imep": bmep + fmep - pmep,
        "bsfc": 7.2e-8 + 2e-9 * (x - 3.5) ** 2,
        "airflow": torque * omega * 1.1e-6, "fuel_flow": torque * omega * 8e-8,
        "trapped_mass": per * 1.1e-3, "residual_fraction": per * 0.05, "plenum_pressure": 98900.0 - 90.0 * x**2,
        "plenum_temperature": 300.0 + x, "peak_pressure": per * (60e5 + 4e5 * x[:, None]), "ca50": 8.0 + 0 * x,
        "spark": 18.0 + 2.0 * x, "knock_integral": per * 0.7, "injector_duty": 0.1 * x,
        "port_mach_mean": per * 0.05 * x[:, None], "port_mach_max": per * 0.08 * x[:, None],
        "mean_piston_speed": 2 * 0.092 * rpm / 60, "inlet_mach_index": 0.08 * x, "heat_loss": 9000.0 * x,
        "exhaust_temperature": 1000.0 + 40 * x, "cycles": np.full(rpm.size, 6), "mass_residual": 1e-13 + 0 * x,
        "energy_residual": 1e-9 + 0 * x, "converged": np.ones(rpm.size, bool),
        "status": np.array(["converged"] * rpm.size, object),
    }
    if traces:
        values |= _traces(rpm)
    for k in failed:
        for name, array in values.items():
            if array.dtype.kind == "f":
                values[name][k] = np.nan
        values["converged"][k] = False
        values["status"][k] = "broke down at 131.5 deg crank, in primary 3"
    return values


def _traces(rpm: np.ndarray) -> dict:
    angle, shape = np.arange(720.0), (rpm.size, CYLINDERS, 720)

    def hump(middle, width, height):
        return height * np.clip(1 - ((angle - middle) / width) ** 2, 0, None) ** 2

    def wide(one):
        return np.broadcast_to(one, shape).copy()

    return {
        "cylinder_pressure": wide(1e5 + hump(372, 90, 65e5)), "intake_lift": wide(hump(108, 130, 0.0105)),
        "exhaust_lift": wide(hump(608, 130, 0.0098)), "intake_mass_flow": wide(hump(100, 100, 0.12)),
        "exhaust_mass_flow": wide(hump(560, 110, 0.14)),
        "intake_port_pressure": wide(98e3 + 9e3 * np.sin(np.radians(angle * 3))),
        "exhaust_port_pressure": wide(104e3 + hump(540, 60, 60e3)),
    }


def sample_curve(speeds=(2000, 3000, 4000, 5000, 6000), failed: tuple[int, ...] = (), traces: bool = False,
                 **changes) -> Curve:
    rpm = np.asarray(speeds, float)
    return Curve(curve_dataset(rpm, arrays(rpm, failed, traces), provenance(**changes)))
