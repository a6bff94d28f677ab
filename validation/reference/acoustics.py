"""Linear plane-wave acoustics of ducts: steps, branches, transfer matrices, resonators, end corrections.

Munjal 1987, *Acoustics of Ducts and Mufflers*, ch. 2 (transfer matrices; state is pressure and volume velocity);
Kinsler & Frey, *Fundamentals of Acoustics*, ch. 10 (branches, resonators); Levine & Schwinger 1948 (unflanged end),
Rayleigh (flanged end) (places from memory). SI units, lossless, no mean flow.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

UNFLANGED = 0.6133  # end correction over radius, Levine & Schwinger 1948
FLANGED = 0.8217  # over radius, wide flange


def sound_speed(T: float, gamma: float = 1.4, R: float = 287.05) -> float:
    """Sound speed of a perfect gas, m/s."""
    return float(np.sqrt(gamma * R * T))


def step_reflection(area_from: float, area_to: float) -> float:
    """Pressure reflection at an area step met from ``area_from``."""
    return (area_from - area_to) / (area_from + area_to)


def junction(areas: tuple[float, ...]) -> tuple[float, float]:
    """Pressure reflected into the first pipe and passed to every other, at a junction of small extent."""
    total = sum(areas)
    return (2 * areas[0] - total) / total, 2 * areas[0] / total


def pipe(k: float, length: float, area: float, z: float) -> np.ndarray:
    """Transfer matrix of a straight pipe; ``z`` = rho c (Pa s/m), ``k`` wave number (1/m)."""
    Z, x = z / area, k * length
    return np.array([[np.cos(x), 1j * Z * np.sin(x)], [1j * np.sin(x) / Z, np.cos(x)]])


def cone(k: float, length: float, area_in: float, area_out: float, z: float) -> np.ndarray:
    """Transfer matrix of a cone with areas ``area_in`` to ``area_out``: spherical waves from the apex."""
    if np.isclose(area_in, area_out, rtol=1e-12):
        return pipe(k, length, area_in, z)
    r = np.sqrt(area_out / area_in)
    x1 = length / (r - 1)  # signed distance from the apex; negative if converging
    x2 = x1 + length

    def columns(x: float, area: float) -> np.ndarray:
        out, back = np.exp(-1j * k * x) / x, np.exp(1j * k * x) / x
        y = area / (1j * k * z)
        return np.array([[out, back], [y * (1j * k + 1 / x) * out, y * (-1j * k + 1 / x) * back]])

    return columns(x1, area_in) @ np.linalg.inv(columns(x2, area_out))


def branch(impedance: complex) -> np.ndarray:
    """Transfer matrix of a side branch of that acoustic impedance."""
    return np.array([[1, 0], [1 / impedance, 1]], dtype=complex)


def closed_branch(k: float, length: float, area: float, z: float) -> complex:
    """Impedance of a closed side pipe."""
    return -1j * z / area / np.tan(k * length)


def transmission_loss(matrix: np.ndarray, area_in: float, area_out: float, z: float) -> float:
    """Transmission loss (dB) of an element between anechoic pipes."""
    zi, zo = z / area_in, z / area_out
    (a, b), (c, d) = matrix
    incident = 0.5 * (a + b / zo + zi * c + zi / zo * d)
    return float(10 * np.log10(abs(incident) ** 2 * zo / zi))


def chamber_transmission_loss(k: float, length: float, ratio: float) -> float:
    """Transmission loss (dB) of a simple expansion chamber of area ratio ``ratio`` (Davis et al. 1954, NACA 1192)."""
    return float(10 * np.log10(1 + 0.25 * (ratio - 1 / ratio) ** 2 * np.sin(k * length) ** 2))


def quarter_wave(c: float, length: float, mode: int = 1) -> float:
    """Frequency (Hz) of a pipe closed at one end, open at the other; ``length`` with end correction."""
    return (2 * mode - 1) * c / (4 * length)


def half_wave(c: float, length: float, mode: int = 1) -> float:
    """Frequency (Hz) of a pipe with two like ends."""
    return mode * c / (2 * length)


def helmholtz_lumped(c: float, length: float, area: float, volume: float) -> float:
    """Frequency (Hz) of a neck (``length`` with end corrections) on a volume, both lumped."""
    return float(c / (2 * np.pi) * np.sqrt(area / (length * volume)))


def helmholtz_distributed(c: float, length: float, area: float, volume: float, mode: int = 1) -> float:
    """Frequency (Hz) with the neck as a pipe: cot(k L) = k V/A, one root per half wave."""
    def residual(x: float) -> float:
        return np.cos(x) - x / length * volume / area * np.sin(x)

    low = (mode - 1) * np.pi
    x = brentq(residual, low + 1e-9, low + np.pi - 1e-9, xtol=1e-14)
    return float(x * c / (2 * np.pi * length))


def cone_closed_open(c: float, length: float, area_closed: float, area_open: float, mode: int = 1) -> float:
    """Frequency (Hz) of a truncated cone closed at one end and open (p = 0) at the other."""
    def residual(f: float) -> float:  # open end p = 0 outside U_in = 0: element d of the matrix
        return float(np.real(cone(2 * np.pi * f / c, length, area_closed, area_open, 1.0)[1, 1]))

    f = np.linspace(1e-3, (mode + 2) * c / length, 4000)
    v = np.array([residual(x) for x in f])
    at = np.flatnonzero(np.sign(v[1:]) != np.sign(v[:-1]))[mode - 1]
    return brentq(residual, f[at], f[at + 1], xtol=1e-12)


def engelman_rpm(c: float, area: float, length: float, swept: float, ratio: float, K: float = 2.1) -> float:
    """Tuned speed (rpm) of one runner and its cylinder at mid-stroke as a resonator (Engelman 1973).

    N = (162/K) c sqrt(A/(L V)) sqrt((r-1)/(r+1)) with c ft/s, A in2, L in, V in3 (relation and K from memory);
    arguments here are SI: m/s, m2, m, m3.
    """
    inch = 0.0254
    area, length, swept = area / inch**2, length / inch, swept / inch**3
    return float(162 / K * (c / 0.3048) * np.sqrt(area / (length * swept)) * np.sqrt((ratio - 1) / (ratio + 1)))
