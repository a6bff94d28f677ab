"""Letters that pictures and prints have a shape for; any other is written as its number, for all to see.

The shapes are those of the font that matplotlib ships: Latin, Greek, Cyrillic, many signs; none of the writings of
East and South Asia, and no text that runs from right to left, which would be set backwards.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FACES = {"": "DejaVuSans", "-Bold": "DejaVuSans-Bold", "-Mono": "DejaVuSansMono"}
NOTE = "[U+…]: letters that this print has no shape for, by their numbers in Unicode."
LEFTWARD = ("R", "AL", "AN", "RLE", "RLO", "RLI")  # classes of letters that run from right to left
_PLAIN = re.compile(r"[\t\n\x20-\x7e]*\Z")


def font_file(face: str = "") -> Path:
    """The font of a face: "", "-Bold", "-Mono"."""
    import matplotlib as mpl

    return Path(mpl.get_data_path()) / "fonts" / "ttf" / f"{FACES[face]}.ttf"


@cache
def shapes(face: str = "") -> frozenset[int]:
    """Numbers of the letters that a face has."""
    from matplotlib.ft2font import FT2Font

    return frozenset(FT2Font(str(font_file(face))).get_charmap())


def legible(text: str, face: str = "") -> str:
    """A text in letters that the face has: others as their plain form if that is there, else as their numbers.

    >>> legible("Kestrel \\u03bb \\uff36\\uff18 \\u9e70\\u96c4")
    'Kestrel λ V8 [U+9E70 96C4]'
    """
    if _PLAIN.match(text):
        return text
    made: list[str] = []
    numbers: list[str] = []
    for c in text:
        plain = _plain(c, face)
        if plain is None:
            numbers.append(f"{ord(c):04X}")
            continue
        made += _told(numbers)
        made.append(plain)
    return "".join(made + _told(numbers))


def _plain(c: str, face: str) -> str | None:
    if unicodedata.category(c) == "Cf" or "\ufe00" <= c <= "\ufe0f":
        return ""  # steers the letters beside it and has no shape of its own
    for form in (c, unicodedata.normalize("NFKC", c)):
        if all(_shown(x, face) for x in form):
            return form
    return None


def _shown(c: str, face: str) -> bool:
    return c in "\n\t" or (ord(c) in shapes(face) and unicodedata.bidirectional(c) not in LEFTWARD
                           and unicodedata.category(c) not in ("Cc", "Cf", "Cs"))


def _told(numbers: list[str]) -> list[str]:
    told = [f"[U+{' '.join(numbers)}]"] if numbers else []
    numbers.clear()
    return told


def letter(figure: Figure) -> None:
    """Make every text of a figure legible."""
    from matplotlib.text import Text

    for text in figure.findobj(Text):
        text.set_text(legible(text.get_text()))
