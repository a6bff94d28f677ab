"""A document as one HTML file: pictures inside as SVG, no script, nothing loaded from elsewhere."""

from __future__ import annotations

import io
import re
from functools import cache
from pathlib import Path

from pullcast.show.letters import letter
from pullcast.show.report.blocks import Picture
from pullcast.show.report.sheet import Sheet

SIZES = {"a4": "A4", "letter": "letter"}


def page(document: Sheet, paper: str) -> str:
    """The HTML text; every word of the document is escaped."""
    from markupsafe import Markup

    numbers = iter(range(1, 10_000))
    return _template().render(
        d=document, size=SIZES[paper], kind=lambda block: type(block).__name__,
        svg=lambda picture: Markup(svg(picture, f"p{next(numbers)}-")))


@cache
def _template():
    from jinja2 import Environment

    environment = Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True)
    return environment.from_string(Path(__file__).with_name("page.html").read_text(encoding="utf-8"))


def svg(picture: Picture, prefix: str) -> str:
    """A picture as an SVG element: letters as shapes, so that it looks the same everywhere; names made unique by
    ``prefix``; what it shows as its label."""
    from html import escape

    import matplotlib as mpl

    from pullcast.show.look import STYLE

    figure, file = picture.make(), io.StringIO()
    letter(figure)
    with mpl.rc_context(STYLE | {"svg.fonttype": "path"}):
        figure.savefig(file, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = file.getvalue()
    text = text[text.index("<svg "):]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r"<!--.*?-->\n?", "", text, flags=re.DOTALL)
    text = re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>{prefix}", text)
    return text.replace("<svg ", f'<svg role="img" aria-label="{escape(picture.text)}" ', 1)
