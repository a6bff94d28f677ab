"""``python -m pullcast.show.lessons [LESSON] [--out FILE]``: the lessons listed, one taken, the teacher's sheet."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from pullcast.errors import InputError, PullcastError
from pullcast.results.files import write_whole
from pullcast.show.lessons.reader import all_lessons
from pullcast.show.lessons.sheet import teachers_sheet
from pullcast.show.lessons.terminal import take


def main(arguments: list[str] | None = None) -> int:
    """List the lessons, take the one named first, or with ``--out`` run them all (half a minute) and write the sheet;
    the exit code."""
    arguments = sys.argv[1:] if arguments is None else arguments
    if arguments and not arguments[0].startswith("-"):
        try:
            return take(arguments[0], arguments[1:])
        except InputError as error:
            print(f"pullcast: {error}", file=sys.stderr)
            return error.exit_code
    parser = argparse.ArgumentParser(prog="python -m pullcast.show.lessons", description="The lessons.")
    parser.add_argument("--out", type=Path, metavar="FILE", help="write the teacher's sheet to print (.html)")
    parser.add_argument("lesson", nargs="?", help="take this lesson; its own options follow, as --answers, --out")
    out = parser.parse_args(arguments).out
    if out is None:
        for lesson in all_lessons():
            print(f"{lesson.key:12s}{lesson.minutes:3d} min  {lesson.title}")
        return 0
    try:
        if out.suffix.lower() != ".html":
            msg = f"{out}: the sheet is written as .html"
            raise InputError(msg)
        text = teachers_sheet(all_lessons(), lambda lesson: print(f"running: {lesson.title}", file=sys.stderr))
        write_whole(out, lambda path: path.write_text(text, encoding="utf-8"))
    except PullcastError as error:
        print(f"pullcast: {error}", file=sys.stderr)
        return error.exit_code
    print(f"Teacher's sheet: {out}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
