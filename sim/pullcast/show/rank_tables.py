"""A ranking or a search as tables for a terminal of 80 columns, and a search as one JSON document."""

from __future__ import annotations

from rich import box
from rich.console import Group
from rich.table import Table
from rich.text import Text

from pullcast import units as u
from pullcast.answers.ranking import Limit, Place, Ranking, chance_text
from pullcast.answers.search import Found, Trend
from pullcast.card.constraints import KINDS
from pullcast.show import CAUTION

NOTHING = "–"
PAIRS = 8  # candidates of the table of pairs
ROWS = 40  # candidates of the first table; the document holds all


def ranking_view(r: Ranking, units: str = "si") -> Group:
    """What ``pullcast rank`` prints: the answer, the places, the pairs, the limits, how it was computed."""
    low, high = r.band
    parts = [Text(r.headline(), style="bold"),
             Text(f"{r.engine}: {r.goal}, {low:.0f} to {high:.0f} rpm, all gains by the {r.fidelity} model."),
             Text(""), places_table(r, units)]
    if len(r.places) > ROWS:
        parts.append(Text(f"and {len(r.places) - ROWS} more behind; --json or --out gives all"))
    parts += [Text(f"{p.name} left out: {p.trouble}") for p in r.places if p.trouble]
    parts += [Text(line) for line in broken_lines(r, units)]
    if r.pairs:
        parts += [Text(""), Text("Chance, %, that the row is truly better than the column:"), pairs_table(r)]
    parts += [Text(line) for line in how_lines(r)]
    return Group(*parts, Text(""), Text(CAUTION, style="dim"))


def places_table(r: Ranking, units: str = "si") -> Table:
    """The candidates in order with gain, band, verdict and chance; the base below them."""
    kind = "power" if "power" in r.goal else "torque"
    table = _table()
    for name, side in (("", "right"), ("candidate", "left"), (f"{r.goal}\n{u.unit_label(kind, units)}", "right"),
                       ("gain\n%", "right"), ("80 % band\n%", "right"), ("against\nthe base", "left"),
                       ("best\n%", "right"), ("limits", "left")):
        table.add_column(name, justify=side, no_wrap=name not in ("candidate", "limits"), overflow="fold")
    number = 0
    for p in (*[p for p in r.places if not p.trouble][:ROWS], r.base):
        number += p.kept and p is not r.base
        first = str(number) if p.kept and p is not r.base else NOTHING
        score = f"{float(u.from_si(p.score, kind, units)):.1f}"
        table.add_row(first, p.name, score, f"{100 * p.gain:+.2f}" if p is not r.base else NOTHING,
                      _band(p) if p is not r.base else NOTHING, p.verdict or NOTHING,
                      NOTHING if p.best is None or not p.kept else chance_text(p.best),
                      "kept" if p.kept else "broken", style="bold" if p.name == r.winner else "")
    return table


def _band(p: Place) -> str:
    return NOTHING if p.low is None else f"{100 * p.low:+.2f} to {100 * p.high:+.2f}"


def pairs_table(r: Ranking) -> Table:
    """Chances of the sampled engines against each other; the columns carry the rows' numbers."""
    names = [p.name for p in (*r.places, r.base) if p.best is not None][:PAIRS]
    if r.base.best is not None and r.base.name not in names:
        names[-1] = r.base.name
    table = _table()
    table.add_column("")
    table.add_column("", justify="left")
    for k in range(len(names)):
        table.add_column(f"{k + 1}", justify="right")
    for i, a in enumerate(names):
        cells = [NOTHING if i == j else _pair(r, a, b) for j, b in enumerate(names)]
        table.add_row(f"{i + 1}", a, *cells)
    return table


def _pair(r: Ranking, a: str, b: str) -> str:
    if r.verdicts[a, b] in ("identical", "no difference"):
        return "="
    return chance_text(r.pairs[a, b])


def limit_text(limit: Limit, units: str = "si") -> str:
    """A limit with its value, in the units asked for."""
    quantity = KINDS[limit.name].quantity

    def shown(value: float) -> str:
        if not quantity:
            return f"{value:.0f} m/s2"
        if quantity == "fraction":
            return f"{value:.2f}"
        number = float(u.from_si(value, quantity, units))
        return f"{number:.3g} {u.unit_label(quantity, units)}" if abs(number) < 100 else \
            f"{number:.0f} {u.unit_label(quantity, units)}"

    value = "not known" if limit.value is None else shown(limit.value)
    return f"{limit.title} {value}, {'at least' if limit.at_least else 'at most'} {shown(limit.limit)}"


def broken_lines(r: Ranking, units: str = "si") -> list[str]:
    """Who breaks which limit, and which limits are not known."""
    lines = []
    for p in (*r.places[:ROWS], r.base):
        broken = [limit_text(x, units) for x in p.limits if not x.kept and not x.aside]
        if broken:
            lines.append(f"{p.name} breaks: {'; '.join(broken)}")
    aside = [x for p in (*r.places, r.base) for x in p.limits if x.aside]
    for name in dict.fromkeys(x.name for x in aside):
        worst = max((x for x in aside if x.name == name), key=lambda x: -x.value if x.at_least else x.value)
        lines.append(f"All break: {limit_text(worst, units)}, at worst")
    unknown = sorted({x.title for p in r.places for x in p.limits if x.value is None})
    if unknown:
        lines.append(f"Not known from the cards, so not checked: {', '.join(unknown)}")
    return lines


def how_lines(r: Ranking) -> list[str]:
    """What decides the order, how the models agreed, the screening, and notes."""
    lines = [""]
    if r.influence is not None:
        lines.append(repr(r.influence))
    if r.samples:
        how = "" if r.spread == r.fidelity else f", around gains by the {r.fidelity} model"
        some = f", {r.wave_draws} of them by waves, which count" if r.wave_draws else ""
        lines.append(f"Spread: {r.samples} draws of what the cards leave open, shared by all, by the {r.spread} "
                     f"model{some}{how}. \"=\": nearer than the model resolves.")
    lines.append(f"{r.agreement!r}.")
    if r.screened is not None:
        s = r.screened
        more = f" (and {', '.join(s.controls)} to compare)" if s.controls else ""
        lines.append(f"Screening by the lumped model, not shown above: {len(s.names)} candidates, "
                     f"{len(s.carried)} carried to waves{more}.")
    return [*lines, *(f"note: {n}" for n in r.notes)]


def _table() -> Table:
    return Table(box=box.SIMPLE_HEAD, pad_edge=False, collapse_padding=True, header_style="")


def search_view(f: Found, units: str = "si") -> Group:
    """What ``pullcast rank`` prints for a search: the flat width of each variable, and its curve as a table."""
    kind = "power" if "power" in f.goal else "torque"
    score = f"{float(u.from_si(f.score, kind, units)):.1f} {u.unit_label(kind, units)}"
    parts = [Text(repr(t), style="bold") for t in f.trends]
    parts += [Text(f"{f.engine}: {f.goal}, {f.band[0]:.0f} to {f.band[1]:.0f} rpm, by the {f.fidelity} model: "
                   f"{score}, {100 * f.gain:+.2f} % over the base; {f.engines} engines computed."), Text("")]
    parts += [trend_table(t) for t in f.trends]
    parts += [Text(f"At the best place: {limit_text(x, units)}") for x in f.limits]
    if not f.settled:
        parts.append(Text("The best place still moved when the search stopped: take the flat width, not the place."))
    return Group(*parts, *[Text(f"note: {n}") for n in f.notes], Text(""), Text(CAUTION, style="dim"))


def trend_table(t: Trend) -> Table:
    """The goal over one variable."""
    table = _table()
    for name in (f"{t.span.key}\n{t.span.unit}", "gain\n%", ""):
        table.add_column(name, justify="left" if not name else "right")
    for x, gain, kept in zip(t.at, t.gain, t.kept, strict=True):
        flat = t.flat[0] <= x <= t.flat[1]
        table.add_row(f"{x:.5g}", f"{100 * gain:+.2f}", "breaks a limit" if not kept else "flat" if flat else "")
    return table


def search_document(f: Found) -> dict:
    """A search as plain values, SI; places in the unit of the card's range."""
    return {
        "pullcast_search": 1, "version": f.version, "shortlist": f.name, "engine": f.engine, "goal": f.goal,
        "goal_unit": "W" if "power" in f.goal else "N m", "band_rpm": list(f.band), "fidelity": f.fidelity,
        "best": [{"key": t.span.key, "unit": t.span.unit, "value": f.place[t.span.key]} for t in f.trends],
        "gain_percent": 100 * f.gain, "score": f.score, "base_score": f.base_score, "engines": f.engines,
        "settled": f.settled, "notes": list(f.notes),
        "limits": [{"name": x.name, "value": x.value, "limit": x.limit, "kept": x.kept} for x in f.limits],
        "trends": [{"key": t.span.key, "unit": t.span.unit, "at": list(t.at),
                    "gain_percent": [100 * g for g in t.gain], "kept": list(t.kept), "best": t.best,
                    "flat_low": t.flat[0], "flat_high": t.flat[1], "flat_reaches_low_end": t.open_below,
                    "flat_reaches_high_end": t.open_above} for t in f.trends],
    }
