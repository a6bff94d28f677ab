"""A ranking as one JSON document with unit-suffixed keys, and read back: what ``plan`` and ``lock`` take."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

from pullcast.answers.agreement import Agreement
from pullcast.answers.influence import Influence
from pullcast.answers.ranking import Limit, Place, Ranking, Screened
from pullcast.answers.ranking_shape import check_shape
from pullcast.errors import InputError, StoreError

MAX_BYTES = 50_000_000
LAYOUT = 1  # raised when an older reader would misread the document


def ranking_document(r: Ranking) -> dict[str, Any]:
    """The whole ranking as plain values, SI; gains in percent of the base."""
    names = [p.name for p in (r.base, *r.places) if p.best is not None]
    return {
        "pullcast_ranking": LAYOUT, "version": r.version, "shortlist": r.name, "engine": r.engine, "goal": r.goal,
        "goal_unit": r.unit, "band_rpm": list(r.band), "fidelity": r.fidelity, "winner": r.winner,
        "headline": r.headline(), "speeds_rpm": list(r.speeds), "sampled_speeds_rpm": list(r.sampled_speeds),
        "base": _place(r.base), "candidates": [_place(p) for p in r.places],
        "spread_fidelity": r.spread, "samples": r.samples, "wave_draws": r.wave_draws,
        "pairs": [{"first": a, "second": b, "chance_first_is_better": r.pairs[a, b], "verdict": r.verdicts[a, b],
                   **_apart(r, a, b)}
                  for i, a in enumerate(names) for b in names[i + 1:]],
        "agreement": _agreement(r.agreement), "decides": None if r.influence is None else _influence(r.influence),
        "screening": None if r.screened is None else _screened(r.screened), "notes": list(r.notes),
    }


def _apart(r: Ranking, a: str, b: str) -> dict[str, float]:
    if (a, b) not in r.apart:
        return {}
    low, high = r.apart[a, b]
    return {"difference_low_percent": 100.0 * low, "difference_high_percent": 100.0 * high}


def _percent(x: float | None) -> float | None:
    return None if x is None or not math.isfinite(x) else 100.0 * x


def _number(x: float | None) -> float | None:
    return None if x is None or not math.isfinite(x) else x


def _place(p: Place) -> dict[str, Any]:
    return {
        "name": p.name, "swaps": dict(p.swaps), "fidelity": p.fidelity, "score": _number(p.score),
        "gain_percent": _percent(p.gain), "gain_low_percent": _percent(p.low), "gain_high_percent": _percent(p.high),
        "chance_best": p.best, "chance_better_than_base": p.better, "verdict": p.verdict, "kept": p.kept,
        "torque_Nm": [_number(t) for t in p.torque],
        "change_low_percent": [_percent(x) for x in p.change_low],
        "change_high_percent": [_percent(x) for x in p.change_high],
        "limits": [{"name": x.name, "title": x.title, "value": x.value, "limit": x.limit, "at_least": x.at_least,
                    "kept": x.kept, "aside": x.aside} for x in p.limits],
        "trouble": p.trouble, "notes": list(p.notes)}


def _agreement(a: Agreement) -> dict[str, Any]:
    return {"names": list(a.names), "lumped_gain_percent": [100 * x for x in a.lumped],
            "wave_gain_percent": [100 * x for x in a.wave], "rank_correlation": _number(a.rank_correlation),
            "spread_percent": _percent(a.spread), "gap_per_swap_percent": 100 * a.per_swap}


def _influence(i: Influence) -> dict[str, Any]:
    return {"first": i.first, "second": i.second, "unknown": i.label, "key": i.key, "share_of_variance": i.share,
            "slope_percent_per_sd": 100 * i.slope, "chance_now": i.chance, "chance_when_measured": i.measured,
            "how": i.how, "next": [{"unknown": a, "share_of_variance": b} for a, b in i.others]}


def _screened(s: Screened) -> dict[str, Any]:
    return {"fidelity": "lumped", "names": list(s.names), "gain_percent": [_percent(g) for g in s.gains],
            "carried": list(s.carried), "controls": list(s.controls), "chance_left_behind": s.behind,
            "left_behind": s.behind_name}


def save_ranking(ranking: Ranking, path: str | Path) -> Path:
    """Write a ranking as .json, whole or not at all. Raises StoreError when it cannot be written."""
    from pullcast.results.files import write_whole

    text = json.dumps(ranking_document(ranking), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    return write_whole(path, lambda p: p.write_text(text, encoding="utf-8"))


def read_ranking(path: str | Path) -> Ranking:
    """The ranking of a file. InputError when there is none, StoreError when it is not one."""
    path = Path(path)
    if not path.is_file():
        msg = f"{path}: no such ranking. Rankings are written by pullcast rank SHORTLIST --out NAME.json."
        raise InputError(msg)
    if path.suffix.lower() == ".toml":
        msg = f"{path}: a card, not a ranking. Rank it first: pullcast rank {path} --out ranking.json."
        raise InputError(msg)
    try:
        if path.stat().st_size > MAX_BYTES:
            msg = f"it has more than {MAX_BYTES} bytes"
            raise ValueError(msg)
        d = json.loads(path.read_text(encoding="utf-8-sig"))
        if not isinstance(d, dict) or not isinstance(d.get("pullcast_ranking"), int):
            msg = "it does not say that it is one"
            raise ValueError(msg)
        if d["pullcast_ranking"] > LAYOUT:
            msg = f"it is of layout {d['pullcast_ranking']}, written by a newer pullcast; this one reads {LAYOUT}"
            raise ValueError(msg)
        ranking = ranking_of(d)
        repr(ranking)  # says all of it once: names, numbers and verdicts that do not fit each other come out here
        return ranking
    except (OSError, ValueError, LookupError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        msg = f"{path}: is not a ranking of pullcast ({error}). Write it again with pullcast rank --out NAME.json."
        raise StoreError(msg) from None


def ranking_of(d: dict[str, Any]) -> Ranking:
    """The ranking of a document. Raises KeyError, TypeError or ValueError when it is not one."""
    check_shape(d)
    pairs, verdicts, apart = {}, {}, {}
    for p in d["pairs"]:
        a, b, chance = p["first"], p["second"], float(p["chance_first_is_better"])
        pairs |= {(a, b): chance, (b, a): 1.0 - chance}
        verdicts |= {(a, b): p["verdict"], (b, a): p["verdict"]}
        if "difference_low_percent" in p:
            low, high = float(p["difference_low_percent"]) / 100, float(p["difference_high_percent"]) / 100
            apart |= {(a, b): (low, high), (b, a): (-high, -low)}
    for p in (d["base"], *d["candidates"]):
        wanted = (len(d["speeds_rpm"]), {0, len(d["speeds_rpm"])})
        if len(p["torque_Nm"]) != wanted[0] or not {len(p["change_low_percent"]),
                                                    len(p["change_high_percent"])} <= wanted[1]:
            msg = f"{p['name']} has not one value for each of the {wanted[0]} speeds"
            raise ValueError(msg)
    a, i, s = d["agreement"], d["decides"], d["screening"]
    agreed = Agreement(tuple(a["names"]), _fractions(a["lumped_gain_percent"]), _fractions(a["wave_gain_percent"]),
                       _nan(a["rank_correlation"]), _nan(a["spread_percent"]) / 100, a["gap_per_swap_percent"] / 100)
    decides = None if i is None else Influence(
        i["first"], i["second"], i["unknown"], i["key"], i["share_of_variance"], i["slope_percent_per_sd"] / 100,
        i["chance_now"], i["chance_when_measured"], i["how"],
        tuple((x["unknown"], x["share_of_variance"]) for x in i["next"]))
    screened = None if s is None else Screened(tuple(s["names"]), _fractions(s["gain_percent"]), tuple(s["carried"]),
                                               tuple(s["controls"]), s["chance_left_behind"], s["left_behind"])
    return Ranking(d["shortlist"], d["goal"], tuple(d["band_rpm"]), tuple(d["speeds_rpm"]),
                   tuple(d["sampled_speeds_rpm"]), _place_of(d["base"]), tuple(_place_of(p) for p in d["candidates"]),
                   d["fidelity"], d["spread_fidelity"], d["samples"], pairs, verdicts, d["winner"], agreed, decides,
                   screened, tuple(d["notes"]), d["version"], d["engine"], d.get("wave_draws", 0), apart)


def _nan(x: float | None) -> float:
    return math.nan if x is None else float(x)


def _fractions(values: list[float | None]) -> tuple[float, ...]:
    return tuple(_nan(x) / 100 for x in values)


def _place_of(p: dict[str, Any]) -> Place:
    low, high = (None if p[k] is None else p[k] / 100 for k in ("gain_low_percent", "gain_high_percent"))
    limits = tuple(Limit(x["name"], x["title"], x["value"], x["limit"], x["at_least"], x["kept"],
                         x.get("aside", False))
                   for x in p["limits"])
    return Place(p["name"], p["swaps"], p["fidelity"], _nan(p["score"]), _nan(p["gain_percent"]) / 100,
                 tuple(_nan(t) for t in p["torque_Nm"]), limits, low, high, p["chance_best"],
                 p["chance_better_than_base"], p["verdict"], _fractions(p["change_low_percent"]),
                 _fractions(p["change_high_percent"]), p["trouble"], tuple(p["notes"]))
