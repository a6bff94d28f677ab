"""The shape of a ranking's document, so that one that was bent is refused before anything is made of it."""

from __future__ import annotations

from typing import Any

from pullcast.card.constraints import KINDS
from pullcast.results.shape import ANY, COUNT, MAYBE, NUMBER, TEXT, TRUTH, misfit

_LIMIT = {"name": TEXT, "title": TEXT, "value": MAYBE, "limit": NUMBER, "at_least": TRUTH, "kept": TRUTH}
_PLACE = {
    "name": TEXT, "swaps": {}, "fidelity": TEXT, "score": MAYBE, "gain_percent": MAYBE, "gain_low_percent": MAYBE,
    "gain_high_percent": MAYBE, "chance_best": MAYBE, "chance_better_than_base": MAYBE, "verdict": TEXT,
    "torque_Nm": [MAYBE], "change_low_percent": [MAYBE], "change_high_percent": [MAYBE], "limits": [_LIMIT],
    "trouble": TEXT, "notes": [TEXT],
}
_DECIDES = {
    "first": TEXT, "second": TEXT, "unknown": TEXT, "key": TEXT, "share_of_variance": NUMBER,
    "slope_percent_per_sd": NUMBER, "chance_now": NUMBER, "chance_when_measured": NUMBER, "how": TEXT,
    "next": [{"unknown": TEXT, "share_of_variance": NUMBER}],
}
SHAPE = {
    "shortlist": TEXT, "goal": TEXT, "engine": TEXT, "version": TEXT, "fidelity": TEXT, "spread_fidelity": TEXT,
    "winner": TEXT, "samples": COUNT, "band_rpm": [NUMBER], "speeds_rpm": [NUMBER], "sampled_speeds_rpm": [NUMBER],
    "base": _PLACE, "candidates": [_PLACE], "notes": [TEXT], "decides": (None, _DECIDES),
    "pairs": [{"first": TEXT, "second": TEXT, "chance_first_is_better": NUMBER, "verdict": TEXT}],
    "agreement": {"names": [TEXT], "lumped_gain_percent": [MAYBE], "wave_gain_percent": [MAYBE],
                  "rank_correlation": MAYBE, "spread_percent": MAYBE, "gap_per_swap_percent": NUMBER},
    "screening": (None, {"names": [TEXT], "gain_percent": [MAYBE], "carried": [TEXT], "controls": [TEXT],
                         "chance_left_behind": ANY, "left_behind": TEXT}),
}


def check_shape(d: Any) -> None:
    """Raise ValueError, naming the place, for a document that is not a whole ranking."""
    problem = misfit(d, SHAPE) or _inside(d)
    if problem:
        raise ValueError(problem)


def _inside(d: dict[str, Any]) -> str:
    """What the parts of a well-shaped document say against each other."""
    places = [d["base"], *d["candidates"]]
    names = [p["name"] for p in places]
    if len(d["band_rpm"]) != 2 or d["band_rpm"][0] > d["band_rpm"][1]:
        return "band_rpm: not two rising speeds"
    if sorted(d["speeds_rpm"]) != d["speeds_rpm"] or not d["speeds_rpm"]:
        return "speeds_rpm: not rising"
    if d["winner"] and d["winner"] not in names:
        return f"winner: {d['winner']!r:.40} is not on the list"
    odd = [x["name"] for p in places for x in p["limits"] if x["name"] not in KINDS]
    if odd:
        return f"limits: {odd[0]!r:.40} is no limit"
    drawn = [p["name"] for p in places if p["chance_best"] is not None]
    known = {frozenset((p["first"], p["second"])) for p in d["pairs"]}
    if d["pairs"] and any(frozenset((a, b)) not in known for i, a in enumerate(drawn) for b in drawn[i + 1:]):
        return "pairs: not one for every two of the candidates"
    bands = [p["name"] for p in places if (p["gain_low_percent"] is None) != (p["gain_high_percent"] is None)]
    return f"{bands[0]}: a band with one end" if bands else ""
