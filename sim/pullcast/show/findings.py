"""The review of a card as tables for a terminal: derived numbers, assumed values with ranges, findings."""

from __future__ import annotations

from rich import box
from rich.console import Group
from rich.table import Table
from rich.text import Text

from pullcast import units as u

ORDER = {"contradiction": 0, "doubt": 1, "note": 2}
MARKS = {"contradiction": "bold", "doubt": "", "note": "dim"}


def review_view(review, units: str = "si") -> Group:
    """What ``pullcast check`` prints, for a ``pullcast.answers.check.Review``."""
    parts = [Text(repr(review), style="bold"), Text(""), derived_table(review.derived, units)]
    if review.assumed:
        parts.append(assumed_table(review.assumed, units))
    parts.append(findings_list(review.findings))
    return Group(*parts)


def derived_table(derived, units: str = "si") -> Table:
    """Name, value with unit, note of every derived number."""
    table = _table("Follows from the card", "", "value", "note")
    for d in derived:
        table.add_row(Text(d.name), Text(value_text(d.value, d.unit_quantity, units)), Text(d.note, style="dim"))
    return table


def assumed_table(assumed, units: str = "si") -> Table:
    """Key, value and plausible range of every value the card did not give (or gave with an uncertainty)."""
    table = _table("Assumed or uncertain", "key", "value", "from", "to")
    for a in assumed:
        kind = u.kind_of(a.unit)
        cells = [value_text(x, kind, units) for x in (a.value, a.low, a.high)]
        table.add_row(Text(a.key), *map(Text, cells))
    return table


def findings_list(findings) -> Group:
    """Findings, contradictions first; a sentence when there is none."""
    if not findings:
        return Group(Text("Nothing on the card contradicts itself or stands outside what is usual."))
    lines = []
    for f in sorted(findings, key=lambda f: ORDER.get(f.level, len(ORDER))):
        lines.append(Text(f"{f.level}: {f.key}: {f.text}", style=MARKS.get(f.level, "")))
        if f.remedy:
            lines.append(Text(f"    {f.remedy}"))
    return Group(*lines)


def value_text(value, quantity: str, units: str) -> str:
    """A value (internal units) of a quantity as text in the display system: four digits, whole degrees."""
    if isinstance(value, str):
        return value
    if not quantity:
        return f"{value:.4g}"
    if quantity == "temperature":
        return f"{u.from_si(value, quantity, units):.0f} {u.unit_label(quantity, units)}"
    return u.show(value, quantity, units)


def review_document(review, units: str = "si") -> dict:
    """The review as a JSON document: values with their units as text beside them."""
    def number(value, quantity: str) -> dict:
        if isinstance(value, str) or not quantity:
            return {"value": value, "unit": ""}
        label = u.unit_label(quantity, units)
        return {"value": float(u.from_si(value, quantity, units)), "unit": "" if label == "-" else label}

    return {
        "engine": review.engine.name, "engine_class": review.engine.engine_class, "source": review.engine.source,
        "derived": [{"name": d.name, **number(d.value, d.unit_quantity), "note": d.note} for d in review.derived],
        "assumed": [{"key": a.key, **number(a.value, u.kind_of(a.unit)), "why": a.why,
                     "low": number(a.low, u.kind_of(a.unit))["value"],
                     "high": number(a.high, u.kind_of(a.unit))["value"]} for a in review.assumed],
        "findings": [{"level": f.level, "key": f.key, "text": f.text, "remedy": f.remedy} for f in review.findings],
    }


def _table(title: str, *heads: str) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False,
                  header_style="", collapse_padding=True)
    for head in heads:
        table.add_column(head, justify="right" if head in ("value", "from", "to") else "left", overflow="fold")
    return table
