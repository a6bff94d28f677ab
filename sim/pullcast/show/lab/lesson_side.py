"""The lessons beside the page: a prediction first, then the run, the explanation, and a question with an answer."""

from __future__ import annotations

from concurrent.futures import Future
from typing import TYPE_CHECKING, Any

from pullcast.card.tree import plant
from pullcast.card.writing import engine_text
from pullcast.errors import InputError
from pullcast.sheets.files import read_sheet
from pullcast.show.lab.bench import Bench
from pullcast.show.lab.host import Host
from pullcast.show.lab.lesson_figures import LessonFigures
from pullcast.show.lab.tables import Sheet
from pullcast.show.lessons import Lesson, LessonResult, all_lessons, lesson_named

if TYPE_CHECKING:
    from pullcast.show.lab.wire import Message


def run_lesson(key: str) -> LessonResult:
    """In a worker: what a lesson's run gives."""
    return lesson_named(key).run()


class LessonSide:
    """Which lesson is open on a page, and how far its reader has come."""

    def __init__(self, session: Host) -> None:
        self._session = session
        self.figures = LessonFigures()
        self._open, self._lesson = False, None
        self._done: set[str] = set()
        self._begin(None)

    def _begin(self, lesson: Lesson | None) -> None:
        self._lesson, self._guess, self._answer = lesson, "", ""
        self._result: LessonResult | None = None
        self._running = self._fault = self._verdict = ""
        self._right = False

    def hear(self, message: Message) -> None:
        """What the page says about lessons."""
        if message.do == "lessons":
            self._open = not self._open
            self.show(fresh=self._open)
        elif message.do == "lesson":
            self._choose(message.key)
        elif message.do == "guess" and self._lesson is not None and self._result is None and not self._running:
            self._run(message.text)
        elif message.do == "answer" and self._lesson is not None and self._result is not None:
            self._check(message.text)
        elif message.do == "try" and self._lesson is not None and message.key.isdigit():
            self._try(int(message.key))

    def _choose(self, key: str) -> None:
        known = {lesson.key: lesson for lesson in all_lessons()}
        if key and key not in known:
            return
        self._begin(known.get(key))
        if self._lesson is not None:
            self._try(-1)
        self.show(fresh=True)

    def _run(self, guess: str) -> None:
        try:
            self._guess, self._fault = self._lesson.prediction.letter(guess), ""
        except InputError as error:
            self._fault = f"First say what you expect. {error}" if guess else "First choose what you expect."
            self.show()
            return
        self._running = "The model runs; this takes some seconds."
        lesson = self._lesson
        future = self._session.shared.lesson(lesson.key, run_lesson)
        future.add_done_callback(lambda done: self._session.soon(lambda: self._ran(lesson, done)))
        self.show()

    def _ran(self, lesson: Lesson, future: Future) -> None:
        if lesson is not self._lesson:
            return
        self._running = ""
        error = future.exception()
        if error is not None:
            self._fault = f"The run did not end well: {error}"
        else:
            self._result = future.result()
            self.figures.show(self._result.panels)
        self.show()

    def _check(self, text: str) -> None:
        self._answer = text
        self._right, self._verdict = self._lesson.question(self._result).check(text)
        if self._right:
            self._done.add(self._lesson.key)
        self.show()

    def _try(self, index: int) -> None:
        """Put the lesson's engine on the bench, with a setting's changes (-1: none)."""
        lesson, session = self._lesson, self._session
        if not -1 <= index < len(lesson.settings):
            return
        bench = Bench(card=lesson.engine)
        if lesson.engine not in session.shared.shelf.engines:
            bench = Bench(text=engine_text(plant(read_sheet(lesson.card, lesson.card.name), lesson.card.parent)))
        start = bench.with_keys(_texts(lesson.presets))
        if session.base.setup.bench == start:
            session.propose(start)
        else:
            session.open_bench(start)
        if index >= 0:
            session.propose(start.with_keys(_texts(lesson.settings[index].changes)))

    def show(self, fresh: bool = False) -> None:
        """The lesson on the page."""
        self._session.wire.lesson = self._view() | {"fresh": fresh}

    def _view(self) -> dict[str, Any]:
        lesson, result = self._lesson, self._result
        view: dict[str, Any] = {"open": self._open, "key": "", "panels": 0}
        if lesson is None:
            return view | {"list": [[x.key, x.title, x.minutes, x.key in self._done] for x in all_lessons()]}
        view |= {"key": lesson.key, "title": lesson.title, "purpose": lesson.purpose, "fault": self._fault,
                 "question": lesson.prediction.question, "choices": dict(lesson.prediction.choices),
                 "guess": self._guess, "running": self._running, "told": None, "table": None}
        return view if result is None else view | self._told(lesson, result)

    def _told(self, lesson: Lesson, result: LessonResult) -> dict[str, Any]:
        came, question = lesson.reply(self._guess, result), lesson.question(result)
        sheet = Sheet("", result.table[0], result.table[1:], tuple(range(1, len(result.table[0])))) if (
            result.table) else None
        return {
            "came": came.ok, "reply": came.hint, "told": lesson.explain(result).split("\n\n"),
            "table": None if sheet is None else sheet.plain(), "panels": min(2, len(result.panels)),
            "ask": question.text, "answers": dict(question.choices), "unit": question.unit, "answer": self._answer,
            "verdict": self._verdict, "right": self._right,
            "settings": [[s.label, i] for i, s in enumerate(lesson.settings)], "sources": list(lesson.sources)}


def _texts(changes) -> list[tuple[str, str]]:
    """Changes as the page keeps them: texts; a table (a value with its doubt) stays out."""
    return [(key, str(value)) for key, value in changes.items() if isinstance(value, str | int | float)]
