"""The controls as the page draws them: pickers, controls with their values, faults at their fields."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

from pydantic import BaseModel

from pullcast.card.reading import card_keys
from pullcast.card.tree import PARTS
from pullcast.errors import InputError
from pullcast.show.lab.bench import Setup
from pullcast.show.lab.host import Host
from pullcast.show.lab.knob import Knob, in_system
from pullcast.show.lab.knobs import KNOBS
from pullcast.show.lab.shelf import Shelf

OWN_PART, TYPED = "as on the card", "a card typed or opened here"
UNITS = {"C": "°C", "F": "°F", "cm2": "cm²", "in2": "in²", "in3": "in³"}


def knob_view(session: Host) -> dict[str, Any]:
    """Everything left of the curve."""
    setup, bench = session.now.setup, session.bench
    return {
        "picks": picks(setup, session.shared.shelf, session.fields),
        "knobs": [one(in_system(k, session.shared.units), setup, session.fields, session.typed) for k in setup.knobs],
        "faults": session.faults, "keys": [list(p) for p in bench.keys], "paths": list(paths()),
        "key_fault": session.fields.get("key", ""),
        "can": {"undo": session.history.can_undo, "redo": session.history.can_redo,
                "reset": bool(bench.parts or bench.keys or bench.knobs),
                "rebase": session.now is not session.base},
    }


def picks(setup: Setup, shelf: Shelf, fields: dict[str, str]) -> list[dict[str, Any]]:
    """The engine and its parts, each with what there is to pick."""
    bench, chosen = setup.bench, dict(setup.bench.parts)
    engines = list(shelf.engines.items()) if bench.card else [("", TYPED), *shelf.engines.items()]
    rows = [{"key": "card", "label": "engine", "value": bench.card, "options": [list(p) for p in engines]}]
    for kind in PARTS:
        if shelf.parts[kind]:
            options = [["", OWN_PART], *([ref, name] for ref, name in shelf.parts[kind].items())]
            rows.append({"key": kind, "label": kind, "value": chosen.get(kind, ""), "options": options})
    return [row | {"fault": fields.get(row["key"], "")} for row in rows]


def one(knob: Knob, setup: Setup, fields: dict[str, str], typed: dict[str, str]) -> dict[str, Any]:
    """One control: its value now and the card's, the slider's ends, the remark, what is wrong with what was typed."""
    own = knob.shown(knob.read(setup.own, setup.data))
    turned = dict(setup.bench.knobs).get(knob.key)
    try:
        value = own if turned is None else knob.shown(KNOBS[knob.key].internal(turned))
    except InputError:
        value = own
    low, high = knob.span(own)
    fault, shown = fields.get(knob.key, ""), written(value, knob.step)
    return {
        "key": knob.key, "group": knob.group, "label": knob.label, "unit": UNITS.get(knob.unit, knob.unit),
        "value": value, "text": typed.get(knob.key, shown) if fault else shown,
        "own": own, "own_text": written(own, knob.step), "low": low, "high": high, "step": knob.step,
        "turned": turned is not None, "note": remark(knob, setup), "fault": fault}


def remark(knob: Knob, setup: Setup) -> str:
    """The control's note, and that its value is assumed where the card does not give it."""
    note = knob.note(setup.engine, setup.data)
    keys = knob.write(knob.read(setup.own, setup.data), setup.own, setup.data)
    assumed = any(a.key in keys for a in setup.engine.assumed if "class default" in a.why)
    return ("assumed; " if assumed else "") + note if note else ("assumed" if assumed else "")


def written(value: float, step: float) -> str:
    """A value to the digits of its step, one more where the value has one.

    >>> written(285.0, 1.0), written(8.128, 0.05), written(134.62, 1.0)
    ('285', '8.13', '134.6')
    """
    digits = max(0, math.ceil(-math.log10(step) - 1e-9))
    return f"{value:.{digits}f}" if abs(value - round(value, digits)) < 1e-9 * max(1.0, abs(value)) else (
        f"{value:.{digits + (digits == 0)}f}")


@cache
def paths() -> tuple[str, ...]:
    """Dotted keys of an engine card that hold one value, for the box that takes any key."""
    return tuple(sorted(p for name, table in card_keys().items() for p in _under(name, table)))


def _under(prefix: str, table: type[BaseModel]) -> list[str]:
    from pullcast.card.faults import table_at

    found = []
    for name, info in table.model_fields.items():
        key = info.alias or name
        inner = table_at(table, [name])
        if inner is None:
            found.append(f"{prefix}.{key}")
        elif "tuple" not in str(info.annotation):
            found += _under(f"{prefix}.{key}", inner)
    return found
