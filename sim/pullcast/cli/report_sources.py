"""What ``pullcast report`` is to tell of: files as saved, and cards computed now."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from pullcast.errors import InputError

KINDS = (".toml", ".nc", ".json", ".jsonl")


@dataclass(frozen=True)
class Asked:
    """What is to be computed beside what the files say."""

    swaps: tuple[str, ...] = ()
    diagnose: bool = False
    forecasts: tuple[str, ...] = ()
    interval: bool = False
    fidelity: str = "wave"
    workers: int | None = None


def pdf_possible() -> None:
    """InputError, before any work, when a PDF cannot be made here."""
    missing = [name for name in ("reportlab", "pypdf") if find_spec(name) is None]
    if missing:
        msg = f"a PDF needs {' and '.join(missing)}: pip install 'pullcast[report]', or write .html and print that"
        raise InputError(msg)


def answers_of(files: Sequence[Path], asked: Asked) -> list[Any]:
    """Finished values in the order of the files; kinds are settled, and options that do not fit are refused, before
    anything is computed."""
    kinds = [(file, kind_of(file)) for file in dict.fromkeys(files)]
    cards = [f for f, kind in kinds if kind == "engine"]
    sessions = [f for f, kind in kinds if kind == "session"]
    locks = [f for f, kind in kinds if kind == "lock"]
    if asked.swaps and len(cards) != 1:
        msg = f"--swap explains a swap on one engine card; {len(cards) or 'none'} named"
        raise InputError(msg)
    if asked.diagnose and len(sessions) != 1:
        msg = f"--diagnose is for one session card; {len(sessions) or 'none'} named"
        raise InputError(msg)
    if asked.forecasts and not (sessions and locks):
        msg = "--forecast says which sealed curve is which part: name a session and a lock as well"
        raise InputError(msg)
    answers: list[Any] = []
    for file, kind in kinds:
        answers += _SOURCES[kind](file, asked)
    if sessions and len(locks) == 1:
        answers += [_compared(file, locks[0], asked) for file in sessions]
    if asked.swaps:
        answers.append(_explained(cards[0], asked))
    if asked.diagnose:
        answers.append(_diagnosed(sessions[0], asked))
    return answers


def kind_of(file: Path) -> str:
    """What a file is: "engine", "session", "shortlist", "calibration", "curve", "lock", "record",
    "ranking" or "saved".

    Raises InputError when there is no such file or none of these; CardError when a card cannot be read.
    """
    if file.is_dir():
        msg = f"{file}: is a folder; name the files to report"
        raise InputError(msg)
    if not file.is_file():
        msg = f"{file}: no such file. Name cards (.toml), saved curves (.nc), saved documents or locks (.json)."
        raise InputError(msg)
    suffix = file.suffix.lower()
    if suffix == ".nc":
        return "curve"
    if suffix == ".jsonl":
        return "record"
    if suffix == ".json":
        return "lock" if file.name.lower().endswith(".lock.json") else _saved_kind(file)
    if suffix != ".toml":
        msg = f"{file}: cannot be reported; name files ending in {', '.join(KINDS)}, not {suffix or 'in nothing'}"
        raise InputError(msg)
    from pullcast.sheets.files import read_sheet

    data = read_sheet(file, file.name).data
    if "pullcast_calibration" in data:
        return "calibration"
    if "session" in data or isinstance(data.get("run"), list):  # an engine card may have one table [run] of its own
        return "session"
    return "shortlist" if "base" in data else "engine"


def _saved_kind(file: Path) -> str:
    with file.open("rb") as opened:
        return "ranking" if b'"pullcast_ranking"' in opened.read(4096) else "saved"


def _curve(file: Path, asked: Asked) -> list[Any]:
    from pullcast.results.curve import Curve

    return [Curve.load(file)]


def _engine(file: Path, asked: Asked) -> list[Any]:
    from pullcast.answers.check import check
    from pullcast.answers.curves import predict
    from pullcast.card import read_engine
    from pullcast.cli import predict_sure
    from pullcast.cli.progress import points

    engine = read_engine(file)
    with points(len(engine.speeds), f"predicting {engine.name}") as on_point:
        curve = predict(engine, workers=asked.workers, fidelity=asked.fidelity, on_point=on_point)
    if asked.interval:
        curve = predict_sure.marked(curve, engine, None, True, fidelity=asked.fidelity, workers=asked.workers)
    return [curve, check(engine)]


def _session(file: Path, asked: Asked) -> list[Any]:
    from pullcast.answers.judge import judge

    return [judge(file)]


def _shortlist(file: Path, asked: Asked) -> list[Any]:
    from pullcast.answers.rank import rank
    from pullcast.answers.search import search
    from pullcast.card.shortlist import read_shortlist
    from pullcast.cli.progress import stages
    from pullcast.solve.store import Store

    card = read_shortlist(file)
    with stages(f"ranking {card.base.name}") as on_stage, Store() as store:
        how = {"store": store, "workers": asked.workers, "on_stage": on_stage, "fidelity": asked.fidelity}
        return [search(card, **how) if card.spans else rank(card, **how)]


def _calibration(file: Path, asked: Asked) -> list[Any]:
    from pullcast.answers.calibration_card import read_calibration

    return [read_calibration(file)]


def _lock(file: Path, asked: Asked) -> list[Any]:
    from pullcast.answers.lock import read_lock

    return [read_lock(file)]


def _ranking(file: Path, asked: Asked) -> list[Any]:
    from pullcast.answers.ranking_file import read_ranking

    return [read_ranking(file)]


def _record(file: Path, asked: Asked) -> list[Any]:
    from pullcast.show.report.of_record import read_record

    return [read_record(file)]


def _saved(file: Path, asked: Asked) -> list[Any]:
    from pullcast.show.report.saved import read_saved

    return [read_saved(file)]


_SOURCES: dict[str, Callable[[Path, Asked], list[Any]]] = {
    "engine": _engine, "session": _session, "shortlist": _shortlist, "calibration": _calibration, "curve": _curve,
    "lock": _lock, "record": _record, "ranking": _ranking, "saved": _saved,
}


def _compared(session: Path, lock: Path, asked: Asked) -> Any:
    from pullcast.answers.compare import compare
    from pullcast.answers.lock import read_lock
    from pullcast.cli.compare import pairs
    from pullcast.pulls.session_card import read_session

    return compare(read_session(session), forecasts=read_lock(lock), names=pairs(list(asked.forecasts)))


def _explained(card: Path, asked: Asked) -> Any:
    from pullcast.answers.explain import explain
    from pullcast.cli.explain import parse_swaps, ticks
    from pullcast.solve.store import Store

    swaps = parse_swaps(list(asked.swaps))
    with ticks(f"explaining {card.stem}") as on_tick, Store() as store:
        return explain(card, swaps, fidelity=asked.fidelity, store=store, workers=asked.workers, on_tick=on_tick)


def _diagnosed(session: Path, asked: Asked) -> Any:
    from pullcast.answers.diagnose import diagnose
    from pullcast.cli.explain import ticks
    from pullcast.solve.store import Store

    with ticks(f"diagnosing {session.stem}") as on_tick, Store() as store:
        return diagnose(session, fidelity=asked.fidelity, store=store, workers=asked.workers, on_tick=on_tick)
