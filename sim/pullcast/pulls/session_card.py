"""Read a session card (TOML): every fault is listed at once with its line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pullcast.errors import CardError
from pullcast.pulls.card_text import CardText
from pullcast.pulls.correction import BASES
from pullcast.pulls.session import Rules, Run, Session
from pullcast.pulls.session_air import WEATHER, read_weather
from pullcast.pulls.session_columns import read_mapping

TOP = ("title", "source", "session", "judge", "parts", "weather", "sweep", "columns", "run", "return")
SESSION = ("engine", "displacement", "strokes", "baseline", "basis", "recorded")
JUDGE = ("band", "metric", "window", "step", "refit", "worth", "level")
SWEEP = ("rate", "inertia")
STATE = {"oil_temperature": ("temperature", 230.0, 450.0), "coolant_temperature": ("temperature", 230.0, 420.0),
         "spark": ("angle", -20.0, 80.0), "lambda": ("fraction", 0.5, 1.6)}
RUN = ("part", "file", "peak_power", "peak_torque", "refitted", "at", "weather", "rate", "inertia", "kind", "exclude",
       "leave_out", "note", *STATE)


def read_session(path: str | Path) -> Session:
    """The `Session` in the card at ``path``; raises `CardError` with all its problems, each with line and remedy."""
    card = CardText(path)
    card.known(card.data, TOP)
    head = card.table("session", SESSION)
    parts = card.table("parts", tuple(card.data.get("parts", {})))
    runs = _runs(card, parts, head)
    baseline = card.text(head, "baseline", runs[0].part if runs else "", "session")
    if runs and baseline not in {r.part for r in runs}:
        card.problem(("session", "baseline"), f"no run has the part {baseline!r}",
                     f"Parts run: {', '.join(sorted({r.part for r in runs}))}.")
    basis = card.choice(head, "basis", ("observed", *BASES), "observed", "session")
    recorded = card.choice(head, "recorded", ("observed", "unknown", *BASES), "observed", "session")
    _check_weather(card, runs, basis, recorded)
    rules = _rules(card)
    ret = card.table("return", ("stated",))
    session = Session(
        Path(path), card.text(card.data, "title", Path(path).stem), _source(card),
        {k: str(v) for k, v in parts.items()}, runs, baseline, basis, recorded, rules, read_mapping(card),
        card.beside(head, "engine", "session"),
        card.si(head, "displacement", "volume", 1e-5, 0.1, "session"), _strokes(card, head),
        card.choice(ret, "stated", ("", "good", "bad"), "", "return"))
    if card.problems:
        raise CardError(card.problems)
    return session


def _source(card: CardText) -> str:
    source = card.data.get("source", "")
    if isinstance(source, dict):
        return "; ".join(str(v) for v in source.values())
    return card.text(card.data, "source", "")


def _strokes(card: CardText, head: dict[str, Any]) -> int:
    value = head.get("strokes", 4)
    if value not in (2, 4):
        card.problem(("session", "strokes"), f"{value!r} is not 2 or 4")
        return 4
    return value


def _rules(card: CardText) -> Rules:
    table, blank = card.table("judge", JUDGE), Rules()
    band = None
    if "band" in table:
        ends = table["band"]
        if isinstance(ends, list) and len(ends) == 2:
            pair = {"from": ends[0], "to": ends[1]}
            low, high = (card.si(pair, k, "rotational speed", 100.0, 25000.0, "judge", "band") for k in pair)
            if low is not None and high is not None and low >= high:
                card.problem(("judge", "band"), f"{ends[0]!r} is not below {ends[1]!r}")
            elif low is not None and high is not None:
                band = low, high
        else:
            card.problem(("judge", "band"), f"{ends!r} is not a pair", 'Write band = ["2500 rpm", "6000 rpm"].')

    def value(key: str, quantity: str, low: float, high: float, default):
        got = card.si(table, key, quantity, low, high, "judge")
        return default if got is None else got

    return Rules(band, card.choice(table, "metric", ("torque", "power"), "torque", "judge"),
                 value("window", "rotational speed", 10.0, 2000.0, blank.window),
                 value("step", "rotational speed", 10.0, 1000.0, blank.step),
                 value("refit", "fraction", 0.0, 0.2, None), value("worth", "fraction", 1e-4, 0.5, blank.worth),
                 value("level", "fraction", 0.5, 0.999, blank.level))


def _runs(card: CardText, parts: dict[str, Any], head: dict[str, Any]) -> tuple[Run, ...]:
    listed = card.data.get("run", [])
    if not isinstance(listed, list) or not listed:
        card.problem(("run",), "no runs are listed", "Add a [[run]] table for every pull, in the order run.")
        return ()
    weather = read_weather(card, card.table("weather", WEATHER), "weather")
    table = card.table("sweep", SWEEP)
    sweep = _sweep(card, table, "sweep")
    runs: list[Run] = []
    for i, found in enumerate(listed):
        card.known(found, RUN, "run", i)
        runs.append(_run(card, found, i, runs, parts, weather, sweep))
    return tuple(runs)


def _run(card: CardText, found: dict[str, Any], i: int, before: list[Run], parts, weather, sweep) -> Run:
    here = ("run", i)
    part = card.text(found, "part", "", *here)
    if not part or (parts and part not in parts):
        card.problem((*here, "part"), f"{part!r} is not one of the [parts]" if part else "says no part",
                     f"Known: {', '.join(parts)}." if parts else "Every run names its part.")
    file = card.beside(found, "file", *here)
    peaks = [card.si(found, "peak_power", "power", 100.0, 5e6, *here),
             card.si(found, "peak_torque", "torque", 0.1, 1e5, *here)]
    if "file" not in found and not {"peak_power", "peak_torque"} & set(found):
        card.problem(here, "has neither a file nor peaks", 'Give file = "pull.csv" or peak_power and peak_torque.')
    if "file" in found and {"peak_power", "peak_torque"} & set(found):
        card.problem(here, "has both a file and peaks", "The file holds the peaks; leave them out.")
    last = before[-1] if before else None
    fit = 1 if last is None else last.fit + (part != last.part or found.get("refitted") is True)
    own = read_weather(card, found["weather"], *here, "weather", base=card.data.get("weather", {})) \
        if isinstance(found.get("weather"), dict) else weather
    rate, inertia = _sweep(card, found, *here)
    at = card.si(found, "at", "time", 0.0, 1e6, *here)
    lines, why = _leave_out(card, found, here)
    excluded = card.text(found, "exclude", "", *here)
    if "exclude" in found and not excluded.strip():
        card.problem((*here, "exclude"), "is empty", "An exclusion needs its reason, in words.")
    state = {k: v for k, (q, lo, hi) in STATE.items() if (v := card.si(found, k, q, lo, hi, *here)) is not None}
    kind = card.choice(found, "kind", ("", "sweep", "steady"), "", *here) or None
    return Run(i + 1, part, fit, file, *peaks, None if at is None else at / 60.0, own, rate or sweep[0],
               inertia or sweep[1], kind, excluded.strip(), lines, why, state, card.text(found, "note", "", *here))


def _leave_out(card: CardText, found: dict[str, Any], here: tuple) -> tuple[tuple[int, ...], str]:
    given = found.get("leave_out")
    if given is None:
        return (), ""
    lines = given.get("lines") if isinstance(given, dict) else None
    reason = given.get("reason", "") if isinstance(given, dict) else ""
    good = isinstance(lines, list) and lines and all(isinstance(n, int) and n > 0 for n in lines)
    if not good or not isinstance(reason, str) or not reason.strip():
        card.problem((*here, "leave_out"), "needs lines and a reason",
                     'Write leave_out = { lines = [12, 13], reason = "cable touched" }.')
        return (), ""
    return tuple(lines), reason


def _sweep(card: CardText, table: dict[str, Any], *keys: str | int) -> tuple[float | None, float | None]:
    return (card.si(table, "rate", "acceleration of speed", -5000.0, 5000.0, *keys),
            card.si(table, "inertia", "inertia", 0.0, 100.0, *keys))


def _check_weather(card: CardText, runs: tuple[Run, ...], basis: str, recorded: str) -> None:
    if basis == "observed" or recorded in ("unknown", basis) or card.problems:
        return
    for i, run in enumerate(runs):
        if run.weather is None and not run.excluded:
            card.problem(("run", i), f"has no weather, which basis {basis!r} needs",
                         "Add [weather] for the session or weather = {...} for the run, or set basis = \"observed\".")
