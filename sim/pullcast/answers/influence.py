"""Which single unknown matters most to an order, and what measuring it would help."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullcast.answers.sampling import Factor
from pullcast.answers.unknowns import UNKNOWNS

LOOKED_AT = 6  # factors that are changed alone, after the samples have pointed to them
DECIDES = 0.05  # of the variance: a smaller share decides nothing
# how a thing is measured in an engine room, by the last part of its key or the whole key (common practice, no source)
HOW = {
    "length": "with a tape", "lengths": "with a tape", "body_length": "with a tape", "diameter": "with a caliper",
    "id": "with a caliper", "od": "with a caliper", "area": "with a caliper or a mould", "volume": "with a burette",
    "chamber": "with a burette", "compression_ratio": "with a burette", "piston_dish": "with a burette",
    "deck_clearance": "with a dial gauge", "spark": "with a timing light", "lash": "with a feeler gauge",
    "advance": "with a degree wheel", "centreline": "with a degree wheel", "valve_lift": "with a dial gauge",
    "lobe_lift": "with a dial gauge", "seat_angle": "from the valve job", "merge_half_angle": "with a protractor",
    "wall_temperature": "with an infrared thermometer on a warm engine", "fuel.temperature": "with a thermometer",
    "roughness": "with a roughness comparator", "lambda": "with a wideband probe",
    "reverse_ratio": "on a flow bench, blown backwards", "entry_loss": "on a flow bench, runner alone",
    "bend_loss": "on a flow bench, part alone", "inlet_loss": "on a flow bench, throttle alone",
    "loss_from": "on a flow bench, part alone", "loss_to": "on a flow bench, part alone",
}
FIT = "not directly; baseline pulls narrow it by calibration"
RANGE = "not directly; its range is all there is"


def chance_text(chance: float) -> str:
    """A chance in whole percent; never 0 or 100, which draws cannot show.

    >>> chance_text(0.714), chance_text(1.0)
    ('71', '>99')
    """
    return "<1" if chance < 0.01 else ">99" if chance > 0.99 else f"{100 * chance:.0f}"


def percent_text(share: float) -> str:
    """A share in whole percent; one that is not nothing is never 0.

    >>> percent_text(0.002), percent_text(0.31)
    ('below 1', '31')
    """
    return "below 1" if share < 0.01 else f"{100 * share:.0f}"


@dataclass(frozen=True)
class Influence:
    """The unknown that decides most between two engines.

    ``share`` of the variance of their difference that it holds (0 to 1); ``slope`` change of the difference
    (fraction) per standard deviation; ``chance`` that the order is right now, and ``measured`` on average once it is
    known; ``how`` it is measured. ``others`` are (label, share) of the next ones.
    """

    first: str
    second: str
    label: str
    key: str
    share: float
    slope: float
    chance: float
    measured: float
    how: str
    others: tuple[tuple[str, float], ...] = ()

    def __repr__(self) -> str:
        """Two sentences, or one when nothing decides."""
        if self.share < DECIDES:
            return (f"Between {self.first} and {self.second} no single unknown decides: measuring one alone would "
                    f"not help (the largest share of what is open is {percent_text(self.share)} %: {self.label}).")
        return (f"Between {self.first} and {self.second} most depends on {self.label} ({percent_text(self.share)} % "
                f"of what is open). Measured ({self.how}), the chance of having the order right goes from "
                f"{chance_text(self.chance)} to {chance_text(self.measured)} % on average.")


def how_measured(key: str) -> str:
    """How a card's key is measured, or that it is not."""
    return HOW.get(key) or HOW.get(key.rpartition(".")[2]) or (FIT if key in UNKNOWNS else RANGE)


def suspects(factors: Sequence[Factor], z: np.ndarray, difference: np.ndarray, most: int = LOOKED_AT,
             own: Sequence[int] = ()) -> list[int]:
    """Indices of the factors whose draws ``z`` (s, f) go most with the ``difference`` (s,): largest correlation.

    Of ``own``, which only one of the two engines has and which therefore do not cancel, up to half are taken first:
    with few draws and many factors chance correlations are large.
    """
    if z.shape[0] < 4 or not factors or np.ptp(difference) == 0.0:
        return []
    x, y = z - z.mean(axis=0), difference - difference.mean()
    size = np.linalg.norm(x, axis=0) * np.linalg.norm(y)
    r = np.abs(x.T @ y) / np.where(size > 0.0, size, np.inf)
    falling = [int(k) for k in np.argsort(-r) if r[k] > 0.0]
    first = [k for k in falling if k in set(own)][:most // 2]
    return first + [k for k in falling if k not in first][:most - len(first)]


def expected_after(centre: float, slope: float, rest: float) -> float:
    """Mean chance of having the order right once the factor is known: the difference is ``centre + slope x`` with x
    standard normal, and ``rest`` the standard deviation of what stays unknown."""
    from scipy.special import ndtr

    x = np.linspace(-2.0, 2.0, 81)
    weight = np.exp(-0.5 * x**2)
    p = ndtr((centre + slope * x) / max(rest, 1e-12))
    return float(weight @ np.maximum(p, 1.0 - p) / weight.sum())
