"""The fuels pullcast ships gas tables for: what they are made of, and their heat of evaporation.

A fuel is a blend of pure components. Hydrocarbon petrol is a surrogate of three:
55 % isooctane, 17 % n-heptane, 28 % toluene by liquid volume. Its H/C is 1.87, the
value Heywood 1988, table D.4, gives for gasoline (from memory); its lower heating
value (vapour) follows from its components: 43.5 MJ/kg. The three-component kind of
surrogate is that of Gauthier, Davidson & Hanson 2004, Combust. Flame 139 (from memory);
the shares are ours.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from pullcast.errors import InputError


@dataclass(frozen=True)
class Component:
    """A pure fuel. ``species`` names it in the NASA thermodynamic data; density of the liquid at 20 C, kg/m3
    (0 for a gas); heat of evaporation at 298.15 K, J/kg."""

    species: str
    molar_mass: float  # kg/mol
    density: float
    evaporation: float


# Liquid densities: CRC Handbook (from memory), kg/m3 at 20 C. Heats of evaporation at 298.15 K: enthalpies of
# vaporisation of Majer & Svoboda 1985 (from memory), kJ/mol, over the molar mass. Methane and propane reach
# the engine as gas: 0.
ISOOCTANE = Component("C8H18,isooctane", 0.114232, 692.0, 35.14e3 / 0.114232)
HEPTANE = Component("C7H16,n-heptane", 0.100205, 684.0, 36.57e3 / 0.100205)
TOLUENE = Component("C7H8", 0.092141, 867.0, 38.01e3 / 0.092141)
ETHANOL = Component("C2H5OH", 0.046069, 789.0, 42.32e3 / 0.046069)
METHANOL = Component("CH3OH", 0.032042, 792.0, 37.43e3 / 0.032042)
PROPANE = Component("C3H8", 0.044097, 0.0, 0.0)
METHANE = Component("CH4", 0.016043, 0.0, 0.0)

_PETROL = ((ISOOCTANE, 0.55), (HEPTANE, 0.17), (TOLUENE, 0.28))


@dataclass(frozen=True)
class Recipe:
    """A fuel by its key: components with their share (of liquid volume; a single gas: 1)."""

    key: str
    title: str
    parts: tuple[tuple[Component, float], ...]

    def mass_fractions(self) -> tuple[tuple[Component, float], ...]:
        """Components with their mass fraction (sums to 1)."""
        mass = [(c, share * (c.density or 1.0)) for c, share in self.parts]
        total = sum(m for _, m in mass)
        return tuple((c, m / total) for c, m in mass)

    def mole_fractions(self) -> dict[str, float]:
        """Species name to mole fraction (sums to 1)."""
        mole = {c.species: y / c.molar_mass for c, y in self.mass_fractions()}
        total = sum(mole.values())
        return {name: n / total for name, n in mole.items()}

    @property
    def evaporation(self) -> float:
        """Heat of evaporation at 298.15 K, J/kg (ideal blend: mass-weighted)."""
        return sum(y * c.evaporation for c, y in self.mass_fractions())


def _with_ethanol(key: str, title: str, share: float) -> Recipe:
    return Recipe(key, title, ((ETHANOL, share), *((c, x * (1.0 - share)) for c, x in _PETROL)))


FUELS = {
    r.key: r
    for r in (
        Recipe("petrol", "petrol (hydrocarbon surrogate, H/C 1.87)", _PETROL),
        _with_ethanol("e10", "petrol with 10 % ethanol by volume", 0.10),
        _with_ethanol("e85", "E85, summer grade: 83 % ethanol by volume", 0.83),
        _with_ethanol("e85_winter", "E85, winter grade: 51 % ethanol by volume", 0.51),
        Recipe("ethanol", "ethanol", ((ETHANOL, 1.0),)),
        Recipe("methanol", "methanol", ((METHANOL, 1.0),)),
        Recipe("propane", "propane, supplied as gas", ((PROPANE, 1.0),)),
        Recipe("methane", "methane", ((METHANE, 1.0),)),
        Recipe("isooctane", "isooctane", ((ISOOCTANE, 1.0),)),
    )
}
ALIASES = {"gasoline": "petrol", "e0": "petrol", "e85_summer": "e85", "e100": "ethanol", "m100": "methanol",
           "lpg": "propane", "cng": "methane"}


def fuel_recipe(key: str) -> Recipe:
    """The recipe of a fuel key (case and the marks ``-``, space do not matter).

    Raises InputError naming the nearest keys when the key is unknown.

    >>> fuel_recipe("E85 winter").title
    'E85, winter grade: 51 % ethanol by volume'
    """
    plain = str(key).strip().lower().replace("-", "_").replace(" ", "_")
    plain = ALIASES.get(plain, plain)
    if plain in FUELS:
        return FUELS[plain]
    near = difflib.get_close_matches(plain, [*FUELS, *ALIASES], n=3, cutoff=0.5)
    hint = f"did you mean {' or '.join(near)}? " if near else ""
    msg = f"no gas table for fuel {key!r}: {hint}Known fuels: {', '.join(sorted(FUELS))}."
    raise InputError(msg)
