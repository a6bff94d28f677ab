"""What is not known of a base engine and its candidates, drawn once and shared by all of them (paired sampling).

A factor is one thing that can be this or that: a class default, or a value that a card gives with ``within``. Every
candidate that has it gets the same draw, so what is unknown about the base cancels in a difference. The dimensions
and losses of a part that a candidate swaps in are that part's own; two candidates with the same part share them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from pullcast.answers.unknowns import UNKNOWNS, put_all
from pullcast.card.engine import Assumed, Engine
from pullcast.card.reading import with_changes
from pullcast.card.tree import PARTS
from pullcast.errors import InputError

ENDS = 2.0  # a range ends two standard deviations from its middle; draws stay inside it
COMMON = ("wall_temperature", "heat_factor", "reverse_ratio")  # of the physics and the engine room, not of one part


@dataclass(frozen=True)
class Factor:
    """One unknown: the card ``key``, and whose it is: "" everybody's, else the part or value it belongs to."""

    key: str
    owner: str = ""

    @property
    def label(self) -> str:
        """The key, with the part it belongs to."""
        return f"{self.key} of {self.owner}" if self.owner else self.key


@dataclass(frozen=True)
class Entrant:
    """An engine that takes part: its name, what it changes on the base, the engine itself, and the keys whose values
    in it stand in place of the card's (of a calibration)."""

    name: str
    swaps: Mapping[str, Any]
    engine: Engine
    held: frozenset[str] = frozenset()

    def factor(self, key: str) -> Factor:
        """The factor that an assumed key of this engine is."""
        if key in self.swaps:
            return Factor(key, _text(self.swaps[key]))
        kind = key.split(".")[0]
        if kind in PARTS and kind in self.swaps and key.rpartition(".")[2] not in COMMON:
            return Factor(key, _text(self.swaps[kind]))
        return Factor(key)


def _text(value: Any) -> str:
    if isinstance(value, Mapping) and "value" in value:
        value = value["value"]
    return Path(value).stem if isinstance(value, str) and value.endswith(".toml") else str(value)


def factors_of(entrants: Sequence[Entrant]) -> tuple[Factor, ...]:
    """Every factor of the entrants, each once; ranges of no width are left out."""
    found = (e.factor(a.key) for e in entrants for a in e.engine.assumed if a.high > a.low)
    return tuple(dict.fromkeys(found))


def draws(factors: Sequence[Factor], count: int, seed: int) -> np.ndarray:
    """Standard normal draws (count, factors), a scrambled Sobol sequence (scipy.stats.qmc), cut at the range's ends.

    ``count`` is a power of two. Joe and Kuo (2008) direction numbers, Owen scrambling (both from memory).
    """
    from scipy.special import ndtr, ndtri
    from scipy.stats import qmc

    if count < 2 or count & (count - 1):
        msg = f"{count} samples: give a power of two from 2, such as 16 or 32, so that the draws stay balanced"
        raise InputError(msg)
    if not factors:
        return np.zeros((count, 0))
    u = qmc.Sobol(len(factors), scramble=True, rng=np.random.default_rng(seed)).random(count)
    tail = ndtr(-ENDS)
    return ndtri(tail + (1.0 - 2.0 * tail) * u)


def at(assumed: Assumed, z: float) -> float:
    """The value of an assumed key ``z`` standard deviations from its middle, each side as wide as its range says."""
    side = assumed.high - assumed.value if z > 0 else assumed.value - assumed.low
    return min(max(assumed.value + z / ENDS * side, assumed.low), assumed.high)


def engine_at(base_path: str | Path, entrant: Entrant, z: Mapping[Factor, float]) -> Engine:
    """The engine of an entrant with the factors of ``z`` moved that many standard deviations; others as they are."""
    moved, beside = {}, {}
    for a in entrant.engine.assumed:
        factor = entrant.factor(a.key)
        if factor in z or a.key in entrant.held:
            value = at(a, z.get(factor, 0.0))
            if a.key in UNKNOWNS and not UNKNOWNS[a.key].on_card:
                beside[a.key] = value
            else:
                moved[a.key] = f"{value:.9g} {a.unit}" if a.unit else float(f"{value:.9g}")
    return put_all(with_changes(base_path, {**entrant.swaps, **moved}), beside)
