"""Every other file that is read (pulls, sessions, shortlists, locks, fits, ledgers, rankings, curves, stores)."""

from __future__ import annotations

import copy
import gc
import hashlib
import json
import random
import shutil
import sqlite3
import sys
import time
import tomllib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from bent_cards import CONFIGS, bent_bytes, damaged
from reading_cards import Tally

import model_days
from engines import single
from points import invented
from pullcast.answers.calibration import Calibration, Facts, Found, UsedPull
from pullcast.answers.calibration_card import _digest, read_calibration, save_calibration
from pullcast.answers.compare import compare
from pullcast.answers.ledger import add_to_ledger, read_ledger
from pullcast.answers.ledger_score import score_ledger
from pullcast.answers.lock import lock, read_lock, verify
from pullcast.answers.ranking_file import read_ranking
from pullcast.answers.spread import Spread, spread_in
from pullcast.answers.unknowns import priors_of
from pullcast.card.engine import Assumed
from pullcast.card.shortlist import read_shortlist
from pullcast.errors import PullcastError
from pullcast.pulls.reading import read_pull
from pullcast.pulls.session_card import read_session
from pullcast.results.curve import Curve
from pullcast.show.report.saved import read_saved
from pullcast.solve.store import Store

LONGEST = 5.0
RPM = np.arange(2200.0, 5601.0, 200.0)
STRANGE = (
    None,
    True,
    -1,
    0,
    10**400,
    1e308,
    float("nan"),
    float("inf"),
    "",
    "x",
    "\u0000",
    "x" * 5000,
    [],
    {},
    [[]],
    {"a": {}},
    "1 mm",
    "nan",
    [1, "x"],
    "<b>",
    "../../x",
    "9" * 5000,
)


@dataclass(frozen=True)
class Kind:
    """A kind of file: a whole one, how it is read, and the ways to bend its bytes."""

    path: Path
    read: Callable[[Path], object]
    bends: tuple[Callable[[bytes, random.Random], bytes], ...]


def kinds(folder: Path) -> dict[str, Kind]:
    """One whole file of every kind, written into ``folder``."""
    shutil.copytree(CONFIGS, folder / "configs")
    configs = folder / "configs"
    (folder / "pull.csv").write_text(
        "\n".join(
            [
                "RPM,Torque Nm,kW",
                *(
                    f"{n},{t:.1f},{n * t / 9549:.2f}"
                    for n, t in zip(range(1500, 6500, 50), np.linspace(40, 80, 100), strict=True)
                ),
            ]
        )
    )
    curve = _curve()
    curve.save(folder / "curve.nc")
    lock(folder / "day.lock.json", {"as it stands": curve}, texts={"list.toml": "x"})
    save_calibration(_calibration(), folder / "fit.toml")
    _ledger(folder)
    with Store(folder / "store.sqlite3") as store:
        store.put_many([(f"{i:064x}", invented(rpm=1000.0 + i, seed=i)) for i in range(40)])
    _flush(folder / "store.sqlite3")
    (folder / "ranking.json").write_text(json.dumps(_ranking()), encoding="utf-8")
    (folder / "saved.json").write_text(
        json.dumps({"points": [{"rpm": 1.0}], "peak_torque": {"rpm": 1.0}, "note": "x"})
    )
    text, doc = (_text,), (damaged, _document)
    return {
        "pull": Kind(folder / "pull.csv", read_pull, (damaged, _table, _table)),
        "session": Kind(configs / "sessions/intake_day.toml", read_session, text),
        "shortlist": Kind(configs / "shortlists/hillclimb_shelf.toml", read_shortlist, text),
        "grid shortlist": Kind(configs / "shortlists/four_runner_grid.toml", read_shortlist, text),
        "curve": Kind(folder / "curve.nc", _loaded, (damaged, _flipped, _flipped)),
        "lock": Kind(folder / "day.lock.json", _locked, doc),
        "calibration": Kind(folder / "fit.toml", read_calibration, (damaged, _resealed)),
        "ledger": Kind(folder / "record.jsonl", lambda p: score_ledger(read_ledger(p)), (damaged, _chained)),
        "ranking": Kind(folder / "ranking.json", read_ranking, doc),
        "saved": Kind(folder / "saved.json", read_saved, doc),
        "store": Kind(folder / "store.sqlite3", _stored, (damaged, _flipped)),
    }


def _curve():
    spread = Spread(("walls.factor",), RPM, np.full((RPM.size, 1), 0.02))
    return spread.attach(model_days.curve(RPM, 44.0 - 4.0 * ((RPM - 3900.0) / 1500.0) ** 2))


def _loaded(path: Path):
    curve = Curve.load(path)
    return repr(curve), spread_in(curve), curve.peak_power


def _locked(path: Path):
    verdict = verify(path)
    return verdict, [read_lock(path).curve(name) for name in read_lock(path).names]


def _stored(path: Path):
    with Store(path, busy_seconds=0.2) as store:
        return store.get_many([f"{i:064x}" for i in range(40)]), len(store)


def _flush(path: Path) -> None:
    db = sqlite3.connect(path)
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.execute("PRAGMA journal_mode = DELETE")
    db.close()


def _calibration() -> Calibration:
    engine = replace(single(), assumed=tuple(Assumed(k, *v, "test range") for k, v in model_days.RANGES.items()))
    priors = priors_of(engine, ["friction.factor", "burn.duration_10_90"])
    found = tuple(Found(p, p.value, 0.1 * p.sd, p.value - 0.2 * p.sd, p.value + 0.2 * p.sd, "") for p in priors)
    rpm = RPM[:3]
    return Calibration(
        engine="e",
        made_utc="2026-05-02T12:00:00+00:00",
        version="0",
        fidelity="lumped",
        basis="observed",
        misfit=1.0,
        chance=0.5,
        settled=True,
        notes=(),
        facts=Facts(0.08, 0.08, 1, "chen_flynn", "hohenberg", "wiebe", "h"),
        found=found,
        errors={"pull": 0.01},
        pulls=(UsedPull("day", 1, "A", "ab" * 32),),
        speeds=rpm,
        measured=rpm,
        before=rpm,
        after=rpm,
        correlation=np.eye(2),
    )


def _ledger(folder: Path) -> None:
    days = folder / "days"
    days.mkdir()
    for seed in range(2):
        pulls = {"A": (RPM, 44.0 + 0 * RPM), "B": (RPM, 45.0 + 0 * RPM)}
        card = model_days.write_day(
            days, pulls, "AAABBBAAA", noise=0.002, seed=seed, title=f"d{seed}", name=f"d{seed}"
        )
        spread = Spread(("walls.factor",), RPM, np.full((RPM.size, 1), 0.02))
        add_to_ledger(
            folder / "record.jsonl",
            compare(
                card, {k: spread.attach(model_days.curve(RPM, v + 0 * RPM)) for k, v in (("A", 44.3), ("B", 45.9))}
            ),
        )


def _ranking() -> dict:
    place = {
        "name": "a",
        "swaps": {"cam": "x"},
        "fidelity": "wave",
        "score": 1.0,
        "gain_percent": 0.1,
        "gain_low_percent": 0.0,
        "gain_high_percent": 0.2,
        "torque_Nm": [1.0, 2.0],
        "limits": [],
        "chance_best": 0.5,
        "chance_better_than_base": 0.5,
        "verdict": "no difference",
        "change_low_percent": [0.0, 0.1],
        "change_high_percent": [0.1, 0.2],
        "trouble": "",
        "notes": [],
    }
    return {
        "pullcast_ranking": 1,
        "shortlist": "s",
        "goal": "torque",
        "band_rpm": [1000, 2000],
        "speeds_rpm": [1000, 2000],
        "sampled_speeds_rpm": [1000],
        "base": place,
        "candidates": [{**place, "name": "b"}],
        "fidelity": "wave",
        "spread_fidelity": "lumped",
        "samples": 16,
        "winner": "",
        "notes": [],
        "version": "0",
        "engine": "e",
        "pairs": [{"first": "a", "second": "b", "chance_first_is_better": 0.5, "verdict": "no difference"}],
        "agreement": {
            "names": ["a"],
            "lumped_gain_percent": [0.1],
            "wave_gain_percent": [0.1],
            "rank_correlation": None,
            "spread_percent": 0.1,
            "gap_per_swap_percent": 0.1,
        },
        "decides": None,
        "screening": None,
    }


def _text(raw: bytes, rng: random.Random) -> bytes:
    return bent_bytes(raw.decode(), rng)


def _flipped(raw: bytes, rng: random.Random) -> bytes:
    """One to eight bits flipped, or cut short."""
    if rng.random() < 0.3:
        return raw[: rng.randrange(len(raw))]
    out = bytearray(raw)
    for _ in range(rng.randint(1, 8)):
        i = rng.randrange(min(len(out), rng.choice([200, 4000, len(out)])))
        out[i] ^= 1 << rng.randrange(8)
    return bytes(out)


def _table(raw: bytes, rng: random.Random) -> bytes:
    """Cells, rows, separators and headings of a pull changed."""
    rows = [line.split(",") for line in raw.decode().splitlines()]
    cells = (
        "",
        "nan",
        "inf",
        "-1e400",
        "1e308",
        "1,5",
        "x",
        "\u0000",
        '"',
        "=1+1",
        "é",
        "9" * 400,
        "-",
        "1.234,5",
        "12:30",
        "0x1",
    )
    for _ in range(rng.choice([1, 2, 5, 40])):
        row = rng.choice(rows)
        kind = rng.randrange(6)
        if kind < 3 and row:
            row[rng.randrange(len(row))] = rng.choice(cells)
        elif kind == 3:
            row += [rng.choice(cells)] * rng.choice([1, 300])
        elif kind == 4:
            rows.insert(rng.randrange(len(rows)), list(rng.choice(rows)))
        else:
            del row[:1]
    mark, end = rng.choice([",", ",", ";", "\t", "|", "  ", ", "]), rng.choice(["\n", "\r\n", "\r"])
    return end.join(mark.join(row) for row in rows).encode(
        rng.choice(["utf-8", "utf-8-sig", "utf-16", "cp1252"]), "replace"
    )


def _strange_in(value: object, rng: random.Random) -> object:
    """A document with something strange somewhere in it."""
    if isinstance(value, dict) and value and rng.random() < 0.9:
        key = rng.choice(list(value))
        if rng.random() < 0.15:
            return {k: v for k, v in value.items() if k != key}
        return {**value, key: _strange_in(value[key], rng)}
    if isinstance(value, list) and value and rng.random() < 0.8:
        i = rng.randrange(len(value))
        return [*value[:i], _strange_in(value[i], rng), *value[i + rng.choice([0, 1, 1, 1]) :]]
    return rng.choice(STRANGE)


def _document(raw: bytes, rng: random.Random) -> bytes:
    if rng.random() < 0.05:
        return b"[" * 100_000 + b"]" * 100_000
    return json.dumps(_strange_in(json.loads(raw), rng)).encode("utf-8", "surrogatepass")


def _resealed(raw: bytes, rng: random.Random) -> bytes:
    """A calibration changed by someone who knows how to seal it again."""
    if rng.random() < 0.05:
        return b"a = " + b"[" * 50_000 + b"]" * 50_000
    data = tomllib.loads(raw.decode())
    layout = data.pop("pullcast_calibration")
    data.pop("sha256")
    data = _strange_in(copy.deepcopy(data), rng)
    if not isinstance(data, dict):
        return raw[:40]
    sealed = {"pullcast_calibration": layout, "sha256": _digest(data), **data}
    plain = [f"{k} = {_inline(v)}" for k, v in sealed.items() if v is not None]
    return "\n".join(plain).encode("utf-8", "surrogatepass")


def _inline(value: object) -> str:
    if isinstance(value, dict):
        return (
            "{ " + ", ".join(f"{json.dumps(str(k))} = {_inline(v)}" for k, v in value.items() if v is not None) + " }"
        )
    if isinstance(value, list):
        return "[" + ", ".join(_inline(v) for v in value if v is not None) + "]"
    return str(value) if isinstance(value, float) else json.dumps(value, ensure_ascii=True)


def _chained(raw: bytes, rng: random.Random) -> bytes:
    """A ledger changed by someone who knows how to chain its lines again."""
    if rng.random() < 0.05:
        return b"[" * 100_000
    entries, lines = [json.loads(line) for line in raw.decode().splitlines()], []
    i = rng.randrange(len(entries))
    entries[i] = _strange_in(entries[i], rng)
    previous = "0" * 64
    for entry in entries:
        if isinstance(entry, dict) and "previous" in entry:
            entry = {**entry, "previous": previous}
        lines.append(json.dumps(entry, ensure_ascii=False))
        previous = hashlib.sha256(lines[-1].encode("utf-8", "surrogatepass")).hexdigest()
    return "\n".join(lines).encode("utf-8", "surrogatepass")


def campaign(count: int, seed: int, folder: Path, only: str = "") -> Tally:
    """Read ``count`` bent files of every kind."""
    tally = Tally(Counter())
    for name, kind in kinds(folder).items():
        if only and name != only:
            continue
        whole = kind.path.read_bytes()
        kind.read(kind.path)
        for i in range(count):
            rng = random.Random(f"{seed} {name} {i}")
            kind.path.write_bytes(rng.choice(kind.bends)(whole, rng))
            end, faults = _attempt(kind, tally)
            tally.ends[f"{name}: {end}"] += 1
            tally.faults += [(i, f"{name}: {fault}") for fault in faults]
            for beside in kind.path.parent.glob(kind.path.name + "-*"):
                beside.unlink()
        kind.path.write_bytes(whole)
    return tally


def _attempt(kind: Kind, tally: Tally) -> tuple[str, list[str]]:
    began, end = time.process_time(), "read"
    faults: list[str] = []
    sys.unraisablehook = lambda left: faults.append(f"printed on the terminal: {left.exc_value!r} in {left.object}")
    try:
        repr(kind.read(kind.path))
    except PullcastError as e:
        end = "refused"
        if kind.path.stem not in str(e) and kind.read is not read_shortlist:  # that may name a part's file
            faults.append(f"a refusal that does not name the file: {e}"[:200])
    except Exception as e:
        end, faults = "traceback", [f"{type(e).__name__}: {e}"[:200]]
    gc.collect(0)
    sys.unraisablehook = sys.__unraisablehook__
    spent = time.process_time() - began
    tally.slowest = max(tally.slowest, spent)
    if spent > LONGEST:
        faults.append(f"took {spent:.1f} s")
    return end, faults
