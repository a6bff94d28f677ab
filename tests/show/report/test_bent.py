"""Documents that somebody bent are refused in words or told as they are: never a traceback."""

import copy
import json
import random
import runpy
from dataclasses import replace
from pathlib import Path

import pytest

from pullcast.answers.ranking_file import ranking_document, read_ranking
from pullcast.errors import PullcastError, StoreError
from pullcast.show.report.compose import share_of
from pullcast.show.report.saved import read_saved

ODD = (None, 5, -1.5, "x", "<b>", [], {}, [1, 2], {"a": 1}, True, 1e308, "9" * 50)
PLAN = runpy.run_path(str(Path(__file__).parents[2] / "answers" / "test_plan.py"))
SAVED = {"sequence": "A-B-A", "pulls": [{"run": 1, "part": "A", "excluded": ""}], "title": "a day", "notes": ["mind"],
         "differences": [{"part": "B", "baseline": "A", "metric": "mean torque", "percent": 1.0, "percent_low": 0.5,
                          "percent_high": 1.5, "verdict": "resolved gain",
                          "curve": {"rpm": [2000.0, 3000.0], "percent": [1.0, 2.0]}}]}


def ranking_text():
    r = PLAN["ranking"](PLAN["INTAKE"], PLAN["SPARK"])
    names = [p.name for p in (r.base, *r.places)]
    pairs = {(a, b): 0.7 for a in names for b in names if a != b}
    return ranking_document(replace(r, pairs=pairs, verdicts=dict.fromkeys(pairs, "open")))


def places(value, at=()):
    yield at
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in pairs:
        yield from places(inner, (*at, key))


def bent(document, chance):
    out = copy.deepcopy(document)
    *way, last = chance.choice([p for p in places(document) if p])
    holder = out
    for key in way:
        holder = holder[key]
    if isinstance(holder, dict) and chance.random() < 0.25:
        del holder[last]
    else:
        holder[last] = chance.choice(ODD)
    return out


@pytest.mark.parametrize(("read", "document"), [
    (read_ranking, ranking_text()), (read_saved, SAVED)])
def test_bent_documents(tmp_path, read, document):
    document = json.loads(json.dumps(document))
    file, chance, refused = tmp_path / "bent.json", random.Random(7), 0
    file.write_text(json.dumps(document), encoding="utf-8")
    share_of(read(file), "si")
    for _ in range(150):
        file.write_text(json.dumps(bent(document, chance)), encoding="utf-8")
        try:
            share_of(read(file), "us")
        except PullcastError:  # anything else is a fault
            refused += 1
    assert 5 <= refused < 150


def test_a_bent_ranking_names_the_place(tmp_path):
    document = ranking_text()
    document["candidates"][1]["gain_percent"] = "much"
    (tmp_path / "r.json").write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(StoreError, match="candidates, 2, gain_percent: not a number"):
        read_ranking(tmp_path / "r.json")
