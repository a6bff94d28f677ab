"""The letters of a printed report, which matplotlib ships, and its pictures as PDF."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

NAME = "Kestrel"  # of the font family inside the file
FACES = {"": "DejaVuSans", "-Bold": "DejaVuSans-Bold", "-Mono": "DejaVuSansMono"}
MARGIN = 15.0  # mm


@cache
def fonts() -> dict[str, str]:
    """Names of the registered fonts by face: "", "-Bold", "-Mono"."""
    import matplotlib as mpl
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    for face, file in FACES.items():
        pdfmetrics.registerFont(TTFont(f"{NAME}{face}", str(folder / f"{file}.ttf")))
    return {face: f"{NAME}{face}" for face in FACES}


def picture_pdf(figure) -> bytes:
    """A figure as a PDF page of its own size."""
    import matplotlib as mpl

    from pullcast.show.look import STYLE

    file = io.BytesIO()
    with mpl.rc_context(STYLE):
        figure.savefig(file, format="pdf", metadata={"CreationDate": None, "Creator": None, "Producer": None})
    return file.getvalue()
