"""Settings of the march, with what they mean."""

from __future__ import annotations

from dataclasses import dataclass

from pullcast.errors import InputError


@dataclass(frozen=True)
class Numerics:
    """How finely and how long to march.

    cell: target cell length, m, in pipes of cold gas; pipes of hot exhaust gas get cells ``hot_stretch`` times as
    long, so that sound crosses either in about the same time. cfl: Courant number (below 1). relaxation: time
    constant, s, with which marched pressure follows the energy books. max_step_deg: largest crank step. tolerance:
    largest relative change of trapped mass, work and pipe states from one cycle to the next at convergence.
    choking: False lets gas keep its density through intake valves and throttle plates, so that no speed of sound
    limits it there (waves only; for the ledger of volumetric efficiency, no engine does).
    """

    cell: float = 0.025
    hot_stretch: float = 1.5
    cfl: float = 0.8
    relaxation: float = 1.0e-3
    max_step_deg: float = 1.0
    tolerance: float = 1.0e-3
    min_cycles: int = 3
    max_cycles: int = 60
    choking: bool = True

    def __post_init__(self) -> None:
        """Refuse settings no march can use."""
        if not 0.002 <= self.cell <= 0.2:
            msg = f"cell length {1e3 * self.cell:g} mm is outside 2 to 200 mm; 15 to 25 mm suits most engines"
            raise InputError(msg)
        if not 0.05 <= self.cfl <= 0.95:
            msg = f"cfl {self.cfl:g} is outside 0.05 to 0.95; 0.8 is the default"
            raise InputError(msg)
