"""Finite-amplitude plane waves in a perfect gas.

Riemann's simple waves: Landau & Lifshitz, *Fluid Mechanics*, sec. 101 and Liepmann & Roshko 1957, ch. 3 (from
memory). With X = (p/p_ref)^((gamma-1)/(2 gamma)) = a/a_ref, wave amplitudes X - 1 of opposite direction add in
isentropic gas: this gives the reflections at ends. SI units.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np


def amplitude(ratio: float, gamma: float = 1.4) -> float:
    """X of a pressure ratio over the gas at rest."""
    return ratio ** ((gamma - 1) / (2 * gamma))


def pressure_ratio(x: float, gamma: float = 1.4) -> float:
    """Pressure ratio of X."""
    return x ** (2 * gamma / (gamma - 1))


def particle_velocity(ratio: float, a0: float, gamma: float = 1.4) -> float:
    """Velocity (m/s) behind a simple wave of pressure ratio ``ratio`` into gas at rest with sound speed a0."""
    return 2 * a0 / (gamma - 1) * (amplitude(ratio, gamma) - 1)


def wave_speed(ratio: float, a0: float, gamma: float = 1.4) -> float:
    """Speed u + a (m/s) of the point of the wave with that pressure ratio."""
    return particle_velocity(ratio, a0, gamma) + a0 * amplitude(ratio, gamma)


def at_closed_end(ratio: float, gamma: float = 1.4) -> float:
    """Pressure ratio at a closed end while the point ``ratio`` of the wave is reflected (u = 0)."""
    return pressure_ratio(2 * amplitude(ratio, gamma) - 1, gamma)


def from_open_end(ratio: float, gamma: float = 1.4) -> float:
    """Pressure ratio of the wave returned by an open end held at the pressure of the gas at rest (outflow)."""
    return pressure_ratio(2 - amplitude(ratio, gamma), gamma)


def inflow_reflection(ratio: float, gamma: float = 1.4) -> float:
    """Pressure ratio of the wave returned when a wave of ``ratio`` < 1 draws gas in from the surroundings.

    Loss-free entry from the gas at rest outside: total temperature a^2 + (gamma-1)/2 u^2 = a0^2 at the face
    (Benson 1982, *Thermodynamics and Gas Dynamics of Internal Combustion Engines*, vol. 1, open end, from memory),
    isentropic, so that X_face^2 + (gamma-1)/2 (u/a0)^2 = 1.
    """
    k = 0.5 * (gamma - 1)
    xi = amplitude(ratio, gamma)
    # X = xi + xr - 1, u/a0 = (xr - xi)/k into the pipe; X^2 + (xr - xi)^2/k = 1
    a, b, c = 1 + 1 / k, 2 * (xi - 1) - 2 * xi / k, (xi - 1) ** 2 + xi**2 / k - 1
    return pressure_ratio((-b + np.sqrt(b * b - 4 * a * c)) / (2 * a), gamma)


def simple_wave(pulse: Callable[[np.ndarray], np.ndarray], x: np.ndarray, t: float, a0: float, p0: float,
                rho0: float, gamma: float = 1.4) -> np.ndarray:
    """(3, n) rho, u, p of a right-going simple wave at ``x`` (m) and time ``t`` (s).

    ``pulse`` gives the particle velocity (m/s) over x at t = 0. Exact until characteristics meet; ValueError after.
    """
    fine = np.linspace(x.min() - 2 * a0 * t - 1.0, x.max() + 1.0, 400001)
    moved = fine + t * (a0 + 0.5 * (gamma + 1) * pulse(fine))
    if np.any(np.diff(moved) <= 0):
        msg = f"the wave has broken before t = {t:g} s"
        raise ValueError(msg)
    foot = np.interp(x, moved, fine)
    for _ in range(4):  # Newton on x = foot + t (u + a)
        h = 1e-6
        slope = (pulse(foot + h) - pulse(foot - h)) / (2 * h)
        miss = foot + t * (a0 + 0.5 * (gamma + 1) * pulse(foot)) - x
        foot = foot - miss / (1 + 0.5 * (gamma + 1) * t * slope)
    u = pulse(foot)
    ratio = 1 + 0.5 * (gamma - 1) * u / a0
    return np.array([rho0 * ratio ** (2 / (gamma - 1)), u, p0 * ratio ** (2 * gamma / (gamma - 1))])
