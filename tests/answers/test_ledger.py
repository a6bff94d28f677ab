"""The ledger: entries added, refused, damaged; what it says of forecasts whose errors are known."""

import json
import multiprocessing
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

import model_days
from pullcast.answers.compare import compare
from pullcast.answers.forecast import FITTED
from pullcast.answers.ledger import add_to_ledger, entry_of, read_ledger
from pullcast.answers.ledger_score import Share, score_ledger
from pullcast.answers.measured_parts import measured_parts
from pullcast.answers.spread import Spread
from pullcast.errors import InputError, StoreError
from pullcast.pulls.session_card import read_session
from pullcast.results.curve import Curve

RPM = np.arange(2200.0, 5601.0, 200.0)
NOW = datetime(2026, 5, 2, 12, 0, tzinfo=UTC)


def torque(gain=0.0):
    return (1 + gain) * (44.0 - 4.0 * ((RPM - 3900.0) / 1500.0) ** 2)


@pytest.fixture
def compared(tmp_path):
    def make(seed=0, gain=0.01, b=0.03):
        pulls = {"A": (RPM, torque()), "B": (RPM, torque(0.02))}
        card = model_days.write_day(tmp_path, pulls, "AAABBBAAA", noise=0.002, seed=seed, title=f"day {seed}",
                                    name=f"day{seed}")
        spread = Spread(("walls.factor",), RPM, np.full((RPM.size, 1), 0.02))
        return compare(card, {k: spread.attach(model_days.curve(RPM, torque(v))) for k, v in (("A", gain), ("B", b))})
    return make


def test_days_add_up(compared, tmp_path):
    file = tmp_path / "record.jsonl"
    assert read_ledger(file) == []
    for seed in range(3):
        add_to_ledger(file, compared(seed), NOW)
    entries = read_ledger(file)
    assert [e["session"] for e in entries] == ["day 0", "day 1", "day 2"]
    assert entries[0]["previous"] == "0" * 64
    score = score_ledger(entries)
    assert (score.days, score.sealed, score.band_errors.size, score.difference_errors.size) == (3, 0, 6, 3)
    assert score.band_errors.mean() == pytest.approx(1.0, abs=0.2)
    assert score.signs.value == 1.0
    assert score.coverage[0.95].value == 1.0
    assert score.rpm_errors.size > 0
    assert score_ledger(entries, sealed_only=True).days == 0
    assert "ledger of 3 comparisons, 0 sealed" in repr(score)
    assert repr(score_ledger([])).count("none yet") >= 5


def test_a_pull_scores_a_forecast_once(compared, tmp_path):
    file = tmp_path / "record.jsonl"
    c = compared()
    add_to_ledger(file, c, NOW)
    with pytest.raises(InputError, match=r"9 of these pulls have scored this forecast on 2026-05-02 \(day 0\)"):
        add_to_ledger(file, c)
    add_to_ledger(file, compared(gain=0.02, b=0.01))  # another forecast of the same pulls may be scored
    assert len(read_ledger(file)) == 2


def add_days(file, comparisons):
    for c in comparisons:
        add_to_ledger(file, c, NOW)


def test_four_processes_adding_at_once_lose_nothing(compared, tmp_path):
    file, c = tmp_path / "record.jsonl", compared()
    some = [replace(c, session=replace(c.session, title=f"day {k}"),
                    digests=tuple((part, f"{digest}{k}") for part, digest in c.digests)) for k in range(40)]
    days = [some[k::4] for k in range(4)]
    context = multiprocessing.get_context("fork")
    adders = [context.Process(target=add_days, args=(file, some)) for some in days]
    for p in adders:
        p.start()
    for p in adders:
        p.join(60)
    assert [p.exitcode for p in adders] == [0] * 4
    entries = read_ledger(file)  # also checks that each line follows the one before
    assert sorted(e["session"] for e in entries) == sorted(f"day {k}" for k in range(40))


def test_a_ledger_held_by_another_is_not_written(compared, tmp_path, monkeypatch):
    from filelock import FileLock

    monkeypatch.setattr("pullcast.answers.ledger.PATIENCE", 0.05)
    file = tmp_path / "record.jsonl"
    with FileLock(tmp_path / ".record.jsonl.lock"), pytest.raises(StoreError, match="another process has been"):
        add_to_ledger(file, compared(), NOW)
    assert not file.exists()
    add_to_ledger(file, compared(), NOW)


def test_what_must_not_score_is_left_out(compared, tmp_path):
    c = compared()
    part = replace(c.parts[0], refused="fitted")
    entry = entry_of(replace(c, parts=(part, c.parts[1])))
    assert [p["part"] for p in entry["parts"]] == ["long pipe"]
    nothing = replace(c, parts=(part,), differences=(replace(c.differences[0], refused="void"),))
    with pytest.raises(InputError, match=r"nothing of this comparison may be scored \(fitted; void\)"):
        entry_of(nothing)


def test_fitted_pulls_stay_out_of_the_ledger(tmp_path):
    card = model_days.write_day(tmp_path, {"A": (RPM, torque())}, "AAA")
    _, (a,) = measured_parts(read_session(card))
    fitted = Curve(model_days.curve(RPM, torque()).dataset.assign_attrs({FITTED: " ".join(a.digests)}))
    with pytest.raises(InputError, match="was fitted to 3 of these 3 pulls"):
        add_to_ledger(tmp_path / "r.jsonl", compare(card, {"A": fitted}))
    assert not (tmp_path / "r.jsonl").exists()


def test_a_mended_ledger_is_refused(compared, tmp_path):
    file = tmp_path / "record.jsonl"
    for seed in range(3):
        add_to_ledger(file, compared(seed), NOW)
    lines = file.read_text().splitlines()
    file.write_text("\n".join([lines[0], lines[2]]) + "\n")
    with pytest.raises(StoreError, match=r"record.jsonl:2: does not follow the line before"):
        read_ledger(file)
    better = json.loads(lines[1])
    better["parts"][0]["predicted_percent"] = 100.0
    file.write_text("\n".join([lines[0], json.dumps(better), lines[2]]) + "\n")
    with pytest.raises(StoreError, match=r":3: does not follow"):
        read_ledger(file)
    file.write_text(lines[0] + "\n{half")
    with pytest.raises(StoreError, match=r":2: is no entry of a ledger"):
        read_ledger(file)


def test_places_are_checked(compared, tmp_path):
    with pytest.raises(InputError, match=r"a ledger ends in \.jsonl"):
        read_ledger(tmp_path / "r.txt")
    with pytest.raises(InputError, match="its folder is not there"):
        add_to_ledger(tmp_path / "none" / "r.jsonl", compared())


def entry(rng, sd_true, sd_stated):
    """An entry with one part whose true error has ``sd_true`` and whose forecast said ``sd_stated``."""
    error = rng.normal(0.0, sd_true)
    return {"seal": "", "parts": [{"predicted_percent": 100 + error, "measured_percent": 100.0,
                                   "predicted_sd_percent": sd_stated, "measured_sd_percent": 0.0, "peaks": []}],
            "differences": []}


def test_coverage_tells_honest_from_boastful():
    rng = np.random.default_rng(8)
    honest = score_ledger([entry(rng, 2.0, 2.0) for _ in range(400)])
    boast = score_ledger([entry(rng, 2.0, 0.7) for _ in range(400)])
    assert 0.75 < honest.coverage[0.8].value < 0.85
    low, high = honest.coverage[0.8].interval
    assert low < 0.8 < high
    assert boast.coverage[0.8].interval[1] < 0.6


def test_share_of_none_is_not_a_number():
    assert repr(Share(0, 0)) == "none yet"
    assert np.isnan(Share(0, 0).value)
    assert Share(5, 5).interval[1] == pytest.approx(1.0)
