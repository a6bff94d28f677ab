"""The page's tables as plain texts: numbers now and of the base, limits, what follows, what was assumed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from pullcast import units as u
from pullcast.answers.check import Review
from pullcast.card.classes import CLASSES
from pullcast.card.derived import MEAN_OPEN, choked_air, piston_speed
from pullcast.card.engine import Engine
from pullcast.results.variables import variable
from pullcast.show.findings import ORDER, value_text
from pullcast.show.lab.readings import Curve
from pullcast.show.lab.telling import shown

AT_SPEED = ("volumetric_efficiency", "bmep", "pmep", "fmep", "bsfc", "airflow", "residual_fraction",
            "plenum_pressure", "peak_pressure", "spark", "ca50", "exhaust_temperature", "port_mach_mean")
MACH_INDEX = 0.6  # Taylor 1985, vol. 1, ch. 6 (from memory): volumetric efficiency falls beyond it
PASSED = "passed"


@dataclass(frozen=True)
class Sheet:
    """A table: ``right`` are the columns of numbers, ``marks`` a word for a row ("changed", "passed") or ""."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    marks: tuple[str, ...] = ()

    def plain(self) -> dict[str, object]:
        """As the page takes it."""
        marks = self.marks or ("",) * len(self.rows)
        return {"caption": self.caption, "heads": list(self.heads), "rows": [list(r) for r in self.rows],
                "right": list(self.right), "marks": list(marks)}


def numbers(now: Curve, base: Curve, rpm: float, model: str, units: str) -> Sheet:
    """Peaks and the numbers at one speed, now and of the base, by one model."""
    rows = [_peak_row(name, now, base, units) for name in ("torque", "power")]
    mean = [_mean(c) for c in (now, base)]
    rows.append(("mean torque over the range", *(shown("torque", v, units) for v in mean),
                 _less("torque", mean[0], mean[1], units)))
    for name in ("torque", "power", *AT_SPEED):
        a, b = now.at(name, rpm), base.at(name, rpm)
        if math.isfinite(a):
            head = variable(name).long_name.split(":")[0].split(" (")[0]
            rows.append((f"{head} at {rpm:.0f} rpm", shown(name, a, units), shown(name, b, units),
                         _less(name, a, b, units)))
    return Sheet(f"By the {model} model", ("", "now", "base", "now less base"), tuple(rows), (1, 2, 3))


def _peak_row(name: str, now: Curve, base: Curve, units: str) -> tuple[str, ...]:
    peaks = [c.peak(name) for c in (now, base)]
    cells = ["–" if p is None else f"{shown(name, p[0], units)} at {p[1]:.0f}" for p in peaks]
    apart = "–" if None in peaks else _less(name, peaks[0][0], peaks[1][0], units)
    return (f"peak {name}", *cells, apart)


def _mean(curve: Curve) -> float:
    values = curve.column("torque")
    return float(values.mean()) if values.size else math.nan


def _less(name: str, a: float, b: float, units: str) -> str:
    """The difference of two values with its sign, in the variable's unit."""
    if not (math.isfinite(a) and math.isfinite(b)):
        return "–"
    s = variable(name).shown(units)
    apart = (a - b) * s.factor
    return f"{apart:+.{s.digits}f}" if abs(apart) >= 0.5 * 10.0**-s.digits else "0"


def limits(engine: Engine, curve: Curve, units: str) -> Sheet:
    """What stands beside the power: each number, its limit, and what the limit is."""
    found = [row for row in _limited(engine, curve) if math.isfinite(row[1])]
    rows = [(what, value_text(value, kind, units), value_text(most, kind, units), why)
            for what, value, most, kind, why in found]
    return Sheet("Limits; a row in bold red has passed its limit", ("", "now", "limit", ""), tuple(rows), (1, 2),
                 tuple(PASSED if value > most else "" for _, value, most, _, _ in found))


def _limited(engine: Engine, curve: Curve) -> list[tuple[str, float, float, str, str]]:
    top, stated = engine.limits.rpm, engine.limits.piston_speed
    rows = [("mean piston speed", piston_speed(engine, top), stated or CLASSES[engine.engine_class].limits[
        "piston_speed"].high, "speed", f"at {top:.0f} rpm; {'from the card' if stated else 'usual in the class'}"),
        ("knock integral", _highest(curve, "knock_integral"), 1.0, "", "end gas ignites by itself at 1"),
        ("inlet Mach index", _highest(curve, "inlet_mach_index"), MACH_INDEX, "", "filling falls beyond it"),
        ("injector duty", _highest(curve, "injector_duty"), MEAN_OPEN, "percentage", "usual (common practice)")]
    if engine.limits.driveline_torque is not None:
        rows.append(("torque into the driveline", _highest(curve, "torque"), engine.limits.driveline_torque, "torque",
                     "from the card"))
    ceiling = choked_air(engine)
    if ceiling is not None:
        rows.append((f"air through the {ceiling[1]}", _highest(curve, "airflow"), ceiling[0], "mass flow",
                     "it would choke"))
    return rows


def _highest(curve: Curve, name: str) -> float:
    peak = curve.peak(name)
    return math.nan if peak is None else peak[0]


def derived(now: Review, base: Review, units: str) -> Sheet:
    """Numbers that follow from the card, now and of the base."""
    before = {d.name: value_text(d.value, d.unit_quantity, units) for d in base.derived}
    rows = [(d.name, value_text(d.value, d.unit_quantity, units), before.get(d.name, "–"), d.note)
            for d in now.derived]
    return Sheet("What follows from the card without a simulation (changed rows in bold)", ("", "now", "base", ""),
                 tuple(rows), (1, 2), tuple("changed" if r[1] != r[2] else "" for r in rows))


def assumed(review: Review, units: str) -> Sheet:
    """Every value the card does not give, with its range."""
    rows = [(a.key, *(value_text(x, u.kind_of(a.unit), units) for x in (a.value, a.low, a.high)), a.why)
            for a in review.assumed]
    return Sheet("Not on the card, or given with a doubt; these ranges are what a forecast is uncertain by",
                 ("key", "taken", "from", "to", "why"), tuple(rows), (1, 2, 3))


def findings(review: Review, troubles: Sequence[str]) -> list[list[str]]:
    """Contradictions first, then doubts and notes; speeds without a result."""
    ordered = sorted(review.findings, key=lambda f: ORDER.get(f.level, len(ORDER)))
    told = [[f.level, f"{f.key}: {f.text}.".replace("..", "."), f.remedy] for f in ordered]
    told += [["no result", f"{t}.".replace("..", "."), ""] for t in troubles[:4]]
    return told or [["", "Nothing on the card contradicts itself or stands outside what is usual.", ""]]
