"""The page of card keys: ``python -m pullcast.show.card_keys [--out FILE]``, made from the models that read cards."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from pullcast.card.classes import CLASSES, Range
from pullcast.card.keys import Key, KeyTable, key_tables
from pullcast.units import quantity, show

HEAD = """# Every key of a card

Made from the models that read the cards (`python -m pullcast.show.card_keys`); not written by hand.

A card is TOML. A value with a unit is text, `bore = "86.0 mm"`, or a table when its doubt is known,
`{ value = "10.5 in", within = "0.3 in" }`. The tables head, cam, intake, exhaust, fuel and day may stand in the
engine card or in files of their own, named under `[parts]`; in a part's own file the part's name falls away:
`[cam.intake]` of the engine card is `[intake]` of a cam card.

*Default*: what is taken when the key is left out, with its range in brackets; it is then shown as assumed, and its
range widens every answer that states an interval. *By class* points to the table at the end. *What can be*: values
outside are refused as slips; what is unusual within it is doubted, not refused. "a plain number" has no unit; "%" is
taken too.
"""

BUILT = "by class"
# defaults that are no row of a class: where a card's reader takes them from
ELSE = {
    "BlockCard": {"cylinders": BUILT, "layout": BUILT, "bank_angle": BUILT, "pin_offset": "0",
                  "firing_order": "the usual one of the layout", "firing_intervals": "even",
                  "banks": "odd and even numbers"},
    "SideCard": {"valves": BUILT},
    "SheetCard": {"temperature": "16 °C", "pressure": "101.3 kPa"},
    "CamCard": {"installed_advance": "0"}, "LobeCard": {"asymmetry": "0"},
    "IntakeCard": {"style": BUILT}, "ExhaustCard": {"style": BUILT}, "MixtureCard": {
        "preparation": BUILT, "between_cylinders": "0.05 (0.03 to 0.07) from one "
        "carburettor, 0.02 (0.01 to 0.03) else, 0 for one cylinder"},
    "RunCard": {"from": BUILT, "to": BUILT, "points": BUILT},
    "FuelCard": {"octane": "of the fuel", "density": "of the fuel"},
    "BurnCard": {"reference_speed": "3000 rpm", "chamber": "roof with four valves, else wedge"},
}


def card_keys_page() -> str:
    """The page as Markdown."""
    parts = [HEAD, *(_section(t) for t in key_tables()), _by_class()]
    return "\n".join(parts)


def _section(table: KeyTable) -> str:
    where = ", ".join(p if p.startswith("[[") else f"[{p}]" for p in table.places if p) or "top of the engine card"
    rows = ["| key | meaning | unit or form | default | what can be |", "|---|---|---|---|---|"]
    rows += ["| " + " | ".join((f"`{k.name}`", k.meaning, _unit(k), _default(k, table), _bounds(k))) + " |"
             for k in table.keys]
    about = " ".join(table.about.split())
    return f"## {where}\n\n{_escaped(about)}\n\n" + "\n".join(rows) + "\n"


def _unit(key: Key) -> str:
    if key.choices:
        return ", ".join(f'"{c}"' for c in key.choices)
    if not key.quantity:
        return key.form
    fits = ", ".join(quantity(key.quantity).fits)
    return f"{fits}; several values" if key.form.startswith("several") else fits


def _default(key: Key, table: KeyTable) -> str:
    if key.needed:
        return "**needed**"
    found = [r for p in table.places if (r := _rows(f"{p.strip('[]')}.{key.name}"))]
    if found:
        same = len(found) == len(table.places) and all(map(_alike, found)) and len({*map(_first, found)}) == 1
        return _first(found[0]) if same else BUILT
    if key.name in ELSE.get(table.model, {}):
        return ELSE[table.model][key.name]
    if key.default in (None, "", ()):
        return ""
    return f"`{key.default}`" if not isinstance(key.default, bool) else str(key.default).lower()


def _alike(rows: dict[str, Range]) -> bool:
    return len(rows) == len(CLASSES) and len(set(rows.values())) == 1


def _first(rows: dict[str, Range]) -> str:
    return _range(next(iter(rows.values())))


def _rows(place: str) -> dict[str, Range]:
    return {name: c.rows[place] for name, c in CLASSES.items() if place in c.rows}


def _bounds(key: Key) -> str:
    if key.low is None:
        return ""
    return f"{_shown(key.low, key.quantity)} to {_shown(key.high, key.quantity)}"


def _shown(value: float, kind: str) -> str:
    if kind == "temperature":
        return f"{value - 273.15:.0f} °C"
    return f"{value:g}" if kind == "fraction" else show(value, kind)


def _range(row: Range) -> str:
    if row.per:
        return f"{row.value:g} ({row.low:g} to {row.high:g}) x {row.per}"
    low, value, high = (_shown(v, row.kind) for v in (row.low, row.value, row.high))
    return value if low == high else f"{value} ({low} to {high})"


def _by_class() -> str:
    """Defaults that differ between classes (one row a key, one column a class) or only between places."""
    keys = [full for table in key_tables() for place in table.places for k in table.keys
            if _default(k, table) == BUILT and _rows(full := f"{place.strip('[]')}.{k.name}")]
    differ = [f"| `{key}` | " + " | ".join(_range(found[c]) if c in found else "" for c in CLASSES) + " |"
              for key in keys if not _alike(found := _rows(key))]
    same = [f"| `{key}` | {_first(_rows(key))} |" for key in keys if _alike(_rows(key))]
    titles = [f"- `{name}`: {c.title}; {_built(c)}" for name, c in CLASSES.items()]
    return "\n".join([
        "## Defaults by class\n\n`class` is one of:\n", *titles, "\nAll ranges are common practice, no source.\n",
        f"| key | {' | '.join(CLASSES)} |", "|---" * (len(CLASSES) + 1) + "|", *differ,
        "\nThe same for every class, but different by place:\n", "| key | default |", "|---|---|", *same, ""])


def _built(c: Any) -> str:
    many = f"{c.cylinders} cylinder{'s' * (c.cylinders > 1)}"
    return (f"{many}, {sum(c.valves)} valves each, intake `{c.intake_style}`, exhaust `{c.exhaust_style}`, "
            f"{c.speeds[0]:g} to {c.speeds[-1]:g} rpm")


def _escaped(text: str) -> str:
    return text.replace("``", "`").replace("|", "\\|").replace("*_end", "\\*_end")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--out"] and len(sys.argv) == 3:
        Path(sys.argv[2]).write_text(card_keys_page(), encoding="utf-8")
    else:
        print(card_keys_page(), end="")
