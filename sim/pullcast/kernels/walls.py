"""In-cylinder heat-transfer coefficients, W/(m2 K).

Constants as printed in Heywood 1988 sec. 12.4.3 and the original papers (from memory):
Hohenberg 1979 (SAE 790825) 130 V^-0.06 p^0.8 T^-0.4 (Sp + 1.4)^0.8 with p in bar;
Woschni 1967 (SAE 670931) 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8 with p in kPa;
Annand 1963 0.49 (k/B) Re^0.7 without its radiation term.
"""

from pullcast.kernels.jit import kernel

HOHENBERG, WOSCHNI, ANNAND = 0, 1, 2


@kernel
def hohenberg(V, p, T, sp):
    """Hohenberg 1979; V m3, p Pa, T K, mean piston speed m/s."""
    return 130.0 * V ** -0.06 * (p * 1e-5) ** 0.8 * T ** -0.4 * (sp + 1.4) ** 0.8


@kernel
def woschni(bore, p, T, w):
    """Woschni 1967; bore m, p Pa, T K, characteristic gas velocity m/s."""
    return 3.26 * bore ** -0.2 * (p * 1e-3) ** 0.8 * T ** -0.55 * w ** 0.8


@kernel
def annand(bore, p, T, R, sp):
    """Annand 1963, convective part, a = 0.49; viscosity of air by a power law (3.3e-7 T^0.7), Pr 0.7."""
    mu = 3.3e-7 * T ** 0.7
    k = mu * 1150.0 / 0.7
    return 0.49 * k / bore * (p / (R * T) * sp * bore / mu) ** 0.7


@kernel
def coefficient(model, factor, bore, V, p, T, R, sp, fire, exchanging):
    """Coefficient by model number; ``exchanging``: valves open (Woschni's 6.18 Sp instead of 2.28 Sp).

    ``fire`` is the gas speed that burning adds by Woschni, m/s (``kernels.chamber.fire_speed``).
    """
    if model == HOHENBERG:
        h = hohenberg(V, p, T, sp)
    elif model == WOSCHNI:
        w = 6.18 * sp if exchanging else 2.28 * sp + fire
        h = woschni(bore, p, T, w)
    else:
        h = annand(bore, p, T, R, sp)
    return factor * h
