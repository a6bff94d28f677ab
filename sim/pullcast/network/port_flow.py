"""Steady compressible flow through a port on a bench: the losses between valve and flange.

Quasi-1D, adiabatic, calorically perfect air (gamma 1.4, R 287.05). Total temperature is constant; total pressure
falls by wall friction and bends, d(p0)/dx = -p0 gamma M^2/2 (f/D + K/L) (Shapiro 1953, table 8.1 with constant T0),
and the Mach number follows from mass flow, area and total pressure on the subsonic branch. Friction, viscosity and
the spread of K over its segment are those of the wave solver, so that both lose the same.

A port is a tuple of segments from the valve to the flange. Flows may be arrays; nan marks a choked port.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.interpolate import CubicSpline

from pullcast.card.engine import Segment
from pullcast.network.losses import churchill, entry_loss, viscosity

GAMMA = 1.4
R_AIR = 287.05
STEPS = 16  # per segment, fourth order
BENCH_ENTRY_LOSS = entry_loss(0.25)  # clay or radius plate of a quarter of the port's width at the flange


def psi(ratio, gamma: float = GAMMA):
    """Flow function: A psi(p/p0) p0/sqrt(R T0) kg/s pass, choked below the critical ratio (Heywood 1988, app. C).

    >>> round(float(psi(0.0)), 6)
    0.684731
    """
    critical = (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))
    r = np.clip(ratio, critical, 1.0)
    return np.sqrt(2 * gamma / (gamma - 1) * np.maximum(r ** (2 / gamma) - r ** ((gamma + 1) / gamma), 0.0))


def through_valve(area, p0, T0, p):
    """Mass flow, kg/s, through effective ``area`` (m2) from total ``p0`` (Pa), ``T0`` (K) to static ``p`` (Pa)."""
    return area * psi(p / p0) * p0 / np.sqrt(R_AIR * T0)


def area_for(flow, p0, T0, p):
    """Effective area, m2, passing ``flow`` (kg/s) from total ``p0``, ``T0`` to static ``p``; inf where p >= p0."""
    capacity = psi(p / p0) * p0 / np.sqrt(R_AIR * T0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(capacity > 0.0, flow / capacity, np.inf)


@cache
def _mach_of_flow():
    """Mach number as a smooth function of s = sqrt(1 - flow function / its maximum)."""
    m = 1.0 - np.linspace(0.0, 1.0, 801) ** 1.5
    phi = _flow_function(m)
    s = np.sqrt(np.maximum(1.0 - phi / _flow_function(1.0), 0.0))
    return CubicSpline(s, m)


def _flow_function(m):
    return np.sqrt(GAMMA) * m * (1 + 0.2 * m * m) ** -3.0


def mach(flow, p0, T0, area):
    """Subsonic Mach number of ``flow`` (kg/s) in ``area`` (m2); nan where it cannot pass."""
    phi = flow * np.sqrt(R_AIR * T0) / (area * p0) / _flow_function(1.0)
    phi = np.where(phi <= 1.0 + 1e-12, np.minimum(phi, 1.0), np.nan)
    s = np.sqrt(1.0 - phi)
    guess = np.maximum(_mach_of_flow()(s), 0.0)
    for _ in range(2):  # Newton on ln(flow function); the guess is already good to 1e-6
        slope = 1.0 / np.maximum(guess, 1e-30) - 1.2 * guess / (1 + 0.2 * guess**2)
        step = np.log(np.maximum(_flow_function(guess), 1e-300) / np.maximum(phi * _flow_function(1.0), 1e-300))
        guess = np.where(slope > 1e-2, guess - step / np.maximum(slope, 1e-2), guess)
    return np.where(phi > 0.0, guess, 0.0 * phi)


def static(p0, m):
    """Static pressure, Pa, of total pressure ``p0`` at Mach number ``m``."""
    return p0 * (1 + 0.2 * m * m) ** -3.5


def into_port(port: tuple[Segment, ...], flow, p0: float, T0: float, entry: float = BENCH_ENTRY_LOSS):
    """Total pressure (Pa) at the valve face of ``flow`` (kg/s) drawn in at the flange from rest at ``p0``, ``T0``.

    ``entry`` is the loss of the opening on the dynamic head of the flange. nan: choked.
    """
    flow = np.asarray(flow, float)
    total = _after_entry(flow, p0, T0, port[-1].area_end, entry)
    for segment in reversed(port):
        total = _march(segment, flow, total, T0, downstream=True)
    return np.where(np.isfinite(mach(flow, total, T0, port[0].area_start)), total, np.nan)


def out_of_port(port: tuple[Segment, ...], flow, p: float, T0: float):
    """Static and total pressure (Pa) at the valve face of ``flow`` (kg/s) that leaves the flange into static ``p``.

    A flange at Mach 1 has the static pressure that passes the flow.
    """
    flow = np.asarray(flow, float)
    area = port[-1].area_end
    # static p, total temperature, mass flow: quadratic for the Mach number
    x = flow * np.sqrt(R_AIR * T0 / GAMMA) / (area * p)
    m = np.sqrt((np.sqrt(1.0 + 0.8 * x * x) - 1.0) / 0.4)
    total = np.where(m < 1.0, p * (1 + 0.2 * m * m) ** 3.5,
                     flow * np.sqrt(R_AIR * T0) / (area * _flow_function(1.0)) * (1 + 1e-12))
    for segment in reversed(port):
        total = _march(segment, flow, total, T0, downstream=False)
    return static(total, mach(flow, total, T0, port[0].area_start)), total


def _after_entry(flow, p0, T0, area, entry):
    """Total pressure just inside an opening: p0 less ``entry`` dynamic heads; nan where choked."""
    total = np.full_like(flow, p0)
    for _ in range(60):
        m = mach(flow, total, T0, area)
        total = p0 - entry * 0.5 * GAMMA * m * m * static(total, m)
    return total


def _march(segment: Segment, flow, total, T0: float, *, downstream: bool):
    """Total pressure at the valve end of a segment from that at its flange end (classical Runge-Kutta)."""
    if segment.length <= 0.0:
        return total
    d0, d1 = (np.sqrt(4 * a / np.pi) for a in (segment.area_end, segment.area_start))
    h = segment.length / STEPS
    sign = -1.0 if downstream else 1.0
    bend = segment.bend_loss / segment.length

    def slope(x, p0):
        d = d0 + (d1 - d0) * x / segment.length
        m = mach(flow, p0, T0, np.pi / 4 * d * d)
        re = 4 * flow / (np.pi * d * viscosity(T0 / (1 + 0.2 * m * m)))
        wall = segment.friction * churchill(re, segment.roughness / d) / d
        return sign * p0 * 0.5 * GAMMA * m * m * (wall + bend)

    for i in range(STEPS):
        x = i * h
        k1 = slope(x, total)
        k2 = slope(x + h / 2, total + h / 2 * k1)
        k3 = slope(x + h / 2, total + h / 2 * k2)
        k4 = slope(x + h, total + h * k3)
        total = total + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
    return total
