"""A document as a PDF: text set on A4 or Letter with embedded fonts, pictures as vectors.

The text is set by reportlab with the fonts that matplotlib ships; each picture leaves a gap of its size, into which
pypdf puts the page that matplotlib made of it. Nothing in the file depends on the clock.
"""

from __future__ import annotations

import io

from pullcast.errors import InputError
from pullcast.show.report.lettered import lettered
from pullcast.show.report.sheet import Sheet


def printed(document: Sheet, paper: str) -> bytes:
    """The bytes of the PDF. Raises InputError, saying what to install, when reportlab or pypdf is missing."""
    try:
        import pypdf  # noqa: F401 (asked for before the work)
        import reportlab  # noqa: F401
    except ImportError as error:
        msg = f"a PDF needs {error.name}: pip install 'pullcast[report]', or write .html and print that"
        raise InputError(msg) from None
    from pullcast.show.report.setting import set_pages

    text, gaps = set_pages(lettered(document), paper)
    return _with_pictures(document, text, gaps)


def _with_pictures(document: Sheet, text: bytes, gaps) -> bytes:
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
