"""A finished answer as a little HTML for notebooks: sentences and one table, every text escaped."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape

NUMBER = re.compile(r"[<>+-]?[0-9.]+( to [+-]?[0-9.]+)?|–")
CELL = 'style="text-align:{side};vertical-align:top;padding:0 .7em 0 0"'


def answer_html(sentences: Sequence[str], heads: Sequence[str] = (), rows: Iterable[Sequence[object]] = (),
                notes: Sequence[str] = ()) -> str:
    """Sentences (the first in bold), a table of ``rows`` under ``heads``, then notes.

    Numbers stand to the right. A line break in a head is kept.

    >>> answer_html(["A < B"], ["part", "%"], [["B", "+1.2"]])[:48]
    '<p><strong>A &lt; B</strong></p><table><thead><t'
    """
    first, *rest = sentences or ("",)
    parts = [f"<p><strong>{escape(first)}</strong></p>", *(f"<p>{escape(s)}</p>" for s in rest)]
    body = "".join("<tr>" + "".join(map(_cell, row)) + "</tr>" for row in rows)
    if heads:
        style = CELL.format(side="left")
        top = "".join(f"<th {style}>{escape(h).replace(chr(10), '<br>')}</th>" for h in heads)
        parts.append(f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>")
    parts += [f"<p><small>{escape(n)}</small></p>" for n in notes]
    return "".join(parts)


def _cell(value: object) -> str:
    text = str(value)
    side = "right" if NUMBER.fullmatch(text) else "left"
    return f"<td {CELL.format(side=side)}>{escape(text)}</td>"
