"""``pullcast validate``: every check against outside values."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from typing import Annotated

import typer

from pullcast.cli.options import Json
from pullcast.errors import InputError


def validate(
    only: Annotated[list[str] | None, typer.Argument(metavar="[CASE]...", show_default=False, help="Run only cases "
                                                     "whose tier/name holds one of these texts.")] = None,
    json: Json = False,
    keep_page: Annotated[bool, typer.Option("--keep-page", help="Leave the table in validation/README.md.")] = False,
) -> None:
    """Hold pullcast against values from outside: exact solutions, parts, whole engines.

    A full run writes its table into validation/README.md. Ends with 1 when a check fails.

    \b
    Example:
      pullcast validate exact/
    """
    page = importlib.import_module(_page())
    raise typer.Exit(page.validate(only or (), json_out=json, write=not keep_page))


def _page() -> str:
    top = Path(__file__).resolve().parents[3]
    if not (top / "validation" / "page.py").is_file():
        msg = ("the validation cases are not part of an installed pullcast: get its source, install it with "
               "pip install -e . and run pullcast validate there")
        raise InputError(msg)
    sys.path.insert(0, str(top))
    return "validation.page"
