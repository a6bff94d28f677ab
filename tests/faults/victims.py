"""Work that is killed half way: functions that work in a folder and say what they have done, each with a check.

A victim calls ``said(text)`` after each thing that must never be lost again; ``sound(folder, told)`` looks at the
folder after the kill.
"""

from __future__ import annotations

import csv
import sqlite3
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

import model_days
from engines import single
from points import invented
from pullcast.answers.calibration import Calibration, Facts, Found, UsedPull
from pullcast.answers.calibration_card import read_calibration, save_calibration
from pullcast.answers.compare import compare
from pullcast.answers.comparison import Comparison
from pullcast.answers.ledger import add_to_ledger, read_ledger
from pullcast.answers.lock import lock, verify
from pullcast.answers.spread import Spread
from pullcast.answers.unknowns import priors_of
from pullcast.card.engine import Assumed
from pullcast.results.curve import Curve
from pullcast.solve.jobs import Job, run
from pullcast.solve.numerics import Numerics
from pullcast.solve.store import Store

RPM = np.arange(2200.0, 5601.0, 200.0)
QUICK = Numerics(max_step_deg=2.0, max_cycles=3, min_cycles=2)
Said = Callable[[str], None]


@dataclass(frozen=True)
class Victim:
    """What is done, and what must hold afterwards."""

    work: Callable[[Path, Said], None]
    sound: Callable[[Path, list[str]], None]


def curve(gain: float = 0.0) -> Curve:
    """A finished curve that needed no march."""
    spread = Spread(("walls.factor",), RPM, np.full((RPM.size, 1), 0.02))
    return spread.attach(model_days.curve(RPM, (1 + gain) * (44.0 - 4.0 * ((RPM - 3900.0) / 1500.0) ** 2)))


def _key(i: int) -> str:
    return f"{i:064x}"


def store_points(folder: Path, said: Said) -> None:
    """Points into a store, one after the other."""
    with Store(folder / "points.sqlite3") as store:
        for i in range(len(store), 100_000):
            store.put(_key(i), invented(rpm=1000.0 + i, seed=i))
            said(str(i))


def store_sound(folder: Path, told: list[str]) -> None:
    """Every point that was said to be stored is there, to the last bit; the file is whole."""
    path = folder / "points.sqlite3"
    if not told and not path.exists():
        return
    whole(path)
    with Store(path) as store:
        found = store.get_many([_key(int(i)) for i in told])
        assert len(found) == len(set(told))
        assert store.dropped == 0
        for i in set(told):
            assert np.array_equal(found[_key(int(i))].out, invented(rpm=1000.0 + int(i), seed=int(i)).out)


def whole(path: Path) -> None:
    """SQLite's own word on the file."""
    db = sqlite3.connect(path)
    try:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    finally:
        db.close()


def jobs(count: int = 60) -> list[Job]:
    """Quick lumped points of one engine."""
    engine = single()
    return [Job(engine, 1500.0 + 50.0 * i, "lumped", QUICK) for i in range(count)]


def sweep(folder: Path, said: Said) -> None:
    """A real sweep of lumped points into a store, in this process."""
    with Store(folder / "sweep.sqlite3") as store:
        run(jobs(), store=store, workers=1, on_tick=lambda tick: said(f"{tick.done}"))


def sweep_sound(folder: Path, told: list[str]) -> None:
    """What was told as done is in the store."""
    path = folder / "sweep.sqlite3"
    if not told and not path.exists():
        return
    whole(path)
    with Store(path) as store:
        assert len(store) >= max((int(n) for n in told), default=0)
        assert store.dropped == 0


def files(folder: Path, said: Said) -> None:
    """A curve written over and over, as netCDF and CSV."""
    for i in range(10_000):
        made = curve(0.001 * (i % 7))
        made.save(folder / "curve.nc")
        made.save(folder / "curve.csv")
        said(str(i))


def files_sound(folder: Path, told: list[str]) -> None:
    """Each file is whole, or not there before the first was done."""
    if told or (folder / "curve.nc").exists():
        assert Curve.load(folder / "curve.nc").dataset["torque"].size == RPM.size
    if told or (folder / "curve.csv").exists():
        with (folder / "curve.csv").open(encoding="utf-8") as file:
            assert len(list(csv.reader(file))) == RPM.size + 1


def locks(folder: Path, said: Said) -> None:
    """Forecasts sealed, one file each."""
    for i in range(len(list(folder.glob("day*.lock.json"))), 10_000):
        lock(folder / f"day{i}.lock.json", {"as it stands": curve()})
        said(str(i))


def locks_sound(folder: Path, told: list[str]) -> None:
    """Every lock in the folder is whole and unchanged, and all that were told are there."""
    there = {p.name for p in folder.glob("day*.lock.json")}
    assert there >= {f"day{i}.lock.json" for i in told}
    for name in there:
        assert verify(folder / name).unchanged


def calibrations(folder: Path, said: Said) -> None:
    """A calibration card written over and over."""
    made = calibration()
    for i in range(10_000):
        save_calibration(replace(made, misfit=float(i)), folder / "fit.toml")
        said(str(i))


def calibrations_sound(folder: Path, told: list[str]) -> None:
    """The card is one that was written, and none older than the last told."""
    if told or (folder / "fit.toml").exists():
        assert read_calibration(folder / "fit.toml").misfit >= int(told[-1] if told else 0)


def calibration() -> Calibration:
    """A calibration of invented values."""
    engine = replace(single(), assumed=tuple(Assumed(k, *v, "test range") for k, v in model_days.RANGES.items()))
    found = tuple(Found(p, p.value, 0.1 * p.sd, p.value - 0.2 * p.sd, p.value + 0.2 * p.sd)
                  for p in priors_of(engine, ["friction.factor", "burn.duration_10_90"]))
    return Calibration(
        engine="e", facts=Facts(0.08, 0.08, 1, "chen_flynn", "hohenberg", "wiebe", "h"), found=found,
        correlation=np.eye(2), speeds=RPM, measured=RPM, before=RPM, after=RPM, errors={"own": 0.01}, misfit=1.0,
        chance=0.5, basis="observed", pulls=(UsedPull("day", 1, "A", "ab" * 32),), fidelity="lumped",
        made_utc="2026-05-02T12:00:00+00:00", version="0", settled=True, notes=())


@lru_cache(maxsize=1)
def day() -> Comparison:
    """One comparison of invented pulls, made before the killing starts."""
    with tempfile.TemporaryDirectory() as folder:
        pulls = {"A": (RPM, 44.0 + 0 * RPM), "B": (RPM, 45.0 + 0 * RPM)}
        card = model_days.write_day(Path(folder), pulls, "AAABBBAAA", noise=0.002, seed=0, title="a day", name="day")
        return compare(card, {"A": curve(), "B": curve(0.02)})


def another_day(number: int) -> Comparison:
    """The same comparison as of other pulls: the ledger refuses a pull twice."""
    return replace(day(), digests=tuple((part, f"{number:08x}{d[8:]}") for part, d in day().digests))


def ledger(folder: Path, said: Said) -> None:
    """Days added to a ledger, from where it stands."""
    path = folder / "record.jsonl"
    for i in range(len(read_ledger(path)), 10_000):
        add_to_ledger(path, another_day(i))
        said(str(i))


def ledger_sound(folder: Path, told: list[str]) -> None:
    """The chain holds, and no entry that was told is missing."""
    entries = read_ledger(folder / "record.jsonl")
    assert len(entries) >= (int(told[-1]) + 1 if told else 0)


VICTIMS = {
    "store": Victim(store_points, store_sound), "sweep": Victim(sweep, sweep_sound),
    "result files": Victim(files, files_sound), "locks": Victim(locks, locks_sound),
    "calibrations": Victim(calibrations, calibrations_sound), "ledger": Victim(ledger, ledger_sound)}
