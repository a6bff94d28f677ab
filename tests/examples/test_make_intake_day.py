"""The invented day's pulls: made again they are the shipped ones, and the judge finds what was put in."""

import runpy
from pathlib import Path

import numpy as np
import pytest

from pullcast.answers.judge import judge
from pullcast.pulls.measured import measure
from pullcast.pulls.session_card import read_session

SCRIPT = Path(__file__).parents[2] / "examples" / "make_intake_day.py"


@pytest.fixture(scope="module")
def script():
    return runpy.run_path(str(SCRIPT))


def made(script, gain):
    """Pulls of a made-up engine on which part B gives ``gain`` more at every speed."""
    session = read_session(script["SESSION"])
    base = 440.0 - 60.0 * ((script["SPEEDS"] - 4000.0) / 2000.0) ** 2
    curves = {"A": base, "B": (1 + gain) * base}
    return session, script["day_of_pulls"](session, curves, curves)


def test_speeds_of_the_shipped_files_are_those_of_the_script(script):
    session, pulls = made(script, 0.0)
    for run in session.runs:
        lines = run.file.read_text().splitlines()
        assert lines[:4] == script["rows"](run, *pulls[run.number])[:4]
        assert [int(x.split(";")[1]) for x in lines[4:]] == pulls[run.number][0].astype(int).tolist()


def test_what_is_put_in_is_judged(script, tmp_path):
    session, pulls = made(script, 0.03)
    script["write"](tmp_path / "pulls", session, pulls)
    text = script["SESSION"].read_text().replace('engine = "../engines/hillclimb_v8.toml"', 'displacement = "5.9 L"')
    (tmp_path / "day.toml").write_text(text)
    judged = judge(tmp_path / "day.toml", plan=False)
    found = judged.differences[0].effect
    assert found.low < 3.0 < found.high
    assert judged.return_good
    assert judged.rows[6].observed == pytest.approx(script["SPOILT_BY"] * judged.rows[5].observed, rel=0.005)


@pytest.mark.long
def test_shipped_pulls_are_the_models(script):
    """Every pull within the scatter put in: three sds of refit and pull together, the drift, .5 % for the model."""
    session = read_session(script["SESSION"])
    most = 0.005 + 3 * np.hypot(script["REFIT"], script["PULL"]) - script["DRIFT"]
    for part in "AB":
        runs = [r for r in session.runs if r.part == part and not r.excluded]
        torque = script["truth"](part, runs[0])
        for run in runs:
            pull = measure(session, run)
            weather = measure(session, runs[0]).correction.factor / pull.correction.factor
            mean = np.mean(np.interp(pull.rpm, script["SPEEDS"], torque)) * weather
            assert abs(np.mean(pull.observed) / mean - 1) < most
