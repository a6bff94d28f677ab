"""Coverage-guided damage of cards, if the ``atheris`` package is there: ``python tests/fuzz/guided.py -runs=20000``.

It mutates whole cards byte by byte and keeps what reaches new lines of the reader. Anything but a CardError or an
Engine ends it with the input written to a file. Not part of the tests: it needs a package built for fuzzing.
"""

import sys

import atheris

with atheris.instrument_imports(include=["pullcast.sheets", "pullcast.card", "pullcast.units", "tomllib"]):
    from pullcast.card import read_engine_text
    from pullcast.card.checks import checks
    from pullcast.card.classes import CLASSES
    from pullcast.card.derived import derived
    from pullcast.card.starter import starter
    from pullcast.errors import CardError
    from pullcast.sheets.files import decode

TEXTS = [starter(name) for name in CLASSES]


def one(data: bytes) -> None:
    """Bytes are a class, a place and what is put there; the rest of the card stands."""
    if len(data) < 4:
        return
    text = TEXTS[data[0] % len(TEXTS)]
    lines = text.split("\n")
    at = int.from_bytes(data[1:3], "big") % len(lines)
    try:
        put = decode(data[3:], "card")
        engine = read_engine_text("\n".join([*lines[:at], put, *lines[at + 1:]]), name="card")
    except CardError:
        return
    derived(engine)
    checks(engine)


if __name__ == "__main__":
    atheris.Setup(sys.argv, one)
    atheris.Fuzz()
