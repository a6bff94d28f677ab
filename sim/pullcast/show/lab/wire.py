"""The wire between a session and its page: what the page shows as values, what it says as checked messages."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import param
from panel.custom import JSComponent

from pullcast.sheets.files import MAX_BYTES
from pullcast.show.lab.bench import LONGEST
from pullcast.show.lab.curve_figures import SHORT, SHOWN

PLAIN = ("ready", "undo", "redo", "reset", "rebase", "save", "report", "lessons", "stop", "march")
KEYED = ("knob", "part", "card", "key", "lesson", "try")
TEXTS = ("rpm", "shows", "guess", "answer")
CARDS = ("look", "text", "open")


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


class Wire(JSComponent):
    """Values shown on the page; ``hear`` is called with every message that the page may say."""

    knobs = param.Dict(default={})
    words = param.Dict(default={})
    march = param.Dict(default={})
    tables = param.Dict(default={})
    card = param.Dict(default={})
    lesson = param.Dict(default={})
    query = param.String(default=None, allow_None=True)
    shown = param.Dict(default={name: [SHORT[name], SHOWN[name]] for name in SHOWN})

    _esm = Path(__file__).parent / "page.js"

    def __init__(self, hear: Callable[[Message], None], **params) -> None:
        self._hear = hear
        super().__init__(**params)

    def _handle_msg(self, data: object) -> None:
        message = checked(data)
        if message is not None:
            self._hear(message)

    def say_again(self) -> None:
        """Send every value whole: what changed while the page was still being built may not have reached it."""
        names = ("knobs", "words", "march", "tables", "card", "lesson", "query")
        self._send_msg({"all": {name: getattr(self, name) for name in names}})

    def tell(self, text: str) -> None:
        """A short remark beside the buttons."""
        self._send_msg({"told": text})

    def hand_out(self, name: str, text: str, kind: str, told: str) -> None:
        """Give the browser a file to keep."""
        self._send_msg({"file": name, "text": text, "kind": kind, "told": told})
