"""The ``pullcast`` command: one module per verb, each a thin call of the library.

Every verb prints a table for people, or with ``--json`` one JSON document and nothing else on stdout; progress goes
to stderr, and only on a terminal. Exit codes: 0 done, 2 bad input, 3 not converged, 1 anything else, 130 interrupted.

To add a verb write ``cli/<verb>.py`` with a function ``<verb>`` (its docstring is the help, with an example) that
imports what it needs inside, and add it to ``VERBS`` with one line for the list of verbs.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from pullcast.cli import (
    calibrate,
    check,
    compare,
    diagnose,
    explain,
    judge,
    lab,
    lock,
    new,
    plan,
    predict,
    rank,
    report,
    tune,
    validate,
    warm,
)
from pullcast.errors import CardError, PullcastError

VERBS = {
    new.new: "Write a commented starter card.",
    check.check: "Review a card without simulating.",
    predict.predict: "Forecast the full-load curve.",
    rank.rank: "Rank candidate parts, with the chance that the order is real.",
    plan.plan: "Plan a dyno day from a ranking.",
    judge.judge: "Judge measured pulls: is B really better than A.",
    lock.lock: "Seal a forecast before the pulls.",
    compare.compare: "Hold a forecast against the pulls.",
    calibrate.calibrate: "Fit what nobody knows to the baseline's pulls.",
    explain.explain: "Say which attribute of a part costs how much, and why.",
    tune.tune: "Find the spark and mixture an engine wants.",
    diagnose.diagnose: "Is a loss the part or a fault, and what to check next.",
    lab.lab: "Open the live page: sliders, figures, lessons.",
    report.report: "Put it all in one file to hand over.",
    validate.validate: "Compare with values from outside.",
    warm.warm: "Compile the numerical kernels ahead of the first march.",
}
INTERRUPTED = 130

app = typer.Typer(
    name="pullcast", rich_markup_mode=None, add_completion=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110},
)
for _verb, _line in VERBS.items():
    app.command(short_help=_line)(_verb)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        print(f"pullcast {version('pullcast')}")
        raise typer.Exit


@app.callback(epilog="Start with: pullcast new street_2v_v8 --out mine.toml, then check it and predict from it.")
def pullcast(version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True,
                                                   help="Print the version and leave.")] = False) -> None:
    """Forecast a dyno pull: from an engine card to a full-load curve, before the dyno day."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code; every error of pullcast becomes plain text on stderr."""
    if argv is None:
        _let_the_collector_rest()
    command, args = typer.main.get_command(app), list(sys.argv[1:] if argv is None else argv)
    try:
        result = command.main(args=args or ["--help"], prog_name="pullcast", standalone_mode=False)
    except CardError as error:
        count = len(error.problems)
        head = f"the card cannot be used; {count} problem{'' if count == 1 else 's'}:"
        return _fail("\n".join([head, *map(str, error.problems)]), error.exit_code)
    except PullcastError as error:
        return _fail(str(error), error.exit_code)
    except typer.TyperException as error:
        return _fail(f"{error.format_message()}\nTry: pullcast --help, or pullcast VERB --help.", 2)
    except (KeyboardInterrupt, typer.Abort):
        return _fail("interrupted.", INTERRUPTED)
    except BrokenPipeError:  # the reader of a pipe has had enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as error:  # a folder that cannot be made, a disk that went away
        where = f"{error.filename}: " if error.filename else ""
        return _fail(f"{where}{error.strerror or type(error).__name__}. Choose a place that can be written to.", 1)
    if result == INTERRUPTED:
        return _fail("interrupted.", INTERRUPTED)
    return result if isinstance(result, int) else 0


def _let_the_collector_rest() -> None:
    """The libraries make half a million objects to stay: looking through them now and at the end takes .6 s."""
    gc.set_threshold(50_000, 20, 50)
    atexit.register(gc.freeze)


def _fail(message: str, code: int) -> int:
    print(f"pullcast: {message}".replace("\n", "\n  "), file=sys.stderr)
    return code
