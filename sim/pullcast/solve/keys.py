"""What a stored point is known by: everything its numbers depend on, and nothing else."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from functools import lru_cache
from importlib.resources import files

from pullcast.card.engine import Engine
from pullcast.results.provenance import values_sha256
from pullcast.solve.numerics import Numerics

PROGRAM = ("kernels", "network", "solve", "gasdata")  # what a point is computed by
SUFFIXES = (".py", ".npz")


@lru_cache(maxsize=1)
def program_stamp() -> str:
    """Version and a digest of the code and tables that compute a point, such as "0.1.0+3f2a9c0d1b7e".

    Two programs with one version but different numerics have different stamps, so that neither takes the other's
    points for its own.
    """
    from pullcast import __version__

    digest = hashlib.sha256()
    for floor in PROGRAM:
        for name, content in sorted(_contents(files("pullcast") / floor, floor)):
            digest.update(f"{name}\0{len(content)}\0".encode())
            digest.update(content)
    return f"{__version__}+{digest.hexdigest()[:12]}"


def _contents(folder, name: str):
    for entry in folder.iterdir():
        below = f"{name}/{entry.name}"
        if entry.is_dir():
            yield from _contents(entry, below)
        elif entry.name.endswith(SUFFIXES):
            yield below, entry.read_bytes()


def march_sha256(engine: Engine) -> str:
    """SHA-256 (hex) of what the march sees of an engine: its name, source, speed list, notes and card text left out,
    so that two candidates that differ in name only share their points."""
    return values_sha256(dataclasses.replace(engine, name="", source="", speeds=(), assumed=(), findings=(), text=""))


def point_key(engine_sha: str, rpm: float, fidelity: str, numerics: Numerics, *, traces: bool = False,
              stations: tuple[tuple[str, float], ...] = ()) -> str:
    """The key (SHA-256, hex) of one point.

    ``engine_sha`` from ``march_sha256``; ``rpm`` is taken to twelve digits, as engine values are.
    """
    parts = {
        "engine": engine_sha, "rpm": f"{float(rpm):.12g}", "fidelity": fidelity,
        "numerics": values_sha256(numerics),
        "program": program_stamp(), "traces": bool(traces),
        "stations": [[pipe, f"{x:.12g}"] for pipe, x in stations] if traces else [],
    }
    return hashlib.sha256(json.dumps(parts, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
