"""The teacher's sheet: every lesson on pages to print, with the answers its run gave."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from pullcast.show import CAUTION
from pullcast.show.lessons.figure import lesson_figure
from pullcast.show.lessons.lesson import Lesson, LessonResult, Question

MODELS = {"waves": "solved wave by wave", "lumped": "lumped model", "none": "no engine is run"}


@dataclass(frozen=True)
class Taught:
    """A lesson with its run: question, explanation and what the class will see, filled in."""

    lesson: Lesson
    result: LessonResult

    @property
    def question(self) -> Question:
        """The question with its answer."""
        return self.lesson.question(self.result)

    @property
    def told(self) -> list[str]:
        """The paragraphs of the explanation."""
        return self.lesson.explain(self.result).split("\n\n")

    @property
    def see(self) -> str:
        """What the class will see, in this run's numbers."""
        return self.lesson.teacher.see.format_map(self.result.facts)


def teachers_sheet(lessons: Iterable[Lesson], on_lesson: Callable[[Lesson], None] | None = None) -> str:
    """One HTML page (A4 when printed, nothing loaded from elsewhere) of the lessons, run for their answers.

    ``on_lesson`` is called before each is run. Errors as those of ``Lesson.run``.
    """
    from jinja2 import Environment
    from markupsafe import Markup

    taught = []
    for lesson in lessons:
        if on_lesson:
            on_lesson(lesson)
        taught.append(Taught(lesson, lesson.run()))
    contents = [("lesson", "minutes", "computed", "script"),
                *((t.lesson.title, str(t.lesson.minutes), MODELS[t.lesson.model], f"lesson_{t.lesson.key}.py")
                  for t in taught)]
    page = Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True).from_string(
        Path(__file__).with_name("sheet.html").read_text(encoding="utf-8"))
    return page.render(taught=taught, contents=contents, models=MODELS, caution=CAUTION,
                       svg=lambda lesson, result: Markup(_drawing(lesson, result)))


def _drawing(lesson: Lesson, result: LessonResult) -> str:
    from pullcast.show.report.blocks import Picture
    from pullcast.show.report.page import svg

    return svg(Picture(lambda: lesson_figure(lesson, result), lesson.title), f"{lesson.key}-")
