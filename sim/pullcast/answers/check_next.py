"""The one cheapest check that tells the two most likely causes apart, and what it would read for either.

Order of cost and precision of each check are common practice with no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

CLEAR = 3.0  # standard deviations by which readings must differ
# reading: (cost, standard deviation, what to do, how it is told: a number, or what is seen without and with it)
CHECKS = {
    "throttle opening": (1.0, 4.0, "look at the throttle at full pedal", "{:.0f} % of the area open"),
    "air temperature": (1.2, 2.0, "put a probe in the intake", "{:.0f} °C"),
    "oil temperature": (1.2, 4.0, "read the oil temperature at the start of the pull", "{:.0f} °C"),
    "lambda": (1.5, 0.015, "read lambda at the top of the pull", "lambda {:.2f}"),
    "knock log": (1.5, 0.1, "look at the knock log about the torque peak", ("no knock", "knock control at work")),
    "plenum pressure": (2.0, 0.4, "read the plenum pressure at full throttle, top speed", "{:.1f} kPa"),
    "timing high": (2.0, 1.0, "put a timing light on it at the top speed", "{:+.0f} deg off"),
    "timing low": (2.0, 1.0, "put a timing light on it at the bottom speed", "{:+.0f} deg off"),
    "coldest primary": (2.0, 60.0, "compare the primaries' temperatures", "coldest {:+.0f} K off the others"),
    "runner length": (2.3, 3.0, "measure the runner with a tape, from plenum to head", "{:.0f} mm"),
    "runner section": (2.4, 0.4, "measure the runner's section with a gauge", "{:.1f} cm2"),
    "runner inside": (2.5, 0.1, "look into the runner and the port with a light", ("clear", "something in the way")),
    "exhaust temperature": (2.5, 12.0, "read the exhaust temperature at the top speed", "{:.0f} °C"),
    "cranking pressure": (3.0, 0.5, "measure the cranking pressure", "{:.1f} bar"),
    "leak down": (3.5, 3.0, "do a leak-down test", "{:.0f} %"),
    "spring load": (4.0, 5.0, "check lash and springs", "{:+.0f} % off"),
    "back pressure": (4.0, 1.0, "measure the exhaust back pressure at the top speed", "{:.1f} kPa"),
    "cam centreline": (5.0, 1.0, "degree the cam", "{:+.0f} deg off"),
}


@dataclass(frozen=True)
class Check:
    """What to read, what to do, the two causes and what each would read (as told), and by how many sd they differ."""

    reading: str
    do: str
    causes: tuple[str, str]
    reads: tuple[str, str]
    apart: float

    @property
    def sentence(self) -> str:
        """The check in one sentence."""
        return (f"{self.do}: {self.reads[0]} if it is {self.causes[0]}, {self.reads[1]} if it is {self.causes[1]}.")


def _read(text: str | tuple[str, str], value: float) -> str:
    return text.format(value) if isinstance(text, str) else text[value > 0.25]


def next_check(causes: Sequence) -> Check | None:
    """The cheapest check whose readings differ clearly between the first two of ``causes`` (``diagnose.Cause``).

    When none is clear the one with the largest difference that is worth its cost; repeating the baseline where the
    readings of both are the same (then it is the measurement that must be settled).
    """
    if len(causes) < 2:
        return None
    a, b = causes[0], causes[1]
    rows = []
    for key, (cost, sd, do, text) in CHECKS.items():
        x, y = a.readings.get(key, np.nan), b.readings.get(key, np.nan)
        if np.isfinite(x) and np.isfinite(y) and x != y:
            rows.append((abs(x - y) / sd, cost, key, do, (_read(text, x), _read(text, y))))
    clear = sorted((r for r in rows if r[0] >= CLEAR), key=lambda r: r[1])
    best = clear[0] if clear else max(rows, key=lambda r: r[0] / r[1], default=None)
    if best is None or best[0] < 1.0:
        told = tuple(f"{100 * (np.exp(float(np.mean(c.curve))) - 1):+.1f} % on average" if c.key != "measurement" else
                     "another difference than before" for c in (a, b))
        return Check("repeat", "go back to the baseline, then put the part on again and repeat the pulls",
                     (a.name, b.name), told, 0.0)
    return Check(best[2], best[3], (a.name, b.name), best[4], best[0])
