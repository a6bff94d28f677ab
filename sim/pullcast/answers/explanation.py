"""What an explained swap says, as finished values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pullcast.answers.attributes import Attribute
from pullcast.answers.cycle_evidence import Evidence
from pullcast.answers.shapley import Split
from pullcast.answers.ve_ledger import Ledger
from pullcast.results.html import answer_html

MECHANISMS = ("air taken in", "work from the air", "pumping", "friction")


@dataclass(frozen=True)
class Remedy:
    """The other engine with one attribute set back to the base's: ``torque`` (m,) N m, and ``regained``, the share of
    the band's loss it takes back (nan where the band lost nothing)."""

    attribute: str
    torque: np.ndarray
    band_gain: float
    regained: float


@dataclass(frozen=True)
class Limits:
    """What the recovered curve is held against: driveline torque (N m, None: not given), highest torque of base and
    other with their speeds, and hood heights (m, None: not known)."""

    driveline: float | None
    base_peak: tuple[float, float]
    other_peak: tuple[float, float]
    base_height: float | None = None
    other_height: float | None = None

    @property
    def on_purpose(self) -> bool:
        """Whether only the other engine keeps within the driveline's torque."""
        return self.driveline is not None and self.base_peak[0] > self.driveline >= self.other_peak[0]


@dataclass(frozen=True)
class Explanation:
    """Why two engines differ. Differences are other less base.

    ``speed`` (m,) rpm; ``torque_base`` and ``torque_other`` N m, ``ve_base`` and ``ve_other`` (m,); ``torque`` and
    ``ve`` the fair splits over ``attributes`` (n); ``weights`` (m,) of each speed in the mean over ``band`` (rpm,
    rpm); ``mechanisms`` (4, m) N m as ``MECHANISMS``; ``noise`` (m,) N m below which a part is not told from zero;
    ``plenum`` (2, m) depression of base and other, Pa; ``outside`` Pa.
    """

    base: str
    other: str
    swap: str
    fidelity: str
    attributes: tuple[Attribute, ...]
    speed: np.ndarray
    band: tuple[float, float]
    weights: np.ndarray
    torque_base: np.ndarray
    torque_other: np.ndarray
    ve_base: np.ndarray
    ve_other: np.ndarray
    torque: Split
    ve: Split
    mechanisms: np.ndarray
    noise: np.ndarray
    plenum: np.ndarray
    outside: float
    remedies: tuple[Remedy, ...]
    limits: Limits
    points: tuple[int, int]  # computed now, taken from the store
    ledgers: tuple[Ledger, Ledger] | None = None
    evidence: tuple[tuple[Evidence, Evidence], ...] = ()
    notes: tuple[str, ...] = ()
    version: str = ""

    @property
    def band_torque(self) -> float:
        """Mean torque of the base over the band, N m."""
        return float(self.weights @ self.torque_base)

    @property
    def band_difference(self) -> float:
        """Mean difference over the band, N m."""
        return float(self.weights @ (self.torque_other - self.torque_base))

    @property
    def band_parts(self) -> np.ndarray:
        """Mean part of each attribute over the band, N m, (n,)."""
        return self.torque.parts @ self.weights

    @property
    def band_noise(self) -> float:
        """N m of the band's mean below which a part is not told from zero."""
        return float(self.weights @ self.noise)

    @property
    def order(self) -> tuple[int, ...]:
        """Attributes by the size of their part over the band and at any speed, largest first."""
        size = np.abs(self.band_parts) + 0.1 * np.abs(self.torque.parts).max(axis=1, initial=0.0)
        return tuple(int(i) for i in np.argsort(-size, kind="stable"))

    @property
    def best_remedy(self) -> Remedy | None:
        """The one attribute that gives most of the band's loss back; None without a loss, or when none gives more
        than the noise."""
        best = max(self.remedies, key=lambda r: r.band_gain, default=None)
        if best is None or self.band_difference >= -self.band_noise or best.band_gain <= self.band_noise:
            return None
        return best

    def __repr__(self) -> str:
        """The difference over the band and its parts, percent of the base."""
        share = 100.0 / self.band_torque
        head = (f"{self.other} against {self.base}: {share * self.band_difference:+.2f} % torque from "
                f"{self.band[0]:.0f} to {self.band[1]:.0f} rpm ({self.fidelity} model)")
        rows = [f"  {self.attributes[i].name:22s} {share * self.band_parts[i]:+6.2f} %" for i in self.order]
        return "\n".join([head, *rows])

    def _repr_html_(self) -> str:
        share = 100.0 / self.band_torque
        rows = [(self.attributes[i].name, f"{share * self.band_parts[i]:+.2f}",
                 *(f"{v:+.1f}" for v in 100.0 * self.torque.parts[i] / self.torque_base)) for i in self.order]
        rows.append(("all together", f"{share * self.band_difference:+.2f}",
                     *(f"{v:+.1f}" for v in 100.0 * self.torque.whole / self.torque_base)))
        heads = ("torque, % of the base", "band", *(f"{s:.0f} rpm" for s in self.speed))
        return answer_html([repr(self).split("\n")[0]], heads, rows, self.notes)
