"""How much of an alcohol fuel can evaporate before the intake valve: its own cooling soon leaves the air saturated.

Vapour pressures by Antoine's equation, log10(p/mmHg) = A - B/(C + t/C): ethanol 8.20417, 1642.89, 230.300; methanol
8.08097, 1582.271, 239.726 (tables of Gmehling & Onken 1977, from memory). The alcohol of a blend is taken as if alone
(no activity), its petrol as evaporating by the stated share. Heat from walls on the way is one temperature rise.
"""

from __future__ import annotations

from pullcast.card.engine import Engine
from pullcast.gasdata.fuels import ETHANOL, METHANOL, fuel_recipe
from pullcast.gasdata.tables import gas_table
from pullcast.kernels.gas import mix_cp

ANTOINE = {"ethanol": (8.20417, 1642.89, 230.300), "methanol": (8.08097, 1582.271, 239.726)}
WARMED = 15.0  # K, by walls of the intake on the way (common practice, no source; 5 to 30)
AIR_MOLAR = 0.028965
MMHG = 133.322


def vapour_pressure(alcohol: str, temperature: float) -> float:
    """Pa, at ``temperature`` K, 240 to 350 K.

    >>> round(vapour_pressure("ethanol", 298.15))
    7828
    """
    a, b, c = ANTOINE[alcohol]
    return MMHG * 10.0 ** (a - b / (c + temperature - 273.15))


def evaporable(engine: Engine) -> float:
    """Largest share of the fuel's heat of evaporation that saturated air leaves room for before the valve, 0 to 1.

    1 for fuels without alcohol.
    """
    recipe = fuel_recipe(engine.fuel.key)
    parts = dict(recipe.mass_fractions())
    found = [(name, c) for name, c in (("ethanol", ETHANOL), ("methanol", METHANOL)) if parts.get(c, 0.0) > 0.0]
    if not found:
        return 1.0
    name, alcohol = found[0]
    gas = gas_table(engine.fuel.key, engine.mixture.lambda_)
    afr, y = float(gas.mix[2]), parts[alcohol]
    heat, total = y * alcohol.evaporation, recipe.evaporation  # J per kg of fuel
    start = engine.day.temperature + WARMED
    cp = (1.0 + afr) * float(mix_cp(gas, start, 1.0 / (1.0 + afr), 0.0))
    others = engine.mixture.evaporated * (total - heat)
    moles = y / alcohol.molar_mass / (afr / AIR_MOLAR)  # of alcohol per mole of air, all evaporated

    def room(share: float) -> float:
        T = start - (others + share * heat) / cp
        return vapour_pressure(name, max(T, 230.0)) - engine.day.pressure * share * moles / (1.0 + share * moles)

    if room(1.0) >= 0.0:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if room(middle) > 0.0 else (low, middle)
    return (others + low * heat) / total if room(0.0) > 0.0 else others / total
