"""A document as a PDF: text set on A4 or Letter with embedded fonts, pictures as vectors.

The text is set by reportlab with the fonts that matplotlib ships; each picture leaves a gap of its size, into which
pypdf puts the page that matplotlib made of it. Nothing in the file depends on the clock.
"""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path

from pullcast.errors import InputError
from pullcast.show.report.document import Document

NAME = "Kestrel"  # of the font family inside the file
FACES = {"": "DejaVuSans", "-Bold": "DejaVuSans-Bold", "-Mono": "DejaVuSansMono"}
MARGIN = 15.0  # mm


def printed(document: Document, paper: str) -> bytes:
    """The bytes of the PDF. Raises InputError, saying what to install, when reportlab or pypdf is missing."""
    try:
        import pypdf  # noqa: F401 (asked for before the work)
        import reportlab  # noqa: F401
    except ImportError as error:
        msg = f"a PDF needs {error.name}: pip install 'pullcast[report]', or write .html and print that"
        raise InputError(msg) from None
    from pullcast.show.report.setting import set_pages

    text, gaps = set_pages(document, paper)
    return _with_pictures(document, text, gaps)


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


def _with_pictures(document: Document, text: bytes, gaps) -> bytes:
    from pypdf import PdfReader, PdfWriter, Transformation

    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(text)))
    for gap in gaps:
        drawn = PdfReader(io.BytesIO(gap.data)).pages[0]
        place = Transformation().scale(gap.scale).translate(gap.x, gap.y)
        writer.pages[gap.page - 1].merge_transformed_page(drawn, place)
    from pullcast import __version__

    writer.metadata = {"/Title": document.title, "/Producer": f"pullcast {__version__}"}
    for page in writer.pages:
        page.compress_content_streams()
    writer.compress_identical_objects()
    file = io.BytesIO()
    writer.write(file)
    return file.getvalue()
