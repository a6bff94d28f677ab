"""A lesson on a terminal: prediction, run, explanation, question; or both answers given at once."""

from __future__ import annotations

import argparse
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence

from pullcast.errors import InputError, PullcastError
from pullcast.show.lessons.figure import lesson_figure
from pullcast.show.lessons.lesson import Lesson, LessonResult
from pullcast.show.lessons.reader import lesson_named
from pullcast.show.look import save_figure

WIDTH, TRIES = 92, 3


def take(key: str, arguments: Sequence[str] | None = None) -> int:
    """Give the lesson of this key on the terminal; exit code 0: answered right, 4: wrong, else that of the error."""
    lesson = lesson_named(key)
    options = _options(lesson, arguments)
    replies = _replies(options.answers)
    try:
        result = _predict_and_run(lesson, replies)
        if options.out:
            print(f"Picture: {save_figure(lesson_figure(lesson, result), options.out)}")
        return _ask_question(lesson, result, replies)
    except PullcastError as error:
        print(f"pullcast: {error}", file=sys.stderr)
        return error.exit_code


def _options(lesson: Lesson, arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=f"{lesson.title}. {lesson.purpose} About {lesson.minutes} minutes.")
    parser.add_argument("--answers", metavar="A,B", default="",
                        help='prediction and last answer at once, as --answers "b,35": nothing is asked')
    parser.add_argument("--out", metavar="FILE", default="", help="save the picture (.png, .svg, .pdf)")
    return parser.parse_args(arguments)


def _replies(answers: str) -> Iterator[str] | None:
    """The answers given beforehand, None to ask; a decimal comma in the last answer is kept."""
    if not answers:
        return None
    return iter(part.strip() for part in answers.split(",", 1))


def _predict_and_run(lesson: Lesson, replies: Iterator[str] | None) -> LessonResult:
    _say(lesson.title.upper(), lesson.purpose, "", lesson.prediction.question)
    _say(*(f"  {letter}  {text}" for letter, text in lesson.prediction.choices.items()))
    guess = _answer("Your prediction: ", replies, lesson.prediction.letter)
    result = lesson.run(_progress if sys.stderr.isatty() else None)
    if sys.stderr.isatty():
        print(file=sys.stderr)
    print()
    _print_table(result.table)
    _say("", lesson.reply(guess, result).hint, "")
    for paragraph in lesson.explain(result).split("\n\n"):
        _say(paragraph, "")
    return result


def _ask_question(lesson: Lesson, result: LessonResult, replies: Iterator[str] | None) -> int:
    question = lesson.question(result)
    _say("QUESTION", question.text, *(f"  {letter}  {text}" for letter, text in question.choices.items()))
    unit = f" ({question.unit})" if question.unit else ""
    for _ in range(1 if replies else TRIES):
        verdict = question.check(_answer(f"Your answer{unit}: ", replies, str))
        _say(verdict.hint)
        if verdict.ok:
            return 0
    return 4


def _answer(prompt: str, replies: Iterator[str] | None, read: Callable[[str], str]) -> str:
    """An answer that can be read: asked for until it can, or taken from those given beforehand."""
    while True:
        try:
            if replies is not None:
                given = next(replies, "")
                print(prompt + given)
                return read(given)
            return read(input(prompt))
        except EOFError:
            msg = 'there is nobody to answer: give --answers "b,35" (prediction, last answer)'
            raise InputError(msg) from None
        except InputError as error:
            if replies is not None:
                raise
            _say(str(error))


def _progress(rpm: float, done: int, total: int, note: str) -> None:
    print(f"\r{done} of {total} speeds", end="", file=sys.stderr, flush=True)


def _print_table(rows: tuple[tuple[str, ...], ...]) -> None:
    heads = [textwrap.wrap(head, 14) for head in rows[0]]
    deep = max(map(len, heads))
    rows = (*(tuple((head + [""] * deep)[k] for head in heads) for k in range(deep)), *rows[1:])
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    for row in rows:
        print("  ".join(cell.ljust(w) if i == 0 else cell.rjust(w) for i, (cell, w) in
                        enumerate(zip(row, widths, strict=True))).rstrip())


def _say(*texts: str) -> None:
    for text in texts:
        print(textwrap.fill(text, WIDTH, subsequent_indent="     " if text.startswith("  ") else "") if text else "")
