"""Reading card files: within the card's own folders, of sane size, as text, as TOML."""

from __future__ import annotations

import difflib
import os
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pullcast.errors import CardError, Problem
from pullcast.sheets.lines import line_index

ENVIRONMENT = "PULLCAST_PARTS"
_ASK = f", or name its folder in ${ENVIRONMENT}"
MAX_BYTES = 1_000_000
MAX_DEPTH = 20
MAX_LINE = 10_000
KINDS = ("engines", "cams", "heads", "intakes", "exhausts", "fuels", "days", "shortlists", "sessions", "locks")
_NAMES = re.compile(r"[\s\[]*(?:[A-Za-z0-9_-]*\.)*")  # dotted names at the head of a line
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
_BARE_UNIT = re.compile(r"=\s*[-+]?[\d.]+\s*[A-Za-z°%]")


@dataclass(frozen=True)
class Sheet:
    """One TOML file as read: its name for messages, its text, its table, the line of every key."""

    name: str
    text: str
    data: dict[str, Any]
    lines: dict[tuple[str | int, ...], int]


def project_root(folder: Path) -> Path:
    """The folder a card may refer within: the parent of its kind's folder ("engines" ...), else its own."""
    folder = folder.resolve()
    return folder.parent if folder.name in KINDS else folder


def read_sheet(path: Path, name: str) -> Sheet:
    """Read a TOML file. CardError (one problem) if it is missing, no file, too big, not UTF-8 or not TOML."""
    try:
        if path.is_dir():
            _stop(name, "this is a folder, not a card", "Name a .toml file in it.")
        if not path.exists():
            _stop(name, "no such file", _near(path))
        if not path.is_file():
            _stop(name, "this is a device or a pipe, not a file", "Name a .toml file.")
        if path.stat().st_size > MAX_BYTES:
            _stop(name, f"the file has {path.stat().st_size} bytes, more than {MAX_BYTES}", "A card is a short text.")
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)  # a file may grow while it is looked at
    except OSError as e:
        _stop(name, f"cannot be read ({e.strerror or type(e).__name__})", "Check the name and its permissions.")
    except ValueError:
        _stop(name, "this is not a file name", "Name a .toml file.")
    return parse_sheet(decode(raw, name), name)


def decode(raw: bytes, name: str) -> str:
    """Bytes to text: UTF-8 with or without a byte-order mark, any line ends; CardError otherwise."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        _stop(name, "the file is UTF-16 text", "Save it as UTF-8.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as e:
        line = raw[: e.start].count(b"\n") + 1
        _stop(name, f"byte {raw[e.start]:#04x} is not UTF-8 text", "Save the card as UTF-8.", line)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def parse_sheet(text: str, name: str) -> Sheet:
    """Text to a :class:`Sheet`; CardError with the line when it is not TOML."""
    if not text.strip():
        _stop(name, "the card is empty", "Start from a starter card: pullcast new.")
    _refuse_endless(text, name)
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as e:
        _stop(name, *_explain(text, str(e)))
    except ValueError:  # not of the grammar: Python refuses to read a number of thousands of digits
        _stop(name, "a number has thousands of digits", "Write it as text with its unit.")
    if _deeper(data, MAX_DEPTH):
        _stop(name, f"tables or lists lie more than {MAX_DEPTH} deep in each other", "A card needs five.")
    if (hidden := _CONTROL.search("\n".join(_texts(data)))) is not None:
        _stop(name, f"a text or key holds the control character {ord(hidden[0]):#04x}", "A terminal would obey it: "
              "take it out.")
    return Sheet(name, text, data, line_index(text))


def _refuse_endless(text: str, name: str) -> None:
    """CardError for lines and names so long that only reading them would take minutes."""
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > MAX_LINE:
            _stop(name, f"a line of {len(line)} characters; {MAX_LINE} are the most", "Break it over lines.", number)
        if line.count(".") > MAX_DEPTH and len(_NAMES.match(line)[0].strip()) > 2 * MAX_DEPTH:
            _stop(name, f"a name of more than {MAX_DEPTH} parts", "A card's names have five at most.", number)


def _texts(data: Any) -> Iterator[str]:
    """Every text and key of a table that is known not to be deep."""
    if isinstance(data, str):
        yield data
    elif isinstance(data, dict):
        for key, value in data.items():
            yield key
            yield from _texts(value)
    elif isinstance(data, list):
        for value in data:
            yield from _texts(value)


def _deeper(data: Any, depth: int) -> bool:
    """Whether tables or lists lie more than ``depth`` deep; walked level by level, whatever their depth."""
    level = [data]
    for _ in range(depth):
        level = [v for held in level for v in (held.values() if isinstance(held, dict) else held)
                 if isinstance(v, dict | list)]
    return bool(level)


def allowed_folders() -> tuple[Path, ...]:
    """Folders outside its project that a card may refer to: those named in $PULLCAST_PARTS, none by default."""
    named = os.environ.get(ENVIRONMENT, "")
    return tuple(Path(f).expanduser().resolve() for f in named.split(os.pathsep) if f.strip())


def locate(reference: str, folder: Path, root: Path) -> Path | str:
    """The path a part reference means: beside the card, else under ``root``; text says why it is refused.

    Links are followed first: what counts is where a file really lies. Outside ``root`` only the ``allowed_folders``
    count.
    """
    if "\0" in reference or not reference.strip():
        return "this is not a file name"
    allowed = allowed_folders()
    absolute = Path(reference).is_absolute()
    elsewhere = re.match(r"[A-Za-z]:|\\|~", reference) is not None and not absolute
    if elsewhere or (absolute and not allowed):
        return "an absolute path is refused; refer to a part relative to the card or to its project folder" + _ASK
    for base in (folder, root):
        try:
            candidate = (base / reference).resolve()
            there = candidate.exists()
        except (OSError, RuntimeError):  # longer than a path can be, or links that go round in a ring
            return "this is not a file name that can be looked up"
        if not any(candidate.is_relative_to(home) for home in (root, *allowed)):
            return "this path leaves the card's project folder; keep the part inside it" + _ASK
        if there:
            return candidate
    return (root / reference).resolve()


def _explain(text: str, message: str) -> tuple[str, str, int | None]:
    """Text, remedy and line of a TOML error."""
    found = re.search(r"line (\d+)", message)
    number = int(found[1]) if found else (len(text.split("\n")) if "end of document" in message else None)
    plain = re.sub(r"\s*\(at .*\)", "", message) or "not TOML"
    line = text.split("\n")[number - 1] if number else ""
    remedy = "This key is given twice." if "overwrite" in message else "Mend this line."
    if _BARE_UNIT.search(line):
        key, _, value = line.partition("=")
        remedy = f'A value with a unit is text: {key.strip()} = "{value.split("#")[0].strip()}".'
    elif re.search(r"[^\"]*=\s*\"[^\"]*$", line):
        remedy = "The closing quote is missing."
    elif "=" not in line and not line.strip().startswith("["):
        remedy = "A line of a card is: key = value."
    return f"not valid TOML: {plain[0].lower()}{plain[1:]}", remedy, number


def _near(path: Path) -> str:
    try:
        names = sorted(p.name for p in path.parent.iterdir() if p.suffix == ".toml")
    except OSError:
        return f"There is no folder {path.parent.name!r} either."
    close = difflib.get_close_matches(path.name, names, n=3, cutoff=0.4)
    if close:
        return f"Did you mean {' or '.join(close)}?"
    return f"Cards there: {', '.join(names[:8])}." if names else "There is no card in that folder."


def _stop(name: str, text: str, remedy: str, line: int | None = None) -> None:
    raise CardError([Problem(name, line, "", text, remedy)])
