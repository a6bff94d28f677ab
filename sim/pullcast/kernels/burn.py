"""Burn law: Wiebe through spark, 10 % and 90 % burned; durations scaled with speed, mixture and residual.

Columns of ``cylinders.burn``: 0 timing kind (0 CA50, 1 spark), 1 its value (deg), 2 reference 10-90 %
duration (deg), 3 reference spark-10 % delay (deg), 4 share of the fuel that burns, 5 piston speed (m/s),
6 reference piston speed, 7 reference laminar speed at the spark (m/s), 8 law (0 Wiebe, 1 flame), 9 factor on the
turbulence of the flame (``kernels.flame``), 10 reference laminar speed at half burned (m/s), 11 knock delay
(0 Douaud & Eyzat, 1 He et al.), 12 factor of the mixture on the latter, 13 volume of the crevices (m3).

Columns of ``cylinders.flame``: B_M, B_2 (m/s), phi_M, phi, alpha, beta, residual factor, residual exponent:
S_L = (B_M + B_2 (phi - phi_M)^2) (Tu/298)^alpha (p/101325)^beta (1 - c x^d), Metghalchi & Keck 1982;
residual term of Rhodes & Keck 1985 (2.06 x^0.77, mole fraction).
"""

import math

from pullcast.kernels.jit import kernel

LN_10 = math.log(1.0 / 0.9)  # -ln(1-x) at 10 % burned
LN_90 = math.log(10.0)  # at 90 %
LN_50 = math.log(2.0)


@kernel
def laminar_speed(fl, Tu, p, x_res):
    """Laminar burning speed, m/s, of unburned gas at Tu (K), p (Pa) with residual mole fraction x_res."""
    s = (fl[0] + fl[1] * (fl[3] - fl[2]) ** 2) * (Tu / 298.0) ** fl[4] * (p / 101325.0) ** fl[5]
    return max(s * max(1.0 - fl[6] * max(x_res, 0.0) ** fl[7], 0.1), 0.02)


@kernel
def durations(b, s_spark, s_half):
    """Delay (spark to 10 %) and 10-90 % duration, deg, from the laminar speeds (m/s) at spark and at half burned.

    Both scale as (mean piston speed)^(1/3) (1/S_L)^(2/3) from the reference point: Hires, Tabaczynski & Novak 1978
    (SAE 780232; from memory). The delay's S_L is that at the spark, the duration's that where half the charge is
    burned. Their factors in clearance height, density and viscosity are left out.
    """
    speed = (b[5] / b[6]) ** (1.0 / 3.0)
    delay = speed * (b[7] / s_spark) ** (2.0 / 3.0)
    width = speed * (b[10] / s_half) ** (2.0 / 3.0)
    return b[3] * min(max(delay, 0.4), 4.0), b[2] * min(max(width, 0.4), 4.0)


@kernel
def wiebe_shape(delay, duration):
    """Form m and width (deg, to 1 - exp(-6.908)) of the Wiebe law x = 1 - exp(-6.908 (s/width)^(m+1)) from spark."""
    n = math.log(LN_90 / LN_10) / math.log((delay + duration) / delay)
    n = min(max(n, 1.2), 8.0)
    width = (delay + duration) * (6.908 / LN_90) ** (1.0 / n)
    return n - 1.0, width


@kernel
def wiebe(theta, start, width, form):
    """Mass fraction burned at ``theta`` deg."""
    if theta <= start:
        return 0.0
    return 1.0 - math.exp(-6.908 * ((theta - start) / width) ** (form + 1.0))


@kernel
def after_start(x50_log, width, form):
    """Degrees after the start at which -ln(1-x) equals ``x50_log``."""
    return width * (x50_log / 6.908) ** (1.0 / (form + 1.0))


@kernel
def knock_rate(p, Tu, octane):
    """Reciprocal of the knock delay, 1/s: 17.68 ms (ON/100)^3.402 (p/atm)^-1.7 exp(3800/T), Douaud & Eyzat 1978."""
    return 1e3 / (17.68 * (octane / 100.0) ** 3.402 * (p / 101325.0) ** -1.7 * math.exp(3800.0 / Tu))


@kernel
def knock_rate_he(factor, p, Tu, octane):
    """Reciprocal of another knock delay, 1/s: 1.3e-4 ms (p/atm)^-1.05 phi^-0.77 X^-1.41 exp(33700 cal/mol/(R T)).

    ``factor`` phi^-0.77 X^-1.41, X oxygen in mole per cent. He, Donovan, Zigler, Palmer, Walton, Wooldridge & Atreya
    2005 (Combust. Flame 142:266, abstract), isooctane, 943 to 1027 K, 5 to 23 atm, and so far outside its range in
    colder end gas; for other octane numbers with the (ON/100)^3.402 of Douaud & Eyzat (ours).
    """
    delay = 1.3e-4 * factor * (octane / 100.0) ** 3.402 * (p / 101325.0) ** -1.05 * math.exp(16959.2 / Tu)
    return 1e3 / delay
