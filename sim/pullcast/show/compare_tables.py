"""A forecast held against pulls as tables for a terminal, and as one JSON document with unit-suffixed keys."""

from __future__ import annotations

import math

import numpy as np
from rich import box
from rich.console import Group
from rich.table import Table
from rich.text import Text

from pullcast import units as u
from pullcast.answers.comparison import Comparison, DifferenceScore, PartScore, RankScore, Scored, reach
from pullcast.answers.ledger_score import LedgerScore
from pullcast.show import CAUTION
from pullcast.show.judge_tables import SUFFIX

NOTHING = "–"


def comparison_view(c: Comparison, units: str = "si") -> Group:
    """What ``pullcast compare`` prints: the seal, parts, peaks, differences, order, and what to mind."""
    seal = f"forecast sealed {c.sealed_utc}, seal {c.sealed[:16]}" if c.sealed else "forecast not sealed"
    parts = [Text(repr(c.session), style="bold"), Text(seal), Text("")]
    parts += [parts_table(c, units), peaks_table(c, units)]
    if c.differences:
        parts += [differences_table(c)]
        parts += [Text(line) for line in difference_lines(c)]
    if c.rank is not None:
        parts.append(Text(rank_line(c.rank, c.level)))
    parts += [Text(f"not scored, {p.part}, {p.what}: {p.refused}") for p in c.parts if p.refused]
    parts += [Text(f"note: {n}") for n in c.notes]
    return Group(*parts, Text(""), Text(CAUTION, style="dim"))


def _table(*heads: str, left: tuple[str, ...] = ("part",)) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, collapse_padding=True, header_style="")
    for head in heads:
        table.add_column(head, justify="left" if head in left else "right")
    return table


def parts_table(c: Comparison, units: str) -> Table:
    """Predicted and measured value of each part, the error, and whether it was inside what was stated."""
    kind = "power" if c.parts[0].unit == "W" else "torque"
    label = u.unit_label(kind, units)
    table = _table("part", f"predicted\n{label}", f"measured\n{label}", "error\n%",
                   f"stated ±\n{100 * c.level:.0f} %, %", "inside")
    for p in c.parts:
        kind, e = "power" if p.unit == "W" else "torque", p.percent
        table.add_row(Text(f"{p.part}, {p.what}"), *(_number(getattr(p.value, n), kind, units)
                                                     for n in ("predicted", "measured")),
                      f"{e.error:+.2f}", _stated(e, c.level), _yes(e.inside(c.level)))
    return table


def peaks_table(c: Comparison, units: str) -> Table | Text:
    """Speed and height of the peaks; an empty line when none is inside the measured range."""
    rows = [(p, k) for p in c.parts for k in p.peaks]
    if not rows:
        return Text("")
    table = _table("part", "peak of", "predicted\nrpm", "measured\nrpm", "off\nrpm", "scatter\nrpm", "height off\n%",
                   left=("part", "peak of"))
    for p, k in rows:
        table.add_row(p.part, k.metric, f"{k.predicted_rpm:.0f}", f"{k.measured_rpm:.0f}", f"{k.rpm_error:+.0f}",
                      f"{k.rpm_sd:.0f}", f"{100 * (k.predicted / k.measured - 1):+.2f}")
    return table


def differences_table(c: Comparison) -> Table:
    """Predicted and measured differences to the baseline with both intervals."""
    span = f"{100 * c.level:.0f} %\ninterval"
    table = _table("difference", "predicted\n%", span, "measured\n%", span, "off\n%", "inside", "sign",
                   left=("difference",))
    for d in c.differences:
        v = d.value
        peak = f" {d.what}" if c.band is None else ""
        table.add_row(f"{d.part} - {d.baseline}{peak}", f"{v.predicted:+.2f}", _span(v, "predicted", c.level),
                      f"{v.measured:+.2f}", _span(v, "measured", c.level), f"{v.error:+.2f}",
                      _yes(v.inside(c.level)), {None: "not resolved", True: "right", False: "WRONG"}[d.sign_agrees])
    return table


def difference_lines(c: Comparison) -> list[str]:
    """Where the predicted difference is farthest from the measured one, and what must not be scored."""
    lines = []
    for d in c.differences:
        if d.refused:
            lines.append(f"not scored, {d.part} against {d.baseline}: {d.refused}")
        if d.rpm is not None and d.rpm.size:
            off = d.predicted - d.measured
            k = int(np.argmax(np.abs(off)))
            lines.append(f"{d.part} against {d.baseline}: forecast farthest off at {d.rpm[k]:.0f} rpm, predicted "
                         f"{d.predicted[k]:+.1f} %, measured {d.measured[k]:+.1f} %")
        share = d.share_inside(c.level)
        if share is not None:
            alone = " although the band agrees" if share < 0.5 and d.value.inside(c.level) else ""
            lines.append(f"  both curves meet within their intervals at {100 * share:.0f} % of the speeds{alone}")
    return lines


def rank_line(rank: RankScore, level: float) -> str:
    """The agreement of order in one sentence."""
    def told(name: str, v: tuple[float, float, float]) -> str:
        return f"{name} {v[0]:+.2f} ({v[1]:+.2f} to {v[2]:+.2f})"

    best = "the best part was foretold" if rank.best else "another part was best than foretold"
    scores = f"{told('Kendall tau', rank.kendall)}, {told('Spearman rho', rank.spearman)}"
    return f"order of {len(rank.parts)} parts: {scores}, {100 * level:.0f} % for the noise of the pulls; {best}"


def ledger_view(score: LedgerScore) -> Group:
    """The score of a ledger for the terminal."""
    head, *rest = repr(score).split("\n")
    return Group(Text(head, style="bold"), *(Text(line) for line in rest))


def comparison_document(c: Comparison, units: str = "si") -> dict:
    """The whole comparison as plain values; keys carry their unit; percent is predicted less measured."""
    return {
        "title": c.session.title, "basis": c.setting.basis, "band_rpm": list(c.band) if c.band else None,
        "level": c.level, "seal": c.sealed, "sealed_utc": c.sealed_utc, "calibrated": c.calibrated,
        "parts": [_part(p, c.level, units) for p in c.parts],
        "differences": [_difference(d, c.level) for d in c.differences],
        "rank": None if c.rank is None else {
            "parts": list(c.rank.parts), "kendall_tau": list(map(_plain, c.rank.kendall)),
            "spearman_rho": list(map(_plain, c.rank.spearman)), "best_foretold": c.rank.best},
        "notes": list(c.notes),
    }


def ledger_document(score: LedgerScore) -> dict:
    """The score of a ledger as plain values."""
    def errors(values: np.ndarray, unit: str) -> dict:
        return {"count": int(values.size),
                f"mean_abs_{unit}": float(np.abs(values).mean()) if values.size else None,
                f"mean_{unit}": float(values.mean()) if values.size else None}

    def share(s) -> dict:
        low, high = s.interval
        return {"hits": s.hits, "count": s.count, "share": _plain(s.value), "low_95": _plain(low),
                "high_95": _plain(high)}

    return {"comparisons": score.days, "sealed": score.sealed, "band_error": errors(score.band_errors, "percent"),
            "difference_error": errors(score.difference_errors, "percent"),
            "peak_speed_error": errors(score.rpm_errors, "rpm"), "sign_agreement": share(score.signs),
            "coverage": {f"{k:.0%}": share(s) for k, s in score.coverage.items()},
            "difference_coverage": {f"{k:.0%}": share(s) for k, s in score.difference_coverage.items()}}


def _part(p: PartScore, level: float, units: str) -> dict:
    kind = "power" if p.unit == "W" else "torque"
    tail = SUFFIX[units][kind]
    e = p.percent
    out = {"part": p.part, "name": p.name, "forecast": p.forecast, "what": p.what, "refused": p.refused,
           f"predicted_{tail}": float(u.from_si(p.value.predicted, kind, units)),
           f"measured_{tail}": float(u.from_si(p.value.measured, kind, units)), "error_percent": e.error,
           "predicted_sd_percent": e.predicted_sd, "measured_sd_percent": e.measured_sd, "inside": e.inside(level)}
    out["peaks"] = [{"metric": k.metric, "predicted_rpm": k.predicted_rpm, "measured_rpm": k.measured_rpm,
                     "rpm_error": k.rpm_error, "rpm_sd": k.rpm_sd,
                     "height_error_percent": 100.0 * (k.predicted / k.measured - 1.0)} for k in p.peaks]
    if p.curve is not None:
        torque = SUFFIX[units]["torque"]
        c = p.curve
        out["curve"] = {"rpm": c.rpm.tolist(), "error_percent": c.percent.tolist(), "sd_percent": c.sd.tolist(),
                        **{f"{n}_{torque}": np.asarray(u.from_si(getattr(c, n), "torque", units)).tolist()
                           for n in ("predicted", "measured")}}
    return out


def _difference(d: DifferenceScore, level: float) -> dict:
    v = d.value
    out = {"part": d.part, "baseline": d.baseline, "what": d.what, "verdict": d.verdict, "refused": d.refused,
           "predicted_percent": v.predicted, "measured_percent": v.measured, "error_percent": v.error,
           "predicted_interval_percent": _list(v.interval("predicted", level)),
           "measured_interval_percent": _list(v.interval("measured", level)), "inside": v.inside(level),
           "sign_agrees": d.sign_agrees, "share_of_speeds_inside": d.share_inside(level)}
    if d.rpm is not None:
        out["curve"] = {"rpm": d.rpm.tolist(), "predicted_percent": d.predicted.tolist(),
                        "measured_percent": d.measured.tolist(), "measured_low_percent": d.measured_low.tolist(),
                        "measured_high_percent": d.measured_high.tolist(),
                        "predicted_sd_percent": None if d.predicted_sd is None else d.predicted_sd.tolist()}
    return out


def _stated(v: Scored, level: float) -> str:
    return NOTHING if v.predicted_sd is None else f"{reach(level) * v.sd:.2f}"


def _span(v: Scored, which: str, level: float) -> str:
    found = v.interval(which, level)
    return NOTHING if found is None else f"{found[0]:+.2f} to {found[1]:+.2f}"


def _yes(inside: bool | None) -> str:
    return NOTHING if inside is None else "yes" if inside else "NO"


def _number(value: float, kind: str, units: str) -> str:
    return f"{float(u.from_si(value, kind, units)):.1f}"


def _list(pair: tuple[float, float] | None) -> list[float] | None:
    return None if pair is None else list(pair)


def _plain(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
