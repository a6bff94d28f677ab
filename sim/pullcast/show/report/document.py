"""A document ready to be set: title, question, verdicts, chapters. It writes itself as a page or as print."""

from __future__ import annotations

from pathlib import Path

from pullcast.errors import InputError
from pullcast.results.files import write_whole
from pullcast.show.report.sheet import Sheet

PAPERS = ("a4", "letter")
ENDINGS = (".html", ".pdf")


class Document(Sheet):
    """A sheet that writes itself; two of the same content are the same to the last byte."""

    def html(self, paper: str = "a4") -> str:
        """One HTML file with everything in it: no script, nothing loaded from elsewhere; prints on ``paper``."""
        from pullcast.show.report.page import page

        return page(self, checked_paper(paper))

    def pdf(self, paper: str = "a4") -> bytes:
        """A PDF on ``paper``, "a4" or "letter", fonts embedded. InputError when its two libraries are missing."""
        from pullcast.show.report.printed import printed

        return printed(self, checked_paper(paper))

    def save(self, path: str | Path, paper: str = "a4") -> Path:
        """Write it as .html or .pdf, whole or not at all.

        Raises InputError for another ending or paper, StoreError when the file cannot be written.
        """
        path = Path(path)
        kind = path.suffix.lower()
        if kind not in ENDINGS:
            msg = f"{path}: a report is saved as {' or '.join(ENDINGS)}, not {kind or 'without an ending'}"
            raise InputError(msg)
        data = self.pdf(paper) if kind == ".pdf" else self.html(paper).encode()
        return write_whole(path, lambda p: p.write_bytes(data))

    def __repr__(self) -> str:
        """Title, first verdict and chapters."""
        told = ", ".join(heading for heading, _ in self.chapters)
        return f"{self.title}: {self.verdicts[0] if self.verdicts else ''} ({told})"

    def _repr_html_(self) -> str:
        from html import escape

        more = "".join(f"<li>{escape(v)}</li>" for v in self.verdicts[1:])
        head = escape(self.verdicts[0]) if self.verdicts else ""
        return f"<h3>{escape(self.title)}</h3><p><b>{head}</b></p><ul>{more}</ul>"


def checked_paper(paper: str) -> str:
    """The paper in small letters; InputError when it is not one of ``PAPERS``."""
    if paper.lower() not in PAPERS:
        msg = f"paper {paper!r} is not known: use {' or '.join(PAPERS)}"
        raise InputError(msg)
    return paper.lower()
