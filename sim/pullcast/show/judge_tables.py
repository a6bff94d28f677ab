"""A judged session as tables for a terminal, and as one JSON document with unit-suffixed keys."""

from __future__ import annotations

import math

from rich import box
from rich.console import Group
from rich.table import Table
from rich.text import Text

from pullcast import units as u
from pullcast.answers.judgement import Difference, Effect, Judgement, PullRow
from pullcast.show import CAUTION

SUFFIX = {"si": {"torque": "Nm", "power": "kW"}, "us": {"torque": "lbft", "power": "hp"}}


def judgement_view(judged: Judgement, units: str = "si") -> Group:
    """What ``pullcast judge`` prints: verdicts first, then the returns, every pull, and what to mind."""
    parts = [Text(repr(judged.session)), Text("")]
    for d in judged.differences:
        parts += [Text(line, style="bold" if i == 0 else "") for i, line in enumerate(difference_lines(d, units))]
        parts.append(Text(""))
    parts += [Text(repr(r), style="" if r.good else "bold") for r in judged.returns]
    parts += [Text(judged.meaning)]
    parts += [pulls_table(judged, units), *[Text(f"note: {w}") for w in judged.warnings]]
    parts += [Text(line, style="dim") for line in run_notes(judged)]
    return Group(*parts, Text(""), Text(CAUTION, style="dim"))


def difference_lines(d: Difference, units: str) -> list[str]:
    """Verdict, perspective, where it is lost and won, and what would resolve it, in sentences."""
    lines = [f"{d.part} against {d.baseline}, {d.metric}: {_effect(d.effect, units)}: {d.verdict}"]
    p = d.perspective
    if p.per_litre is not None:
        bmep = f", {p.bmep / 1e5:+.2f} bar BMEP" if p.bmep is not None else ""
        lines.append(f"  that is {p.per_litre:+.2f} {p.per_litre_unit}{bmep}")
    for name, extreme in (("loss", d.largest_loss), ("gain", d.largest_gain)):
        if extreme is not None:
            clear = "" if extreme.effect.clear else ", not resolved there"
            lines.append(f"  largest {name} at {extreme.rpm:.0f} rpm: {_effect(extreme.effect, units)}{clear}")
    if d.curve is not None:
        for word, sign in (("lower", -1), ("higher", 1)):
            spans = d.curve.ranges(sign)
            if spans:
                text = ", ".join(f"{a:.0f} to {b:.0f}" if b > a else f"{a:.0f}" for a, b in spans)
                lines.append(f"  clearly {word} at {text} rpm (interval of each speed by itself)")
    lines.append(f"  pull-to-pull sd {d.noise:.2f} %, refit sd {d.refit:.2f} % (notes below say what is measured)")
    if d.more is not None:
        lines.append(f"  to resolve {100 * d.more.difference:.1f} %: {d.more!r}"
                     + (f"; {d.more_pulls} more than run" if d.more_pulls else "")
                     + ("" if d.more.told or not d.more.enough else
                        "; fewer do where the scatter of refits is known and stated (refit)"))
    return lines


def run_notes(judged: Judgement) -> list[str]:
    """Notes of the pulls, the same note of several pulls said once."""
    said: dict[str, list[int]] = {}
    for r in judged.rows:
        for note in r.notes:
            said.setdefault(note, []).append(r.number)
    return [f"run{'s' * (len(n) > 1)} {_spans(n)}: {note}" for note, n in said.items()]


def _spans(numbers: list[int]) -> str:
    groups: list[list[int]] = []
    for n in numbers:
        if groups and n == groups[-1][-1] + 1:
            groups[-1].append(n)
        else:
            groups.append([n])
    return ", ".join(str(g[0]) if len(g) == 1 else f"{g[0]} to {g[-1]}" for g in groups)


def pulls_table(judged: Judgement, units: str) -> Table:
    """Every pull of the session in the order run, used or not."""
    kind = "power" if "power" in judged.metric else "torque"
    label = u.unit_label(kind, units)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, collapse_padding=True, header_style="")
    what = judged.metric if judged.band is None else f"mean {judged.metric}"
    for name in ("run", "part", "fit", f"{what} observed\n{label}", f"corrected\n{label}", "factor", "dry air\nhPa",
                 "excluded because"):
        table.add_column(name, justify="left" if name == "excluded because" else "right")
    for r in judged.rows:
        table.add_row(str(r.number), r.part, str(r.fit), _number(r.observed, kind, units),
                      _number(r.corrected, kind, units), "–" if r.factor is None else f"{r.factor:.4f}",
                      "–" if r.dry_pressure is None else f"{r.dry_pressure / 100:.1f}", Text(r.excluded))
    return table


def judgement_document(judged: Judgement, units: str = "si") -> dict:
    """The whole judgement as plain values; keys carry their unit."""
    s = judged.session
    return {
        "title": s.title, "sequence": s.sequence, "basis": s.basis, "recorded": s.recorded, "baseline": s.baseline,
        "metric": judged.metric, "band_rpm": list(judged.band) if judged.band else None,
        "window_rpm": s.rules.window, "level": s.rules.level, "refit_given": s.rules.refit is not None,
        "meaning": judged.meaning, "return_good": judged.return_good,
        "returns": [{"fit": r.fit, "off_percent": _plain(r.percent), "allowed_percent": _plain(r.allowance),
                     "good": r.good, "stated": r.stated} for r in judged.returns],
        "differences": [_difference(d, units) for d in judged.differences],
        "pulls": [_pull(r, judged.metric, units) for r in judged.rows],
        "notes": list(judged.warnings),
    }


def _difference(d: Difference, units: str) -> dict:
    out = {"part": d.part, "baseline": d.baseline, "metric": d.metric, "verdict": d.verdict, "resolved": d.resolved,
           **_effect_keys(d.effect, units), "noise_percent": d.noise, "refit_percent": d.refit,
           "per_litre": d.perspective.per_litre, "per_litre_unit": d.perspective.per_litre_unit,
           "bmep_bar": None if d.perspective.bmep is None else d.perspective.bmep / 1e5}
    for name, extreme in (("largest_loss", d.largest_loss), ("largest_gain", d.largest_gain)):
        out[name] = None if extreme is None else {"rpm": extreme.rpm, **_effect_keys(extreme.effect, units)}
    if d.curve is not None:
        out["curve"] = {"rpm": d.curve.rpm.tolist(), "percent": d.curve.mean.tolist(),
                        "percent_low": d.curve.low.tolist(), "percent_high": d.curve.high.tolist()}
    out["more"] = None if d.more is None else {
        "sequence": d.more.sequence, "pulls_per_fit": d.more.per_fit, "total_pulls": d.more.total,
        "difference_percent": 100 * d.more.difference, "power": d.more.power, "enough": d.more.enough,
        "more_pulls": d.more_pulls}
    return out


def _effect_keys(e: Effect, units: str) -> dict:
    kind = "power" if e.unit == "W" else "torque"
    values = {"difference": e.absolute, "low": e.absolute_low, "high": e.absolute_high}
    tail = SUFFIX[units][kind]
    scaled = {f"{k}_{tail}": None if v is None else u.from_si(v, kind, units) for k, v in values.items()}
    return {"percent": e.percent, "percent_low": e.low, "percent_high": e.high, **scaled}


def _pull(r: PullRow, metric: str, units: str) -> dict:
    kind = "power" if "power" in metric else "torque"
    tail = SUFFIX[units][kind]
    return {"run": r.number, "part": r.part, "fit": r.fit, "file": r.file,
            f"observed_{tail}": None if r.observed is None else u.from_si(r.observed, kind, units),
            f"corrected_{tail}": None if r.corrected is None else u.from_si(r.corrected, kind, units),
            "factor": r.factor, "dry_pressure_hPa": None if r.dry_pressure is None else r.dry_pressure / 100.0,
            "excluded": r.excluded, "notes": list(r.notes)}


def _effect(e: Effect, units: str) -> str:
    if e.absolute is None:
        return repr(e)
    kind = "power" if e.unit == "W" else "torque"
    a, low, high = (u.from_si(v, kind, units) for v in (e.absolute, e.absolute_low, e.absolute_high))
    return f"{e!r}, {a:+.1f} {u.unit_label(kind, units)} ({low:+.1f} to {high:+.1f})"


def _number(value: float | None, kind: str, units: str) -> str:
    return "–" if value is None else f"{u.from_si(value, kind, units):.1f}"


def _plain(value: float) -> float | None:
    return value if math.isfinite(value) else None
