"""The setting of a document's text on pages, with a gap for every picture."""

from __future__ import annotations

import io
from dataclasses import dataclass
from xml.sax.saxutils import escape

from reportlab.lib import colors, pagesizes
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    PageTemplate,
    Paragraph,
    Spacer,
)

from pullcast.show.report import table_setting
from pullcast.show.report.blocks import Block, Bullets, Grid, Listing, Para, Picture
from pullcast.show.report.sheet import Sheet
from pullcast.show.report.typeface import MARGIN, fonts, picture_pdf

SIZES = {"a4": pagesizes.A4, "letter": pagesizes.LETTER}
GREY, LINE, BLUE = colors.HexColor("#555555"), colors.HexColor("#999999"), colors.HexColor("#0072B2")
INCH = 72.0
FOOT = 18.0  # mm below the text
CAPTION, SHRUNK = 8.0, 0.72  # points about a caption; smallest share of a picture's full size


@dataclass
class Gap:
    """Where a picture belongs: its PDF page, scale, and place (points) on ``page`` (from 1)."""

    data: bytes
    scale: float
    page: int = 0
    x: float = 0.0
    y: float = 0.0


class Placed(Flowable):
    """A picture's room with its caption; notes where the room is. It shrinks a little rather than leave a page half
    empty."""

    def __init__(self, gap: Gap, size: tuple[float, float], caption: Paragraph):
        super().__init__()
        self.gap, self.size, self.caption, self.full = gap, size, caption, gap.scale

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Full size where that fits or nothing does, else what fits down to ``SHRUNK`` of it."""
        self.below = self.caption.wrap(width, height)[1] + CAPTION
        fits = (height - self.below) / (self.size[1] * self.full)
        self.gap.scale = self.full * (fits if SHRUNK <= fits < 1.0 else 1.0)
        return width, self.size[1] * self.gap.scale + self.below

    def least(self, width: float, height: float) -> float:
        """Height below which it goes to the next page."""
        return self.caption.wrap(width, height)[1] + CAPTION + SHRUNK * self.size[1] * self.full + 1.0

    def draw(self) -> None:
        """Note page and place; draw the caption."""
        self.gap.page = self.canv.getPageNumber()
        self.gap.x, self.gap.y = self.canv.absolutePosition(0, self.below)
        self.caption.drawOn(self.canv, 0, CAPTION / 2)


class Ruled(Flowable):
    """A thin line over the whole width."""

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """As wide as there is room."""
        self.width = width
        return width, 1.0

    def draw(self) -> None:
        """Draw it."""
        self.canv.setStrokeColor(LINE)
        self.canv.setLineWidth(0.6)
        self.canv.line(0, 0, self.width, 0)


def set_pages(document: Sheet, paper: str) -> tuple[bytes, list[Gap]]:
    """The PDF of the text alone, and the gaps of its pictures."""
    size, face, gaps = SIZES[paper], fonts(), []
    width = size[0] - 2 * MARGIN * mm
    styles = _styles(face)
    file = io.BytesIO()
    pages = BaseDocTemplate(file, pagesize=size, invariant=1, title=document.title, author="", pageCompression=1)
    frame = Frame(MARGIN * mm, FOOT * mm, width, size[1] - (MARGIN + FOOT) * mm, 0, 0, 0, 0)
    pages.addPageTemplates(PageTemplate(frames=[frame]))
    story = _head(document, styles, width)
    for heading, blocks in document.chapters:
        head = [Spacer(0, 9), Ruled(), Paragraph(escape(heading), styles["h2"])]
        for block in blocks:
            flow = _flow(block, styles, width, frame._height, gaps)
            if isinstance(block, Para) and block.strong:
                head += flow
                continue
            story += [CondPageBreak(_needed(head, flow, width, frame._height)), *head, *flow]
            head = []
    pages.build(story, canvasmaker=_numbered(document, face))
    return file.getvalue(), gaps


def _styles(face: dict[str, str]) -> dict[str, ParagraphStyle]:
    def style(name: str, size: float, bold: bool = False, **more) -> ParagraphStyle:
        how = {"leading": 1.36 * size, "spaceAfter": 3, "bulletFontName": face[""]} | more
        return ParagraphStyle(name, fontName=face["-Bold" if bold else ""], fontSize=size, **how)

    return {
        "h1": style("h1", 17, True, leading=21, spaceAfter=4),
        "h2": style("h2", 11.5, True, spaceBefore=5, spaceAfter=5),
        "h3": style("h3", 8.6, True, spaceBefore=5, spaceAfter=2),
        "question": style("question", 8.8, textColor=GREY),
        "verdict": style("verdict", 10.5, True, leading=14.5), "text": style("text", 8.4),
        "bold": style("bold", 8.4, True, spaceBefore=4),
        "bullet": style("bullet", 8.4, leftIndent=13, bulletIndent=1, spaceAfter=1.5),
        "caption": style("caption", 7.4, textColor=GREY, spaceAfter=7),
        "listing": ParagraphStyle("listing", fontName=face["-Mono"], fontSize=6.4, leading=8.3, leftIndent=6),
    }


def _head(document: Sheet, styles, width: float) -> list:
    told = [Paragraph(escape(v), styles["verdict" if k == 0 else "text"]) for k, v in enumerate(document.verdicts)]
    bar = [table_setting.barred(told, width, BLUE)] if told else []
    return [Paragraph(escape(document.title), styles["h1"]),
            *(Paragraph(escape(q), styles["question"]) for q in document.questions), Spacer(0, 5), *bar]


def _needed(head: list, flow: list, width: float, height: float) -> float:
    """Room (points) without which headings and what follows them begin a new page: a third of a page at most of what
    can be split, else all of it."""
    above = sum(f.wrap(width, height)[1] + f.getSpaceBefore() + f.getSpaceAfter() for f in head)
    if isinstance(flow[0], Placed):
        return above + flow[0].least(width, height)
    below = sum(f.wrap(width, height)[1] + f.getSpaceBefore() + f.getSpaceAfter() for f in flow)
    whole = len(flow) == 1 or below < height / 3
    return min(above + (below if whole else 60.0) + 1.0, height)


def _flow(block: Block, styles, width: float, height: float, gaps: list[Gap]) -> list:
    match block:
        case Para():
            return [Paragraph(escape(block.text), styles["bold" if block.strong else "text"])]
        case Bullets():
            return [Paragraph(escape(t), styles["bullet"], bulletText=block.mark or "•") for t in block.items]
        case Listing():
            return [Paragraph(escape(block.title), styles["h3"]), *_listing(block.text, styles["listing"])]
        case Grid():
            return table_setting.table(block, styles, width)
        case Picture():
            return [_picture(block, styles, width, height, gaps)]


def _listing(text: str, style: ParagraphStyle) -> list:
    def kept(line: str) -> str:
        body = line.expandtabs(4).lstrip(" ")
        return "\u00a0" * (len(line.expandtabs(4)) - len(body)) + escape(body)

    return [Paragraph(kept(line) or "\u00a0", style) for line in text.splitlines()]


def _picture(block: Picture, styles, width: float, height: float, gaps: list[Gap]) -> Placed:
    figure = block.make()
    w, h = (INCH * v for v in figure.get_size_inches())
    scale = min(width / w, (height - 40) / h, 1.15)
    gap = Gap(picture_pdf(figure), scale)
    gaps.append(gap)
    return Placed(gap, (w, h), Paragraph(escape(block.text), styles["caption"]))


def _numbered(document: Sheet, face: dict[str, str]):
    """A canvas that writes the foot of each page when the number of pages is known."""
    title = document.title if len(document.title) < 72 else document.title[:70] + " …"

    class Numbered(Canvas):
        """Pages are kept until all are there."""

        def __init__(self, *args, **more):
            super().__init__(*args, **more | {"initialFontName": face[""]})
            self.kept: list[dict] = []

        def showPage(self) -> None:
            """Keep the page."""
            self.kept.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            """Write all pages with their feet."""
            for state in self.kept:
                self.__dict__.update(state)
                self._foot(len(self.kept))
                super().showPage()
            super().save()

        def _foot(self, count: int) -> None:
            right = self._pagesize[0] - MARGIN * mm
            self.setFont(face[""], 6.8)
            self.setFillColor(GREY)
            self.drawString(MARGIN * mm, 10.5 * mm, title)
            self.drawString(MARGIN * mm, 7.5 * mm, document.foot)
            self.drawRightString(right, 10.5 * mm, f"page {self._pageNumber} of {count}")

    return Numbered
