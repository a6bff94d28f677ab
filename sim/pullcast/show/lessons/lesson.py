"""What a lesson is: a prediction first, then a run, an explanation from its numbers, a question with one answer."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from pullcast.errors import InputError

HERE = Path(__file__).resolve()
# the shipped cards, in which ``Lesson.engine`` is a path: a link beside this file, which an installation has as files
CARDS = next((folder for folder in (HERE.parent / "configs", HERE.parents[4] / "configs")
              if (folder / "engines").is_dir()), HERE.parent / "configs")
Facts = Mapping[str, float | str]
Progress = Callable[[float, int, int, str], None]
_NUMBER = re.compile(r"\s*([-+\u2212]?\d+(?:[.,]\d+)?)\s*([^\d\s].*)?\Z")


class Verdict(NamedTuple):
    """Whether an answer is right, and what to tell its author."""

    ok: bool
    hint: str


@dataclass(frozen=True)
class Line:
    """One line of a picture: ``x`` and ``y`` of equal length in the panel's units; ``points``: markers, no line."""

    label: str
    x: tuple[float, ...]
    y: tuple[float, ...]
    points: bool = False


@dataclass(frozen=True)
class Panel:
    """One picture of a lesson: axis labels with their units, and its lines."""

    title: str
    x_label: str
    y_label: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Setting:
    """One of the engines compared: swaps (dotted key to card value) on top of the lesson's presets."""

    label: str
    changes: Mapping[str, object]


@dataclass(frozen=True)
class Prediction:
    """The question put before the run; ``choices`` letter to text; ``expected``: the letter its sources support."""

    question: str
    choices: Mapping[str, str]
    expected: str

    def letter(self, answer: str) -> str:
        """The letter an answer names. InputError saying which there are."""
        return chosen(answer, self.choices)


@dataclass(frozen=True)
class LessonResult:
    """What a run gave.

    ``facts`` fill the texts (numbers in shown units), ``panels`` are the pictures, ``table`` heads and rows of text
    (may be empty), ``right`` the prediction the numbers bear out, ``answer`` that of the question.
    """

    facts: Facts
    panels: tuple[Panel, ...]
    right: str
    answer: float | str
    table: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class Question:
    """The last question, filled in from a run.

    With ``choices`` the answer is a letter, else a number in ``unit`` within ``tolerance``. ``slips``: (value or
    letter, what it shows) of usual mistakes; one that this run does not tell from the answer or an earlier one is
    dropped. ``hint`` is told otherwise.
    """

    text: str
    answer: float | str
    unit: str = ""
    tolerance: float = 0.0
    choices: Mapping[str, str] = field(default_factory=dict)
    slips: tuple[tuple[float | str, str], ...] = ()
    hint: str = ""

    def __post_init__(self) -> None:
        """Drop the slips that cannot be told apart."""
        told: list[tuple[float | str, str]] = []
        for value, text in self.slips:
            if not any(self._is(value, other) for other in (self.answer, *(v for v, _ in told))):
                told.append((value, text))
        object.__setattr__(self, "slips", tuple(told))

    def check(self, answer: str) -> Verdict:
        """Right or not; a wrong or unreadable answer gets a hint, never the answer."""
        try:
            given = chosen(answer, self.choices) if self.choices else number(answer, self.unit)
        except InputError as error:
            return Verdict(False, str(error))
        if self._is(given, self.answer):
            return Verdict(True, f"Right: {self.shown}.")
        for value, text in self.slips:
            if self._is(given, value):
                return Verdict(False, text)
        return Verdict(False, self.hint)

    @property
    def shown(self) -> str:
        """The right answer as text."""
        if self.choices:
            return f"{self.answer}, {self.choices[str(self.answer)]}"
        digits = max(0, -int(f"{self.tolerance:e}".partition("e")[2]))
        return f"{self.answer:.{digits}f} {self.unit}".strip()

    def _is(self, given: float | str, value: float | str) -> bool:
        if isinstance(given, str) or isinstance(value, str):
            return given == value
        return abs(given - value) <= self.tolerance * (1 + 1e-9)


@dataclass(frozen=True)
class Teacher:
    """What only the teacher's sheet says: what the class will see, what to prepare, what to be careful with."""

    aim: str
    see: str
    care: tuple[str, ...]


@dataclass(frozen=True)
class Lesson:
    """A lesson. ``engine`` is a card below ``CARDS``; ``presets`` dotted key to card value set before anything else;
    ``model`` says what computes it: "waves", "lumped" or "none" (no run of an engine)."""

    key: str
    title: str
    minutes: int
    purpose: str
    model: str
    engine: str
    presets: Mapping[str, object]
    settings: tuple[Setting, ...]
    prediction: Prediction
    paragraphs: tuple[str, ...]
    replies: Mapping[str, str]
    asked: Callable[[LessonResult], Question] = field(repr=False)
    measure: Callable[[Lesson, Progress | None], LessonResult] = field(repr=False)
    teacher: Teacher
    sources: tuple[str, ...]

    @property
    def card(self) -> Path:
        """The engine card's file."""
        return CARDS / self.engine

    def run(self, on_point: Progress | None = None) -> LessonResult:
        """Compute the lesson: the same numbers every time, nothing is asked and nothing leaves the machine.

        ``on_point(rpm, done, total, note)`` is called as speeds finish. Errors as those of ``pullcast.predict``.
        """
        return self.measure(self, on_point)

    def reply(self, guess: str, result: LessonResult) -> Verdict:
        """Whether a prediction (a letter) came true, and a sentence about it."""
        letter = self.prediction.letter(guess)
        ok = letter == result.right
        first = "It came so." if ok else "It came otherwise."
        return Verdict(ok, f"{first} {_filled(self.replies[letter], result.facts)}")

    def explain(self, result: LessonResult) -> str:
        """The explanation with the run's numbers, paragraphs parted by an empty line."""
        told = [_filled(p, result.facts) for p in self.paragraphs]
        if result.right != self.prediction.expected:
            told.append("The run does not bear out what the sources of this lesson say "
                        f"({self.prediction.choices[self.prediction.expected]}). Treat this as an open question.")
        return "\n\n".join(told)

    def question(self, result: LessonResult) -> Question:
        """The question at the end, with its answer computed from the run."""
        return self.asked(result)


def chosen(answer: str, choices: Mapping[str, str]) -> str:
    """The letter of ``choices`` an answer names, case and trailing marks aside; InputError saying which there are."""
    letter = answer.strip().lower().rstrip(".)")
    if letter not in choices:
        msg = f"{answer.strip()!r} is none of the choices: answer {', '.join(choices)}"
        raise InputError(msg)
    return letter


def number(answer: str, unit: str) -> float:
    """The number of an answer, its unit written or not; decimal comma or point. InputError for anything else.

    >>> number("58 deg", "deg"), number("3,2", "%")
    (58.0, 3.2)
    """
    found = _NUMBER.match(answer)
    if found is None:
        msg = f"{answer.strip()!r} is not a number: answer with one number" + (f" in {unit}" if unit else "")
        raise InputError(msg)
    if found[2] and found[2].strip().lower() != unit.lower():
        wanted = f"in {unit}" if unit else "with a number only"
        msg = f"{found[2].strip()!r} is not the unit asked for: answer {wanted}"
        raise InputError(msg)
    return float(found[1].replace(",", ".").replace("\u2212", "-"))


def _filled(text: str, facts: Facts) -> str:
    return text.format_map(facts)
