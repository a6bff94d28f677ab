"""Ask once, on a terminal, which columns of the raw files are which; the session card keeps the answer."""

from __future__ import annotations

import sys
from pathlib import Path


def settle(card: Path) -> None:
    """Show the guess for the first file and keep it, or ask for columns and units, unless the card already says."""
    from pullcast.errors import InputError
    from pullcast.pulls.mapping import Mapping
    from pullcast.pulls.reading import guess_mapping
    from pullcast.pulls.session_card import read_session
    from pullcast.pulls.session_columns import remember_mapping

    session = read_session(card)
    file = next((r.file for r in session.runs if r.file is not None and not r.excluded), None)
    if file is None or (session.mapping is not None and session.mapping.columns):
        return
    mapping: Mapping | None = None
    try:
        found = guess_mapping(file, session.mapping)
        say(f"{file.name}: {found!r}")
        mapping = found.mapping if _ask("Use these columns and keep them in the session card? [Y/n] ", "y") else None
    except InputError as fault:
        say(str(fault))
    mapping = mapping or _columns(file)
    remember_mapping(card, mapping)
    say(f"Kept in {card} under [columns].")


def _columns(file: Path):
    from pullcast.pulls.layout import read_table
    from pullcast.pulls.mapping import Column, Mapping
    from pullcast.pulls.textfile import read_text

    table = read_table(read_text(file))
    for i, label in enumerate(table.labels, 1):
        say(f"  {i}: {label}")
    columns = {"rpm": Column(_number("Column of engine speed: ", len(table.labels)), "rpm")}
    channel = "torque" if _ask("Is there a column of torque? [Y/n] ", "y") else "power"
    units = {"torque": ("Nm", "lb-ft"), "power": ("kW", "hp", "PS", "W")}[channel]
    number = _number(f"Column of {channel}: ", len(table.labels))
    columns[channel] = Column(number, units[_number("Unit: " + ", ".join(f"{i} {u}" for i, u in enumerate(units, 1))
                                                    + ": ", len(units)) - 1])
    return Mapping(columns, table.delimiter, table.decimal)


def _ask(question: str, default: str) -> bool:
    return (_line(question) or default).lower().startswith("y")


def _number(question: str, most: int) -> int:
    while True:
        answer = _line(question)
        if answer.isdigit() and 1 <= int(answer) <= most:
            return int(answer)
        say(f"A number from 1 to {most}, please.")


def _line(question: str) -> str:
    print(question, end="", file=sys.stderr, flush=True)
    answer = sys.stdin.readline()
    if not answer:
        raise KeyboardInterrupt
    return answer.strip()


def say(text: str) -> None:
    """Words to the person at the terminal, on stderr."""
    print(text, file=sys.stderr)
