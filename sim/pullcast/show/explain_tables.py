"""An explained swap as a page for a terminal, and as one JSON document with unit-suffixed keys."""

from __future__ import annotations

import math

import numpy as np
from rich import box
from rich.console import Group
from rich.table import Table
from rich.text import Text

from pullcast import units as u
from pullcast.answers.explanation import MECHANISMS, Explanation
from pullcast.answers.ve_ledger import ENTRIES, Ledger
from pullcast.show import CAUTION
from pullcast.show.explain_words import name_of, sentences

ENTRIES_TOLD = ("In the tables of volumetric efficiency each row is what one effect gives or takes when it is "
                "switched on after those above it. " + "; ".join(f"{name}: {what}" for name, what in ENTRIES)
                + ". Only the sum of ram and tuning is the wave model's.")
SUFFIX = {"si": "Nm", "us": "lbft"}


def explanation_view(x: Explanation, units: str = "si") -> Group:
    """What ``pullcast explain`` prints: the findings, the split by attribute, by mechanism, the ledgers."""
    first, *rest = sentences(x, units)
    parts = [Text(first, style="bold"), *[Text(f"- {line}") for line in rest], Text("")]
    if x.attributes:
        parts += [attribute_table(x, units), mechanism_table(x, units)]
    if x.ledgers is not None:
        parts += [ledger_table(ledger) for ledger in x.ledgers]
        parts.append(Text(ENTRIES_TOLD, style="dim"))
    parts += [Text(how(x), style="dim"), *[Text(f"note: {n}") for n in x.notes]]
    return Group(*parts, Text(""), Text(CAUTION, style="dim"))


def how(x: Explanation, counted: bool = True) -> str:
    """How the split was made; ``counted`` adds how many points came from the store, which differs from run to run."""
    way = "every combination of the attributes" if x.torque.exact else "drawn orders of the attributes"
    stored = f", {x.points[1]} of them stored before" if counted else ""
    return (f"Fair split (Shapley values) over {way}, by the {x.fidelity} model: {sum(x.points)} "
            f"points{stored}. Parts below {100 * x.band_noise / x.band_torque:.2f} % are not "
            f"told from zero. pullcast {x.version}.")


def attribute_table(x: Explanation, units: str) -> Table:
    """Percent of the base's torque by attribute and speed, and over the band; the sums are the differences."""
    table = _table("Torque difference by attribute, % of the base", x.speed)
    table.add_column("band", justify="right")
    share = 100.0 / x.torque_base
    for i in x.order:
        cells = [f"{v:+.1f}" for v in x.torque.parts[i] * share]
        table.add_row(Text(name_of(x.attributes[i], units)), *cells, f"{100 * x.band_parts[i] / x.band_torque:+.2f}")
    table.add_row(Text("all together", style="bold"), *[f"{v:+.1f}" for v in x.torque.whole * share],
                  f"{100 * x.band_difference / x.band_torque:+.2f}")
    return table


def mechanism_table(x: Explanation, units: str) -> Table:
    """The same difference by mechanism, in torque."""
    table = _table(f"Torque difference by mechanism, {u.unit_label('torque', units)}", x.speed)
    for name, row in zip(MECHANISMS, x.mechanisms, strict=True):
        table.add_row(name, *[f"{v:+.1f}" for v in u.from_si(row, "torque", units)])
    return table


def ledger_table(ledger: Ledger) -> Table:
    """Ledger of volumetric efficiency of one engine."""
    table = _table(f"Volumetric efficiency of {ledger.engine}, points", ledger.speed)
    table.add_row("swept volume", *["100.0"] * len(ledger.speed))
    for (name, _), row in zip(ENTRIES, ledger.entries, strict=True):
        table.add_row(name, *[f"{100 * v:+.1f}" for v in row])
    table.add_row(Text("volumetric efficiency", style="bold"), *[f"{100 * v:.1f}" for v in ledger.ve])
    return table


def _table(title: str, speed: np.ndarray) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold", box=box.SIMPLE_HEAD, pad_edge=False,
                  header_style="", collapse_padding=True)
    table.add_column("rpm", overflow="fold")
    for rpm in speed:
        table.add_column(f"{rpm:.0f}", justify="right", no_wrap=True)
    return table


def explanation_document(x: Explanation, units: str = "si") -> dict:
    """The explanation as a JSON document; torque keys end in _Nm or _lbft, shares in _pct, VE in _points."""
    end = SUFFIX[units]

    def torque(values) -> list[float]:
        return [round(float(v), 4) for v in u.from_si(np.asarray(values), "torque", units)]

    def share(values) -> list[float]:
        return [round(100.0 * float(v), 4) for v in values]

    attributes = [{
        "attribute": a.name, "sizes": name_of(a, units), f"torque_{end}": torque(x.torque.parts[i]),
        f"standard_error_{end}": torque(x.torque.error[i]), "ve_points": share(x.ve.parts[i]),
        "band_pct": 100.0 * float(x.band_parts[i]) / x.band_torque} for i, a in enumerate(x.attributes)]
    pairs = [{"attributes": [x.attributes[i].name, x.attributes[j].name],
              f"torque_{end}": torque(x.torque.pairs[i, j])}
             for i in range(len(x.attributes)) for j in range(i) if x.torque.exact]
    best = x.best_remedy
    return {
        "base": x.base, "other": x.other, "swap": x.swap, "fidelity": x.fidelity, "band_rpm": list(x.band),
        "speed_rpm": [float(v) for v in x.speed], f"torque_base_{end}": torque(x.torque_base),
        f"torque_other_{end}": torque(x.torque_other), "ve_base_pct": share(x.ve_base),
        "ve_other_pct": share(x.ve_other),
        "band_difference_pct": 100.0 * x.band_difference / x.band_torque,
        "noise_pct": 100.0 * x.band_noise / x.band_torque, "exact": x.torque.exact, "attributes": attributes,
        "interactions": pairs, "mechanisms": [{"mechanism": m, f"torque_{end}": torque(row)} for m, row in
                                              zip(MECHANISMS, x.mechanisms, strict=True)],
        "ledgers": None if x.ledgers is None else [_ledger(v) for v in x.ledgers],
        "remedies": [{"attribute": r.attribute, f"torque_{end}": torque(r.torque),
                      "regained_pct": None if math.isnan(r.regained) else 100.0 * r.regained} for r in x.remedies],
        "best_remedy": best.attribute if best is not None else None,
        "limited_on_purpose": x.limits.on_purpose, "findings": sentences(x, units), "notes": list(x.notes)}


def _ledger(ledger: Ledger) -> dict:
    return {"engine": ledger.engine, "swept_volume_points": 100.0,
            "entries": [{"entry": name, "what": what, "points": [100.0 * float(v) for v in row]}
                        for (name, what), row in zip(ENTRIES, ledger.entries, strict=True)],
            "ve_pct": [100.0 * float(v) for v in ledger.ve],
            "quasi_static_first_principles_pct": [100.0 * float(v) for v in ledger.first_principles]}
