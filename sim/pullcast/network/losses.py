"""Loss coefficients of pipes and fittings: friction, bends, entries, area steps.

K is the loss of total pressure over the dynamic head rho u^2/2 in the pipe named; all numbers are dimensionless.
Handbooks differ by a factor of two and more for rounded entries and tight bends; these are middle values.
"""

from __future__ import annotations

import math

import numpy as np

from pullcast.errors import InputError

LAMINAR = 2040.0  # Reynolds number below which a steady pipe flow is taken as laminar


def colebrook(reynolds: float, roughness: float) -> float:
    """Darcy friction factor: 64/Re when laminar, else the Colebrook equation, solved to round-off.

    ``roughness`` is roughness height over diameter, 0 to 0.05; ``reynolds`` > 0 (turbulent: 4e3 to 1e8). Source:
    Colebrook 1939, J. Inst. Civ. Eng. 11:133 (from memory): 1/sqrt f = -2 log10(e/3.7 + 2.51/(Re sqrt f)).

    >>> round(colebrook(1e5, 1e-4), 7)
    0.0185139
    """
    _check_friction(reynolds, roughness)
    if reynolds < LAMINAR:
        return 64.0 / reynolds
    x = 1.0 / math.sqrt(haaland(reynolds, roughness))
    for _ in range(50):
        inner = roughness / 3.7 + 2.51 * x / reynolds
        step = (x + 2.0 * math.log10(inner)) / (1.0 + 2.0 * 2.51 / (reynolds * inner * math.log(10.0)))
        x -= step
        if abs(step) < 1e-14 * x:
            break
    return 1.0 / (x * x)


def haaland(reynolds: float, roughness: float) -> float:
    """Darcy friction factor, explicit; within 2 % of Colebrook for 4e3 < Re < 1e8. Haaland 1983 (from memory).

    >>> round(haaland(1e5, 1e-4), 5)
    0.01827
    """
    _check_friction(reynolds, roughness)
    return (-1.8 * math.log10((roughness / 3.7) ** 1.11 + 6.9 / reynolds)) ** -2


def churchill(reynolds, roughness):
    """Darcy friction factor from laminar to rough turbulent in one expression; arrays allowed.

    The form the wave solver uses (Reynolds numbers below 10 are taken as 10). Churchill 1977, Chem. Eng. 84(24):91
    (from memory).

    >>> round(float(churchill(1e5, 1e-4)), 4)
    0.0185
    """
    re = np.maximum(reynolds, 10.0)
    a = (-2.457 * np.log((7.0 / re) ** 0.9 + 0.27 * roughness)) ** 16
    b = (37530.0 / re) ** 16
    return 8.0 * ((8.0 / re) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)


def viscosity(temperature):
    """Dynamic viscosity of air, Pa s, at ``temperature`` (K; 150 to 3500).

    Sutherland's law; White, *Viscous Fluid Flow*, table 1-2 (from memory).

    >>> round(1e6 * float(viscosity(300.0)), 2)
    18.46
    """
    t = np.clip(temperature, 150.0, 3500.0)
    return 1.716e-5 * (t / 273.15) ** 1.5 * (273.15 + 110.4) / (t + 110.4)


def bend_loss(angle_deg: float, radius_ratio: float, friction: float, *, own_friction: bool = True) -> float:
    """K of a smooth round bend; without ``own_friction`` what it loses beyond a straight pipe of its length.

    ``angle_deg`` 0 to 180; ``radius_ratio`` centre-line radius over diameter, from 0.5; ``friction`` Darcy factor.
    Rennels & Hudson 2012, *Pipe Flow*, eq. 15.6 (from memory):
    K = f a r/d + (0.10 + 2.4 f) sin(a/2) + 6.6 f (sqrt(sin(a/2)) + sin(a/2)) / (r/d)^(4 a/pi), a in rad.

    >>> round(bend_loss(90.0, 1.5, 0.02), 3)
    0.243
    """
    if not 0.0 <= angle_deg <= 180.0 or radius_ratio < 0.5 or friction < 0.0:
        msg = (f"bend of {angle_deg:g} deg, radius {radius_ratio:g} diameters, friction factor {friction:g}: "
               "give 0 to 180 deg, at least 0.5 diameters and a friction factor not below zero.")
        raise InputError(msg)
    a = math.radians(angle_deg)
    s = math.sin(a / 2)
    tight = 6.6 * friction * (math.sqrt(s) + s) / radius_ratio ** (4 * a / math.pi)
    straight = friction * a * radius_ratio if own_friction else 0.0
    return straight + (0.10 + 2.4 * friction) * s + tight


def miter_loss(angle_deg: float) -> float:
    """K of a sharp-cornered bend, 0 to 150 deg. Rennels & Hudson 2012, eq. 15.10 (from memory): 0.42 s + 2.56 s^3.

    >>> round(miter_loss(90.0), 3)
    1.202
    """
    if not 0.0 <= angle_deg <= 150.0:
        msg = f"miter bend of {angle_deg:g} deg: give 0 to 150 deg."
        raise InputError(msg)
    s = math.sin(math.radians(angle_deg) / 2)
    return 0.42 * s + 2.56 * s**3


def entry_loss(radius_ratio: float) -> float:
    """K of the entry to a pipe, flush with a wall, lip radius over diameter ``radius_ratio`` (0: sharp).

    Idelchik, *Handbook of Hydraulic Resistance*, diagram 3-4 (from memory): 0.03 + 0.47 * 10^(-7.7 r/d).

    >>> round(entry_loss(0.0), 2), round(entry_loss(0.1), 3)
    (0.5, 0.11)
    """
    _check_radius(radius_ratio)
    return 0.03 + 0.47 * 10.0 ** (-7.7 * radius_ratio)


def entry_loss_jet(radius_ratio: float) -> float:
    """The same from the contraction of the jet: a second opinion that shows the spread between handbooks.

    Rennels & Hudson 2012, eq. 9.3 (from memory): 0.0696 (1 - 0.569 r/d) j^2 + (j - 1)^2, jet ratio
    j = 1 + 0.622 (1 - 0.30 sqrt(r/d) - 0.70 r/d)^4.

    >>> round(entry_loss_jet(0.0), 3)
    0.57
    """
    _check_radius(radius_ratio)
    r = min(radius_ratio, 1.0)
    jet = 1.0 + 0.622 * (1.0 - 0.30 * math.sqrt(r) - 0.70 * r) ** 4
    return 0.0696 * (1.0 - 0.569 * r) * jet**2 + (jet - 1.0) ** 2


def expansion_loss(area_ratio: float) -> float:
    """K, on the head of the smaller pipe, of a sudden widening; ``area_ratio`` smaller over larger area, 0 to 1.

    Borda-Carnot, incompressible: (1 - A1/A2)^2.

    >>> expansion_loss(0.5)
    0.25
    """
    if not 0.0 <= area_ratio <= 1.0:
        msg = f"area ratio {area_ratio:g} of a widening: smaller over larger area lies between 0 and 1."
        raise InputError(msg)
    return (1.0 - area_ratio) ** 2


def _check_friction(reynolds: float, roughness: float) -> None:
    if not reynolds > 0.0 or not 0.0 <= roughness <= 0.06:
        msg = (f"friction at Reynolds number {reynolds:g}, relative roughness {roughness:g}: Reynolds must be above "
               "zero, roughness over diameter between 0 and 0.06. Check mm against m.")
        raise InputError(msg)


def _check_radius(radius_ratio: float) -> None:
    if not radius_ratio >= 0.0:
        msg = f"lip radius over diameter {radius_ratio:g}: it cannot be below zero."
        raise InputError(msg)
