"""The letters of a printed report, which matplotlib ships, and its pictures as PDF."""

from __future__ import annotations

import io
from functools import cache

from pullcast.show.letters import FACES, font_file, letter

NAME = "Kestrel"  # of the font family inside the file
MARGIN = 15.0  # mm


@cache
def fonts() -> dict[str, str]:
    """Names of the registered fonts by face: "", "-Bold", "-Mono"."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for face in FACES:
        pdfmetrics.registerFont(TTFont(f"{NAME}{face}", str(font_file(face))))
    return {face: f"{NAME}{face}" for face in FACES}


def picture_pdf(figure) -> bytes:
    """A figure as a PDF page of its own size."""
    import matplotlib as mpl

    from pullcast.show.look import STYLE

    file = io.BytesIO()
    letter(figure)
    with mpl.rc_context(STYLE):
        figure.savefig(file, format="pdf", metadata={"CreationDate": None, "Creator": None, "Producer": None})
    return file.getvalue()
