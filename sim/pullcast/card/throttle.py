"""Effective area of a throttle: plate geometry or a carburettor's rating.

The plate area is that of Harrington & Bolt 1970 (SAE 700082), as given in Heywood 1988, eq. 7.18 (form and
symbols from memory; the numbers below are the check).
"""

from __future__ import annotations

import math

RATING_TEMPERATURE = 288.7  # K, 60 F
RATING_PRESSURE = 101325.0
GAMMA, R = 1.4, 287.05


def plate_fraction(bore: float, shaft: float, closed_deg: float, angle_deg: float) -> float:
    """Open share of a throttle bore, 0 to 1, for a plate at ``angle_deg`` from the plane across the bore.

    ``bore``, ``shaft`` (diameter) m; ``closed_deg`` the angle at which the plate seals. Beyond the angle at which
    the plate hides behind its shaft only the shaft stands in the way. Harrington & Bolt 1970.

    >>> [round(plate_fraction(0.050, 0.008, 5.0, a), 6) for a in (10, 20, 45, 75, 81, 90)]
    [0.01141, 0.056609, 0.289326, 0.727333, 0.797154, 0.797154]
    """
    a = shaft / bore
    full = 1.0 - 2.0 / math.pi * (a * math.sqrt(1.0 - a * a) + math.asin(a))
    psi, psi0 = math.radians(angle_deg), math.radians(closed_deg)
    if angle_deg <= closed_deg:
        return 0.0
    hidden = math.degrees(math.acos(min(1.0, a * math.cos(psi0))))
    if angle_deg >= hidden:
        return full
    c, c0 = math.cos(psi), math.cos(psi0)
    root = math.sqrt(max(c * c - a * a * c0 * c0, 0.0))
    share = 1.0 - c / c0 + 2.0 / math.pi * (
        a / c * root + c / c0 * math.asin(min(1.0, a * c0 / c)) - a * math.sqrt(1.0 - a * a) - math.asin(a))
    return min(max(share, 0.0), full)


def plate_area(bore: float, shaft: float, closed_deg: float, angle_deg: float) -> float:
    """Open area (m2) of one throttle bore; see :func:`plate_fraction`."""
    return math.pi / 4 * bore**2 * plate_fraction(bore, shaft, closed_deg, angle_deg)


def rated_area(flow: float, drop: float) -> float:
    """Effective area (m2) of a carburettor rated to pass ``flow`` (m3/s of air at 60 F, 1 atm) at ``drop`` (Pa).

    Isentropic compressible orifice (Heywood 1988, app. C).

    >>> round(1e6 * rated_area(0.3539606, 20.39 * 249.08891))  # 750 cfm at 1.5 inHg
    3992
    """
    ratio = 1.0 - drop / RATING_PRESSURE
    psi = math.sqrt(2 * GAMMA / (GAMMA - 1) * (ratio ** (2 / GAMMA) - ratio ** ((GAMMA + 1) / GAMMA)))
    density = RATING_PRESSURE / (R * RATING_TEMPERATURE)
    return flow * density * math.sqrt(R * RATING_TEMPERATURE) / (RATING_PRESSURE * psi)
