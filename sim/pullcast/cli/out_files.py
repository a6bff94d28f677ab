"""Where verbs write: files by their ending, refused before the work when they cannot be, written whole after it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path

from pullcast.errors import InputError

PICTURES = (".png", ".svg", ".pdf")
USUAL = (*PICTURES, ".json")


def targets(outs: list[Path], stem: str, in_folder: tuple[str, ...] = (".png", ".json"),
            allowed: tuple[str, ...] = USUAL) -> list[Path]:
    """The files that the ``--out`` texts ask for: a folder gets ``stem`` with each ending of ``in_folder``."""
    files: list[Path] = []
    for out in outs:
        suffix = out.suffix.lower()
        if out.is_dir() or not suffix:
            if out.exists() and not out.is_dir():
                msg = f"--out {out}: is a file without a known ending; give a folder or another name"
                raise InputError(msg)
            files += [out / f"{stem}{s}" for s in in_folder]
        elif suffix not in allowed:
            msg = f"--out {out}: give a folder, or a file ending in {', '.join(allowed)}, not {suffix}"
            raise InputError(msg)
        elif not out.absolute().parent.is_dir():
            msg = f"--out {out}: there is no folder {out.absolute().parent}; make it first or choose another"
            raise InputError(msg)
        else:
            files.append(out)
    return list(dict.fromkeys(files))


def write(files: list[Path], texts: Mapping[str, Callable[[], str]], figure: Callable | None = None) -> None:
    """Write each file whole or not at all: ``texts`` makes the text of an ending, ``figure`` a picture."""
    from pullcast.results.files import write_whole

    for file in files:
        file.parent.mkdir(parents=True, exist_ok=True)
        suffix = file.suffix.lower()
        if suffix in texts:
            text = texts[suffix]()
            write_whole(file, lambda p, text=text: p.write_text(text, encoding="utf-8"))
        elif figure is not None:
            from pullcast.show.look import save_figure

            save_figure(figure(), file)


def write_document(files: list[Path], document: dict, figure: Callable) -> None:
    """Write the picture that ``figure()`` makes and the document, each whole or not at all."""
    write(files, {".json": lambda: as_json(document)}, figure)


def as_json(document: dict) -> str:
    """A document as the text of a file."""
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
