"""A manufactured solution of quasi-1D flow with area change, friction and wall heat.

Roache 2002, *Code verification by the method of manufactured solutions*, J. Fluids Eng. 124: choose smooth fields,
put them into the equations, and give what is left over to the solver as a source. Derivatives are complex-step
(Squire & Trapp 1998), hence exact to round-off. The fields have u = 0 at both ends of the duct, as closed ends ask.
SI units; area of a cone.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from validation.reference.steady import darcy, viscosity

STEP = 1e-30


class Manufactured(NamedTuple):
    """Fields over a closed cone; ``friction`` and ``heat`` scale the wall terms."""

    length: float = 1.0
    d_start: float = 0.04
    d_end: float = 0.06
    p0: float = 1.5e5
    rho0: float = 1.4
    speed: float = 60.0
    omega: float = 900.0
    gamma: float = 1.4
    R: float = 287.05
    friction: float = 0.0
    heat: float = 0.0
    roughness: float = 2e-4
    wall: float = 500.0

    def area(self, x):
        """Flow area, m2."""
        return np.pi / 4 * (self.d_start + (self.d_end - self.d_start) * x / self.length) ** 2

    def fields(self, x, t):
        """rho, u, p at x (m), t (s)."""
        s = np.pi * x / self.length
        rho = self.rho0 * (1 + 0.12 * np.cos(s) * np.cos(self.omega * t) + 0.05 * np.cos(2 * s))
        u = self.speed * np.sin(s) * (0.6 + 0.4 * np.sin(self.omega * t))
        p = self.p0 * (1 + 0.15 * np.cos(2 * s) * np.sin(self.omega * t + 0.4) + 0.05 * np.cos(s))
        return rho, u, p

    def conserved(self, x, t):
        """rho, rho u, rho E (internal energy counted from 0 K) per volume."""
        rho, u, p = self.fields(x, t)
        return np.array([rho, rho * u, p / (self.gamma - 1) + 0.5 * rho * u**2])

    def _fluxes(self, x, t):
        rho, u, p = self.fields(x, t)
        A = self.area(x)
        e = p / (self.gamma - 1) + 0.5 * rho * u**2
        return np.array([A * rho * u, A * rho * u**2, A * u * (e + p)]), p

    def wall_terms(self, x, t):
        """Momentum (N/m3) and energy (W/m3) the walls give: -f/D rho u|u|/2 and 4 h/D (T_wall - T)."""
        rho, u, p = self.fields(x, t)
        D = np.sqrt(4 * self.area(x) / np.pi)
        T = p / (rho * self.R)
        mu = viscosity(T)
        re = np.maximum(rho * np.abs(u) * D / mu, 10.0)
        drag = -0.5 * self.friction * darcy(re, self.roughness / D) / D * rho * u * np.abs(u)
        cp = self.gamma * self.R / (self.gamma - 1)
        nu = self.heat * np.maximum(0.023 * re**0.8 * 0.71 ** (1 / 3), 3.66)
        return drag, 4 * nu * mu * cp / 0.71 / D**2 * (self.wall - T)

    def source(self, x, t):
        """(3, n) what must be added to mass, momentum and energy per volume and second."""
        dt = np.imag(self.conserved(x, t + 1j * STEP)) / STEP
        flux, p = self._fluxes(x + 1j * STEP, t)
        A = self.area(x)
        out = dt + np.imag(flux) / STEP / A
        out[1] += np.imag(p) / STEP
        drag, heat = self.wall_terms(x, t)
        out[1] -= drag
        out[2] -= heat
        return out
