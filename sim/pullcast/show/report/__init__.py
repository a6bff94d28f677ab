"""Reports: one self-contained HTML page or a PDF of any answers.

1. ``blocks``: sentences, tables, pictures; ``chapter``: what one answer gives to each chapter.
2. ``of_curve``, ``of_ranking``, ``of_session``, ``of_why``, ``of_lock``, ``saved``: the shares of the answers.
3. ``compose``: ``report(curve, ranking, judged)`` puts them in one order and gives a ``Document``.
4. ``document``: ``.html()``, ``.pdf("letter")``, ``.save("day.pdf")``; ``page`` and ``printed`` set it.
"""

from pullcast.show.report.compose import report
from pullcast.show.report.document import Document

__all__ = ["Document", "report"]
