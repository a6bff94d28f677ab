"""Read bent cards as a user's files are read, and say what is wrong with the way each ended."""

from __future__ import annotations

import math
import random
import shutil
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from bent_cards import CONFIGS, bent_bytes

from pullcast.card import read_engine
from pullcast.card.checks import checks
from pullcast.card.classes import CLASSES
from pullcast.card.derived import derived
from pullcast.card.starter import starter
from pullcast.errors import CardError, InputError
from pullcast.network.build import build
from pullcast.network.cylinders import valve_areas

LONGEST = 3.0  # s of processor time for one card
LONGEST_MESSAGE = 60_000  # characters


@dataclass
class Tally:
    """How bent cards ended: ``ends`` counts, ``faults`` (seed, what)."""

    ends: Counter = field(default_factory=Counter)
    faults: list[tuple[int, str]] = field(default_factory=list)
    slowest: float = 0.0


def sources() -> list[tuple[str, str]]:
    """(place in the project, text) of every shipped card that can be bent, and of every starter."""
    kinds = ("engines", "engines", "cams", "heads", "intakes", "exhausts", "fuels", "days")
    found = [
        (p.relative_to(CONFIGS).as_posix(), p.read_text(encoding="utf-8"))
        for kind in kinds
        for p in sorted((CONFIGS / kind).glob("*.toml"))
    ]
    return found + [(f"engines/{name}.toml", starter(name)) for name in CLASSES]


def project(folder: Path) -> Path:
    """A copy of the shipped cards in ``folder``."""
    for kind in ("engines", "cams", "heads", "intakes", "exhausts", "fuels", "days"):
        shutil.copytree(CONFIGS / kind, folder / kind, dirs_exist_ok=True)
    return folder


def users() -> dict[str, str]:
    """For each part file, an engine card that refers to it."""
    out = {}
    for engine in sorted((CONFIGS / "engines").glob("*.toml")):
        for line in engine.read_text(encoding="utf-8").split("\n"):
            for part in line.split('"')[1::2]:
                out.setdefault(part, f"engines/{engine.name}")
    return out


def campaign(count: int, seed: int, folder: Path) -> Tally:
    """Read ``count`` bent cards in a copy of the shipped project."""
    tally, root, cards, reader = Tally(), project(folder), sources(), users()
    for i in range(count):
        rng = random.Random(f"{seed} {i}")
        place, text = rng.choice(cards)
        raw = bent_bytes(text, rng)
        path = root / place
        whole = path.read_bytes() if path.exists() else None
        path.write_bytes(raw)
        began = time.process_time()
        try:
            end, faults = attempt(root / reader.get(place, place))
        except Exception as e:
            end, faults = "traceback", [f"{type(e).__name__}: {e}"[:300]]
        spent = time.process_time() - began
        tally.slowest = max(tally.slowest, spent)
        if spent > LONGEST:
            faults.append(f"took {spent:.1f} s")
        if whole is None:
            path.unlink()
        else:
            path.write_bytes(whole)
        tally.ends[end] += 1
        tally.faults += [(i, f"{place}: {fault}") for fault in faults]
    return tally


def attempt(path: Path) -> tuple[str, list[str]]:
    """How the reading of one card ended, and its faults."""
    try:
        engine = read_engine(path)
    except CardError as e:
        return "refused", _message_faults(e)
    except InputError as e:
        return "refused", [f"an InputError that names no file: {e}"]
    faults = [
        f"derived {d.name} is {d.value}"
        for d in derived(engine)
        if isinstance(d.value, float) and not math.isfinite(d.value)
    ]
    faults += [
        f"assumed {a.key} is {a.value}"
        for a in engine.assumed
        if not (math.isfinite(a.value) and a.low <= a.value <= a.high)
    ]
    faults += [f"a finding without words at {f.key}" for f in checks(engine) if not f.text or "nan" in f.text.split()]
    try:
        network = build(engine)
        areas = valve_areas(engine, engine.speeds[0])
    except InputError as e:
        return "accepted, refused by the network", [] if str(e).strip() else ["an empty message"]
    faults += [f"pipe {p.name} has no size" for p in network.pipes if not (math.isfinite(p.length) and p.length > 0)]
    if not all((a >= 0).all() for a in areas):
        faults.append("a valve area is negative or not a number")
    return "accepted", faults


def _message_faults(error: CardError) -> list[str]:
    faults = [f"no file or words: {p!r}"[:200] for p in error.problems if not p.file or not p.text.strip()]
    if not error.problems:
        faults.append("no problem is named")
    if len(str(error)) > LONGEST_MESSAGE:
        faults.append(f"a message of {len(str(error))} characters: {str(error)[:120]}")
    return faults
