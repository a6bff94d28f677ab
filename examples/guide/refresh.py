"""Run the commands that the guide's pages show and put their real output in; ``--check`` only compares.

A page marks a file to write with ``<!-- file NAME -->`` before a fenced block, and shows commands in ``console``
blocks, each line ``$ COMMAND`` followed by its output. Every page runs from top to bottom in an empty folder of its
own.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
PAGES = ("user_guide.md", "cluster.md")
FENCE = re.compile(r"(<!-- file (?P<name>[\w.]+) -->\n)?```(?P<kind>\w*)\n(?P<body>.*?)```", re.DOTALL)
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


def refreshed(page: Path) -> str:
    """The page's text with the output of its commands as they print it now."""
    with tempfile.TemporaryDirectory() as folder:
        return FENCE.sub(lambda block: _block(block, Path(folder)), page.read_text(encoding="utf-8"))


def _block(block: re.Match, folder: Path) -> str:
    if block["name"]:
        (folder / block["name"]).write_text(block["body"], encoding="utf-8")
    if block["kind"] != "console":
        return block[0]
    commands = [line for line in block["body"].splitlines() if line.startswith("$ ")]
    told = "".join(f"{line}\n{_run(line[2:], folder)}" for line in commands)
    return f"```console\n{told}```"


def _run(command: str, folder: Path) -> str:
    """What a command prints (both streams), trailing spaces taken off."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    done = subprocess.run(["bash", "-c", command], cwd=folder, capture_output=True, text=True,
                          env={**os.environ, "PATH": path, "COLUMNS": "80", "TERM": "dumb", "NO_COLOR": "1"})
    lines = [line.rstrip() for line in (done.stdout + done.stderr).splitlines()]
    return "".join(f"{line}\n" for line in lines)


def differences(old: str, new: str, within: float = 0.03) -> list[str]:
    """Lines that differ in words, or in a number by more than ``within`` (or one in its last place)."""
    before, after = old.splitlines(), new.splitlines()
    if len(before) != len(after):
        return [f"{len(before)} lines have become {len(after)}"]
    return [f"- {a}\n+ {b}" for a, b in zip(before, after, strict=True) if not _same(a, b, within)]


def _same(a: str, b: str, within: float) -> bool:
    words = [" ".join(NUMBER.sub("#", text).split()) for text in (a, b)]
    pairs = zip(NUMBER.findall(a), NUMBER.findall(b), strict=False)
    return words[0] == words[1] and all(_near(x, y, within) for x, y in pairs)


def _near(x: str, y: str, within: float) -> bool:
    if "e" in x or "e" in y:
        return max(abs(float(x)), abs(float(y))) < 1e-9  # round-off: its size is luck
    last = 10.0 ** -len(x.partition(".")[2])
    return abs(float(x) - float(y)) <= max(within * abs(float(x)), 1.01 * last)


if __name__ == "__main__":
    for page in (HERE / name for name in PAGES):
        text = refreshed(page)
        if "--check" in sys.argv:
            for difference in differences(page.read_text(encoding="utf-8"), text):
                print(f"{page.name}:\n{difference}")
        else:
            page.write_text(text, encoding="utf-8")
