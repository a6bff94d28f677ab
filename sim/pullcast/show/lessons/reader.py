"""From the text cards and the modules that compute to lessons."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

from pullcast.errors import InputError
from pullcast.show.lessons.lesson import Lesson, LessonResult, Prediction, Question, Setting, Teacher

# in the order of the course
KEYS = ("filling", "reading", "throttle", "advance", "separation", "corners", "primaries", "peaks", "correction",
        "noise", "mystery")
CARD_FOLDER = Path(__file__).parent / "cards"


@cache
def all_lessons() -> tuple[Lesson, ...]:
    """Every lesson, in the order of the course."""
    return tuple(lesson_named(key) for key in KEYS)


@cache
def lesson_named(key: str) -> Lesson:
    """The lesson of this key. InputError naming the nearest ones."""
    if key not in KEYS:
        near = difflib.get_close_matches(key, KEYS, n=2, cutoff=0.4)
        msg = f"no lesson is called {key!r}: there are {', '.join(near or KEYS)}"
        raise InputError(msg)
    text = (CARD_FOLDER / f"{key}.toml").read_text(encoding="utf-8")
    measure = import_module(f"pullcast.show.lessons.{key}").measure
    return read_lesson(key, tomllib.loads(text), measure)


def read_lesson(key: str, card: Mapping[str, Any], measure) -> Lesson:
    """A lesson from its card's tables and the function that computes it."""
    ask, guess, teacher = card["question"], card["prediction"], card["teacher"]
    return Lesson(
        key=key, title=card["title"], minutes=card["minutes"], purpose=_joined(card["purpose"]), model=card["model"],
        engine=card["engine"], presets=card.get("presets", {}),
        settings=tuple(Setting(row["label"], row["changes"]) for row in card.get("setting", ())),
        prediction=Prediction(_joined(guess["question"]), guess["choices"], guess["expected"]),
        paragraphs=tuple(_joined(p) for p in card["explanation"]["paragraphs"]),
        replies={letter: _joined(text) for letter, text in guess["replies"].items()},
        asked=lambda result: _question(ask, result), measure=measure,
        teacher=Teacher(_joined(teacher["aim"]), _joined(teacher["see"]), tuple(map(_joined, teacher["care"]))),
        sources=tuple(_joined(s) for s in card["sources"]))


def _question(ask: Mapping[str, Any], result: LessonResult) -> Question:
    facts = result.facts
    slips = tuple((facts[s["fact"]] if "fact" in s else s["letter"], _joined(s["text"]).format_map(facts))
                  for s in ask.get("slips", ()) if not _missing(facts.get(s.get("fact"))))
    choices = {letter: text.format_map(facts) for letter, text in ask.get("choices", {}).items()}
    return Question(_joined(ask["text"]).format_map(facts), result.answer, ask.get("unit", ""),
                    float(ask.get("tolerance", 0.0)), choices, slips, _joined(ask["hint"]).format_map(facts))


def _missing(fact: object) -> bool:
    """Whether a slip's value did not come about in this run: two curves that never meet, say."""
    return isinstance(fact, float) and math.isnan(fact)


def _joined(text: str) -> str:
    """A text written over several lines as one line."""
    return re.sub(r"\s*\n\s*", " ", text.strip())
