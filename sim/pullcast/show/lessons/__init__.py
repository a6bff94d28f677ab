"""Lessons on how an engine breathes, shown on the live page and as scripts.

1. ``lesson = all_lessons()[0]`` and ``lesson.prediction`` is asked first.
2. ``result = lesson.run()`` computes it with the live model.
3. ``lesson.reply("b", result)`` and ``lesson.explain(result)`` talk about the run's own numbers.
4. ``lesson.question(result).check("58 deg")`` gives right or wrong, with a hint.

Each lesson is a text card (``cards/KEY.toml``) and a function that computes its numbers (module ``KEY``).
"""

from pullcast.show.lessons.lesson import (
    CARDS,
    Lesson,
    LessonResult,
    Line,
    Panel,
    Prediction,
    Question,
    Setting,
    Teacher,
    Verdict,
)
from pullcast.show.lessons.reader import KEYS, all_lessons, lesson_named
