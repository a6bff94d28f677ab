"""Heat transfer, burn law, laminar speed and knock delay of the cylinder at printed values.

Woschni 1967 (SAE 670931), Hohenberg 1979 (SAE 790825), Wiebe as in Heywood 1988 eq. 9.27, Metghalchi & Keck 1982
(Combust. Flame 48:191), Douaud & Eyzat 1978 (SAE 780080): constants from memory, numbers recomputed from the formulas
written here apart from the solver.
"""

from __future__ import annotations

import math

from validation.harness import Check, relative

from pullcast.gasdata.burning import burning_coefficients, laminar_speed
from pullcast.kernels import burn, walls
from pullcast.network.cylinders import flame_row

ATM = 101325.0
MEMORY = "(constants from memory)"
# m/s at phi 1, 298 K, 1 atm
SPEEDS = (("methanol", 0.3520), ("propane", 0.3331), ("isooctane", 0.2487), ("petrol", 0.2808))


def heat() -> list[Check]:
    """The two coefficients at the state of a full-load cylinder."""
    w = 2.28 * 8.84  # m/s, Woschni's velocity of the motored closed cycle at a mean piston speed of 8.84 m/s
    woschni = 3.26 * 0.1016**-0.2 * 3000**0.8 * 1800**-0.55 * w**0.8
    hohenberg = 130 * 1e-4**-0.06 * 30**0.8 * 1800**-0.4 * (8.84 + 1.4) ** 0.8
    rows = []
    for name, source, printed, formula, got in (
        ("Woschni, bore 101.6 mm", f"Woschni 1967 {MEMORY}", 558.0, woschni, walls.woschni(0.1016, 3e6, 1800.0, w)),
        ("Hohenberg, 0.1 L", f"Hohenberg 1979 {MEMORY}", 1100.96, hohenberg,
         walls.hohenberg(1e-4, 3e6, 1800.0, 8.84)),
    ):
        rows += [relative(f"{name}, 30 bar, 1800 K, 8.84 m/s", source, printed, got, 1e-4, "W/(m2 K)"),
                 relative(f"{name}, from the formula", source, formula, got, 1e-9, "W/(m2 K)")]
    return rows


def wiebe() -> list[Check]:
    """Where 10, 50 and 90 % are burned, for a 5, m 2: the kernel's width is that to 1 - exp(-6.908)."""
    out = []
    for x, printed in ((0.1, 0.27621), (0.5, 0.51755), (0.9, 0.77223)):
        width = (6.908 / 5.0) ** (1.0 / 3.0)  # in lengths of the law with a = 5
        out.append(relative(f"Wiebe a 5, m 2: burned at {printed} of its length", "Heywood 1988, eq. 9.27", x,
                            burn.wiebe(printed, 0.0, width, 2.0), 1e-4))
    return out


def flame() -> list[Check]:
    """Laminar speeds, by the fit and by the row the kernels get; the reference speeds are those of the paper."""
    source = f"Metghalchi & Keck 1982, petrol Rhodes & Keck 1985 {MEMORY}"
    out = []
    for fuel, speed in SPEEDS:
        fitted = laminar_speed(fuel, 1.0, 298.0, ATM)
        out += [relative(f"{fuel}, phi 1, 298 K, 1 atm", source, speed, fitted, 5e-4, "m/s"),
                relative(f"{fuel}, as the kernels get it", source, speed,
                         burn.laminar_speed(flame_row(fuel, 1.0), 298.0, ATM, 0.0), 5e-4, "m/s")]
    b_m, b_2, phi_m = burning_coefficients("isooctane")[:3]
    hot = (b_m + b_2 * (1 - phi_m) ** 2) * (700 / 298) ** 2.18 * 20**-0.16
    compressed = laminar_speed("isooctane", 1.0, 700.0, 20 * ATM)
    out.append(relative("isooctane, 700 K, 20 atm", source, 0.99085, compressed, 1e-4, "m/s"))
    out.append(relative("isooctane, 700 K, 20 atm, from the formula", source, hot,
                        burn.laminar_speed(flame_row("isooctane", 1.0), 700.0, 20 * ATM, 0.0), 1e-9, "m/s"))
    residual = 1 - 2.06 * 0.1**0.77
    left = laminar_speed("petrol", 1.0, 400.0, ATM, 0.1) / laminar_speed("petrol", 1.0, 400.0, ATM)
    out.append(relative("a tenth of residual by mole leaves", f"Rhodes & Keck 1985 {MEMORY}", residual, left, 1e-9))
    return out


def knock() -> list[Check]:
    """The delay, and the integral over a constant state, which must reach one when the delay has passed."""
    source = f"Douaud & Eyzat 1978 {MEMORY}"
    delay = 17.68e-3 * 0.95**3.402 * 40**-1.7 * math.exp(3800 / 850)
    steps = 100
    integral = sum(delay / steps * burn.knock_rate(40 * ATM, 850.0, 95.0) for _ in range(steps))
    got = 1e3 / burn.knock_rate(40 * ATM, 850.0, 95.0)
    return [relative("knock delay, ON 95, 40 atm, 850 K", source, 2.45328, got, 1e-5, "ms"),
            relative("knock integral over that delay", source, 1.0, integral, 1e-6)]


def checks() -> list[Check]:
    """All of them."""
    return [*heat(), *wiebe(), *flame(), *knock()]
