"""Tables of a printed report: columns as wide as their words need, heads repeated on every page."""

from __future__ import annotations

from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable, Paragraph, Spacer, Table, TableStyle

from pullcast.show.report.blocks import Grid
from pullcast.show.report.typeface import fonts

PAD = 3.5  # points left and right of a cell
WORD = 180.0  # points; a longer word is broken
SIZES = (7.2, 6.6, 6.0, 5.4)  # points of type, the largest that fits is taken
FAINT, DARK = colors.HexColor("#DDDDDD"), colors.HexColor("#666666")


def table(block: Grid, styles, width: float) -> list[Flowable]:
    """The flowables of a table, its title kept with its first rows."""
    size, columns = _fitted(block, width)
    face = fonts()

    def cell(text: str, column: int, bold: bool) -> Paragraph:
        letters = ParagraphStyle("cell", fontName=face["-Bold" if bold else ""], fontSize=size, leading=1.25 * size,
                                 alignment=2 if block.aligned(column) else 0)
        return Paragraph(escape(text).replace("\n", "<br/>"), letters)

    heads = [cell(h, k, True) for k, h in enumerate(block.heads)]
    rows = [[cell(t, k, i in block.bold) for k, t in enumerate(row)] for i, row in enumerate(block.rows)]
    boxes = [("GRID", (0, 0), (-1, -1), 0.4, DARK), ("BOTTOMPADDING", (0, 1), (-1, -1), 9)] if block.form else []
    made = Table([heads, *rows], _stretched(columns, width) if block.form else columns, repeatRows=1, hAlign="LEFT",
                 style=style([
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"), ("VALIGN", (0, 1), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, 0), 0.6, DARK), ("LINEBELOW", (0, 1), (-1, -1), 0.3, FAINT),
        ("LEFTPADDING", (0, 0), (-1, -1), PAD), ("RIGHTPADDING", (0, 0), (-1, -1), PAD),
        ("TOPPADDING", (0, 0), (-1, -1), 1.6), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.8), *boxes]))
    title = Paragraph(escape(block.title), styles["h3"]) if block.title else Spacer(0, 3)
    return [title, made, Spacer(0, 6)]


def style(commands: list[tuple]) -> TableStyle:
    """A table style in the report's own font: the library's would be named in the file without being in it."""
    return TableStyle([("FONTNAME", (0, 0), (-1, -1), fonts()[""]), *commands])


def barred(flowables: list[Flowable], width: float, colour) -> Table:
    """Flowables with a bar at their left."""
    return Table([[flowables]], [width], style=style([
        ("LINEBEFORE", (0, 0), (0, -1), 3, colour), ("LEFTPADDING", (0, 0), (-1, -1), 9),
        ("TOPPADDING", (0, 0), (-1, -1), 2), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]))


def _fitted(block: Grid, width: float) -> tuple[float, list[float]]:
    for size in SIZES:
        natural, least = _widths(block, size)
        if sum(least) <= width:
            return size, _shared(natural, least, width)
    return size, [w * width / sum(least) for w in least]


def _shared(natural: list[float], least: list[float], width: float) -> list[float]:
    """Natural widths, or what is left over the least shared in proportion to what is wanted."""
    wanted = sum(natural) - sum(least)
    if sum(natural) <= width or wanted <= 0.0:
        return natural
    part = (width - sum(least)) / wanted
    return [low + part * (high - low) for low, high in zip(least, natural, strict=True)]


def _stretched(columns: list[float], width: float) -> list[float]:
    """All the room there is, what is left over shared alike: boxes to write into."""
    more = max(width - sum(columns), 0.0) / len(columns)
    return [c + more for c in columns]


def _widths(block: Grid, size: float) -> tuple[list[float], list[float]]:
    natural, least = [], []
    for k, head in enumerate(block.heads):
        lines = [(line, True) for line in head.split("\n")]
        lines += [(line, i in block.bold) for i, row in enumerate(block.rows) for line in row[k].split("\n")]
        natural.append(max(_width(t, bold, size) for t, bold in lines) + 2 * PAD + 0.5)
        words = lines if block.aligned(k) else [(w, bold) for line, bold in lines for w in line.split() or [""]]
        least.append(min(max(_width(w, bold, size) for w, bold in words) + 2 * PAD + 0.5, WORD))
    return natural, least


def _width(text: str, bold: bool, size: float) -> float:
    return stringWidth(text, fonts()["-Bold" if bold else ""], size)
