"""Explain a swap: why one engine makes less torque than another, attribute by attribute and effect by effect.

1. the attribute groups in which the engines differ (``attributes``);
2. the engines between them, marched in parallel and stored (``solve.jobs``);
3. a fair split of the torque and VE difference at each speed and over the band (``shapley``);
4. the same difference by mechanism, and the ledger of VE of both engines (``ve_ledger``);
5. what happens in the cycle at chosen speeds (``cycle_evidence``);
6. which one attribute, set back, gives most back, and what the driveline says to that.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from pullcast.answers import shapley
from pullcast.answers.attributes import Attribute, between, differing
from pullcast.answers.curves import checked_speeds
from pullcast.answers.cycle_evidence import evidence
from pullcast.answers.explanation import Explanation, Limits, Remedy
from pullcast.answers.performance import performance
from pullcast.answers.tune import tuned_all
from pullcast.answers.ve_ledger import ve_ledger
from pullcast.card.engine import Engine
from pullcast.errors import InputError, SolveError
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.sweep import Failed

FEW = 5  # speeds taken from the card's when none are given


@dataclass(frozen=True)
class _Row:
    """What is kept of one point: torque N m, VE, gross, pumping and friction mean effective pressure, plenum Pa."""

    torque: float
    ve: float
    gross: float
    pumping: float
    friction: float
    plenum: float
    trouble: str


def explain(base: Engine | str | Path, swap: Engine | Mapping[str, Any], *, speeds: Sequence[float] | None = None,
            band: tuple[float, float] | None = None, fidelity: str = "wave", ledger: bool = True,
            show_at: Sequence[float] | None = None, numerics: Numerics | None = None, store=None,
            workers: int | None = None, on_tick: Callable | None = None, orders: int = shapley.PAIRS,
            tune: str = "fixed") -> Explanation:
    """Split the difference between two engines over what differs between them.

    Parameters
    ----------
    base
        An engine, or the path of its card.
    swap
        The other engine; with a card also the changes of it, as ``pullcast.card.with_changes`` takes them.
    speeds
        rpm; default: five of the card's.
    band
        (rpm, rpm) of the mean; default: from the first to the last speed.
    fidelity
        "wave" or "lumped" for the split. Ledger and evidence are always of the wave model.
    ledger, show_at
        Whether to make the VE ledgers; speeds (rpm) at which to keep the evidence of a cycle, default: where the loss
        is largest (none with "lumped").
    numerics, store, workers, on_tick
        As in ``pullcast.solve.jobs.run``.
    tune
        "fixed", or "mbt" or "knock-limited": each engine at its own best spark; what the change of spark is worth is
        then an attribute of its own.
    orders
        Pairs of orders drawn when more than six attributes differ.

    Raises InputError for engines that cannot be compared or a band beyond the speeds, SolveError when an engine
    between the two breaks down.

    """
    from pullcast import __version__

    first, other, told = _both(base, swap)
    rpm = np.array(checked_speeds(first, speeds if speeds is not None else _few(first.speeds)))
    if tune != "fixed":
        first, other = tuned_all([first, other], rpm, tune, fidelity=fidelity, numerics=numerics, store=store,
                                 workers=workers, on_tick=on_tick)
        told = f"{told} (both tuned: {tune})"
    band = _checked_band(band, rpm)
    attributes = differing(first, other)
    if not attributes:
        other = first  # nothing differs but names: one engine
    numerics = numerics or Numerics()
    rows, outcome = _march(first, other, attributes, rpm, fidelity, numerics, orders, store, workers, on_tick)
    n, full = len(attributes), 2 ** len(attributes) - 1
    torque = {mask: np.array([r.torque for r in row]) for mask, row in rows.items()}
    ve = {mask: np.array([r.ve for r in row]) for mask, row in rows.items()}
    weights = band_weights(rpm, band)
    how = {"numerics": numerics, "store": store, "workers": workers, "on_tick": on_tick}
    loss = torque[full] - torque[0]
    at = show_at if show_at is not None else ([] if fidelity == "lumped" else [float(rpm[np.argmax(np.abs(loss))])])
    seen = tuple((a, b) for a, b in evidence([first, other], checked_speeds(first, at), **how)) if len(at) else ()
    books = (ve_ledger(first, rpm, **how), ve_ledger(other, rpm, **how)) if ledger and fidelity == "wave" else None
    trouble = {f"{r.trouble}" for row in rows.values() for r in row if r.trouble}
    return Explanation(
        base=first.name, other=other.name, swap=told, fidelity=fidelity, attributes=attributes, speed=rpm, band=band,
        weights=weights, torque_base=torque[0], torque_other=torque[full], ve_base=ve[0], ve_other=ve[full],
        torque=shapley.split(torque, n, orders), ve=shapley.split(ve, n, orders),
        mechanisms=mechanisms(first, other, rows[0], rows[full]),
        noise=numerics.tolerance * torque[0], plenum=np.array([[e.day.pressure - r.plenum for r in rows[m]]
                                                               for e, m in ((first, 0), (other, full))]),
        outside=first.day.pressure, remedies=_remedies(attributes, torque, weights),
        limits=_limits(first, other, rpm, torque[0], torque[full]), points=(outcome.computed, outcome.stored),
        ledgers=books, evidence=seen, notes=(*outcome.warnings, *sorted(trouble)), version=__version__)


def _both(base: Engine | str | Path, swap: Engine | Mapping[str, Any]) -> tuple[Engine, Engine, str]:
    """Both engines, and the swap in words."""
    if isinstance(base, Engine):
        if not isinstance(swap, Engine):
            msg = "changes are made on a card: give the path of the base's card, or the other engine itself"
            raise InputError(msg)
        return base, swap, swap.name
    from pullcast.card.reading import read_engine, with_changes

    first = read_engine(base)
    if isinstance(swap, Engine):
        return first, swap, swap.name
    if not swap:
        msg = "nothing is swapped: give a part (intake=OTHER.toml) or a key (cam.advance=6 deg)"
        raise InputError(msg)
    told = ", ".join(f"{key} {Path(value).stem}" if str(value).endswith(".toml") else f"{key} = {value}"
                     for key, value in swap.items())
    return first, replace(with_changes(base, swap), name=f"{first.name} with {told}"), told


def _few(speeds: Sequence[float]) -> list[float]:
    """At most five speeds, spread evenly over those given."""
    if len(speeds) <= FEW:
        return list(speeds)
    return [float(speeds[i]) for i in sorted({round(k) for k in np.linspace(0, len(speeds) - 1, FEW)})]


def _checked_band(band: tuple[float, float] | None, rpm: np.ndarray) -> tuple[float, float]:
    if band is None:
        return float(rpm[0]), float(rpm[-1])
    low, high = band
    if not (rpm[0] <= low < high <= rpm[-1]):
        msg = (f"the band {low:g} to {high:g} rpm must rise and lie within the speeds {rpm[0]:g} to {rpm[-1]:g} rpm: "
               "compute more speeds or narrow the band")
        raise InputError(msg)
    return float(low), float(high)


def band_weights(rpm: np.ndarray, band: tuple[float, float]) -> np.ndarray:
    """Weights (m,) of the speeds in the mean of the straight-line curve over the band; they sum to 1."""
    if len(rpm) == 1:
        return np.ones(1)
    inside = np.unique(np.concatenate([band, rpm[(rpm > band[0]) & (rpm < band[1])]]))
    hats = np.array([np.interp(inside, rpm, np.eye(len(rpm))[k]) for k in range(len(rpm))])
    return np.trapezoid(hats, inside, axis=1) / (band[1] - band[0])


def _march(base: Engine, other: Engine, attributes: tuple[Attribute, ...], rpm: np.ndarray, fidelity: str,
           numerics: Numerics, orders: int, store, workers, on_tick):
    """Rows of every combination needed, by mask, and the outcome of the run."""
    names, n = [a.name for a in attributes], len(attributes)
    full = 2**n - 1
    masks = sorted({*shapley.combinations_needed(n, orders), *(full ^ (1 << i) for i in range(n))})
    engines = {m: between(base, other, {names[i] for i in range(n) if m >> i & 1}, names) for m in masks}
    jobs = [Job(engines[m], float(r), fidelity, numerics) for m in masks for r in rpm]
    outcome = run(jobs, store=store, workers=workers, on_tick=on_tick)
    rows: dict[int, list[_Row]] = {}
    for m, i in ((m, i) for i, m in enumerate(masks)):
        points = outcome.results[i * len(rpm):(i + 1) * len(rpm)]
        rows[m] = [_row(engines[m], p, _told(names, m)) for p in points]
    return rows, outcome


def _told(names: list[str], mask: int) -> str:
    taken = [name for i, name in enumerate(names) if mask >> i & 1]
    return "the base" if not taken else f"the base with {', '.join(taken)} of the other"


def _row(engine: Engine, point, what: str) -> _Row:
    if isinstance(point, Failed):
        msg = f"the engine between the two ({what}) could not be computed, so there is no split: {point.message}"
        raise SolveError(msg, rpm=point.rpm, component=what)
    p = performance(engine, point)
    trouble = f"{what}, {point.rpm:g} rpm: {point.status}" if point.status else ""
    return _Row(float(p["torque"]), float(p["volumetric_efficiency"]), float(p["gross_imep"]), float(p["pmep"]),
                float(p["fmep"]), float(p["plenum_pressure"]), trouble)


def mechanisms(base: Engine, other: Engine, before: list[_Row], after: list[_Row]) -> np.ndarray:
    """The torque difference (4, m), N m, as ``explanation.MECHANISMS``: more or less air, more or less work from each
    unit of it (burning, heat loss, residual), pumping, friction. The first two share their product evenly, so that
    the four sum to the difference."""
    made = []
    size = (base.block.displacement / (4 * np.pi), other.block.displacement / (4 * np.pi))
    for a, b in zip(before, after, strict=True):
        gross = a.gross * size[0], b.gross * size[1]
        work = gross[0] / a.ve, gross[1] / b.ve
        made.append([(b.ve - a.ve) * 0.5 * (work[0] + work[1]), (work[1] - work[0]) * 0.5 * (a.ve + b.ve),
                     b.pumping * size[1] - a.pumping * size[0], a.friction * size[0] - b.friction * size[1]])
    return np.array(made).T


def _remedies(attributes: tuple[Attribute, ...], torque: dict[int, np.ndarray],
              weights: np.ndarray) -> tuple[Remedy, ...]:
    n = len(attributes)
    full = 2**n - 1
    loss = float(weights @ (torque[0] - torque[full]))
    made = []
    for i, attribute in enumerate(attributes):
        curve = torque[full ^ (1 << i)]
        gain = float(weights @ (curve - torque[full]))
        made.append(Remedy(attribute.name, curve, gain, gain / loss if loss > 0.0 else np.nan))
    return tuple(sorted(made, key=lambda r: -r.band_gain))


def _limits(base: Engine, other: Engine, rpm: np.ndarray, torque: np.ndarray, less: np.ndarray) -> Limits:
    def peak(curve: np.ndarray) -> tuple[float, float]:
        k = int(np.argmax(curve))
        return float(curve[k]), float(rpm[k])

    return Limits(base.limits.driveline_torque, peak(torque), peak(less), base.intake.facts.get("hood_height"),
                  other.intake.facts.get("hood_height"))
