"""The wire between a session and its page: what the page shows as values, what it says as checked messages.

Both travel as JSON texts in the properties of one model of the page's document.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import NamedTuple

from bokeh.core.properties import String
from bokeh.model import DataModel

from pullcast.sheets.files import MAX_BYTES
from pullcast.show.lab.bench import LONGEST
from pullcast.show.lab.curve_figures import SHORT, SHOWN

PLAIN = ("ready", "undo", "redo", "reset", "rebase", "save", "report", "lessons", "stop", "march")
KEYED = ("knob", "part", "card", "key", "lesson", "try")
TEXTS = ("rpm", "shows", "guess", "answer")
CARDS = ("look", "text", "open")
NAME = "wire"  # of the model, by which the page finds it


class Message(NamedTuple):
    """What the page says: what to do, and with what."""

    do: str
    key: str = ""
    text: str = ""


def checked(data: object) -> Message | None:
    """A message of the page, None for anything the page does not say (texts of bounded length)."""
    if not isinstance(data, dict):
        return None
    do, key, text = (data.get(name, "") for name in ("do", "key", "text"))
    if not all(isinstance(v, str) for v in (do, key, text)) or len(key) > LONGEST:
        return None
    if do in PLAIN:
        return Message(do)
    if do in KEYED and len(text) <= LONGEST:
        return Message(do, key, text)
    if do in TEXTS and len(text) <= LONGEST:
        return Message(do, "", text)
    if do in CARDS and len(text) <= MAX_BYTES:
        return Message(do, key, text)
    return None


class Carrier(DataModel):
    """The texts on the wire: each value shown, ``shown`` (the names of curves), ``told`` by the session once, and
    ``said`` by the page."""

    knobs = String("")
    words = String("")
    march = String("")
    tables = String("")
    card = String("")
    lesson = String("")
    query = String("")
    shown = String(json.dumps({name: [SHORT[name], SHOWN[name]] for name in SHOWN}))
    told = String("")
    said = String("")


class Value:
    """A value of the wire: kept as it is here, sent as JSON when it changes."""

    def __set_name__(self, owner: type, name: str) -> None:
        """Its name on the wire."""
        self._name = name

    def __get__(self, wire: Wire, owner: type):
        """What was set last; an empty table before."""
        return wire.values.get(self._name, {})

    def __set__(self, wire: Wire, value: object) -> None:
        """Keep and send it, if it is not what it was."""
        if wire.values.get(self._name) != value:
            wire.values[self._name] = value
            setattr(wire.carrier, self._name, json.dumps(value, allow_nan=False))


class Wire:
    """Values shown on the page; ``hear`` is called with every message that the page may say."""

    knobs, words, march, tables, card, lesson, query = (Value() for _ in range(7))

    def __init__(self, hear: Callable[[Message], None]) -> None:
        self._hear, self._count = hear, 0
        self.values: dict[str, object] = {}
        self.carrier = Carrier(name=NAME)
        self.carrier.on_change("said", lambda name, old, new: self.take(new))

    def take(self, said: str) -> None:
        """Messages of the page: a JSON list; anything else is not heard."""
        try:
            messages = json.loads(said)
        except (ValueError, RecursionError):
            return
        for data in messages if isinstance(messages, list) else ():
            message = checked(data)
            if message is not None:
                self._hear(message)

    def tell(self, text: str) -> None:
        """A short remark beside the buttons."""
        self._send({"told": text})

    def hand_out(self, name: str, text: str, kind: str, told: str) -> None:
        """Give the browser a file to keep."""
        self._send({"file": name, "text": text, "kind": kind, "told": told})

    def send_away(self) -> None:
        """Have the page go where it says that it was put away."""
        self._send({"away": True})

    def _send(self, told: dict[str, object]) -> None:
        self._count += 1
        self.carrier.told = json.dumps(told | {"count": self._count})
