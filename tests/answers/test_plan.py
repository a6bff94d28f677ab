"""The plan of a day: order, returns, pulls checked by drawn days, the sheet."""

import dataclasses
from html.parser import HTMLParser

import numpy as np
import pytest

from pullcast.answers import wrench
from pullcast.answers.agreement import agreement
from pullcast.answers.plan import DAY_HOURS, checked, plan
from pullcast.answers.pulls_needed import power_of
from pullcast.answers.ranking import Limit, Place, Ranking
from pullcast.errors import InputError
from pullcast.show.plan_text import order_rows, plan_document, plan_markdown
from pullcast.show.report.of_plan import day_sheet

SPEEDS = (3000.0, 4500.0, 6000.0)


def place(name, swaps, change, **more):
    torque = tuple(400.0 * (1 + c) for c in change)
    gain = float(np.mean(change))
    values = {"low": gain - 0.005, "high": gain + 0.005, "best": 0.5, "better": 0.9, "verdict": "likely",
              "change_low": tuple(c - 0.01 for c in change), "change_high": tuple(c + 0.01 for c in change)}
    return Place(name, swaps, "wave", 400.0 * (1 + gain), gain, torque, **(values | more))


def ranking(*places):
    base = place("base", {}, (0.0, 0.0, 0.0))
    return Ranking("A list", "band torque", (3000.0, 6000.0), SPEEDS, SPEEDS, base, places, "wave",
                   "lumped", 32, {}, {}, "", agreement([], [], [], []), None, None, (), "0.1.0", "An engine")


INTAKE = place("intake", {"intake": "intakes/x.toml"}, (-0.02, 0.03, 0.05))
SPARK = place("spark", {"burn.spark": "30 deg"}, (0.02, 0.02, 0.02))
CAM = place("cam", {"cam": "cams/x.toml"}, (-0.03, 0.02, 0.07))
BOTH = place("cam and intake", {"cam": "cams/x.toml", "intake": "intakes/x.toml"}, (-0.05, 0.05, 0.12))


def test_one_part_gives_a_b_a_and_the_day_resolves_it():
    day = plan(ranking(SPARK), parts=1, noise=0.005, refit=0.0)
    assert day.sequence == "A-B-A"
    assert [s.letter for s in day.stops] == ["A", "B", "A"]
    assert day.expected[0].power >= 0.78
    assert day.total_pulls == 3 * day.pulls.per_fit
    assert day.false_resolved < 0.08


def test_drawn_days_agree_with_the_judges_own_planning():
    ours = checked(["A", "B", "A"], 4, [0.01], noise=0.005, refit=0.0)[0]
    assert ours == pytest.approx(power_of("A-B-A", 4, 0.01, noise=0.005, refit=0.0), abs=0.05)
    assert checked(["A", "B", "A"], 8, [0.01], noise=0.005, refit=0.0)[0] > ours
    assert checked(["A", "B", "A"], 4, [0.01], noise=0.005, refit=0.01)[0] < ours


def test_returns_cancel_drift_and_no_difference_is_rarely_resolved():
    for letters in ("ABA", "ABACA", "ABCA"):
        false = checked(list(letters), 3, [0.0] * (len(set(letters)) - 1), noise=0.005, refit=0.003, drift=0.03)
        assert max(false) <= 0.08, letters  # 5 % and the noise of 1200 days


def test_least_wrenching_first():
    assert wrench.minutes(["intake", "intake.throttle.diameter"]) == wrench.MINUTES["intake"]
    assert wrench.change({"cam": "a"}, {"cam": "b", "intake": "c"}) == ["cam", "intake"]
    order = wrench.least_order([CAM.swaps, INTAKE.swaps, BOTH.swaps], returns=False)
    assert wrench.total([[CAM, INTAKE, BOTH][i].swaps for i in order]) == 2 * 180 + 2 * 60
    assert order[1] == 2  # what shares a part with both stands between them
    day = plan(ranking(CAM, SPARK), parts=2, noise=0.005, refit=0.001, resolution=0.02)
    assert [e.place.name for e in day.expected] == ["spark", "cam"]
    many = wrench.least_order([{"intake.a": str(k)} for k in range(9)] + [{"cam": "x"}], returns=False)
    assert sorted(many) == list(range(10))


def test_what_is_more_than_a_day_is_cut_into_days_from_base_to_base():
    day = plan(ranking(CAM, BOTH), parts=2, noise=0.005, refit=0.002)
    assert day.sequence == "A-B-A | A-C-A"
    assert [s.day for s in day.stops] == [1, 1, 1, 2, 2, 2]
    assert day.stops[3].wrench_minutes == 0.0
    assert any("More than a day of 8 hours (" in n and "cut into 2 days" in n for n in day.notes)
    assert [e.power >= 0.78 for e in day.expected] == [True, True]  # each day by itself resolves it
    text = plan_markdown(day)
    assert "over 2 days (" in text
    heads, rows = order_rows(day)
    assert heads[0] == "day"
    assert [row[-1] for row in rows[0::3]] == ["0:00", "0:00"]
    assert plan_document(day)["days"] == 2
    longer = plan(ranking(CAM, BOTH), parts=2, noise=0.005, refit=0.002, hours=24)
    assert len(longer.days) == 1
    assert not any("More than a day" in n for n in longer.notes)
    assert plan(ranking(CAM, BOTH), parts=2, noise=0.005, refit=0.002, returns=False).sequence == "A-B-C-A"


def test_a_day_of_one_part_that_is_too_long_says_what_would_fit():
    short = plan(ranking(CAM), parts=1, noise=0.005, refit=0.002, resolution=0.008, hours=7.9)
    assert len(short.days) == 1
    assert short.minutes > 60 * 7.9
    assert any("This takes " in n and "pulls each it would fit, and the forecast gain be resolved on" in n
               for n in short.notes)
    much = plan(ranking(BOTH), parts=1, noise=0.005, refit=0.002, hours=5)
    assert any("cannot be cut: wrenching and warming up alone are 9.2" in n for n in much.notes)
    with pytest.raises(InputError, match="a day of 30 hours: between 1 and 24"):
        plan(ranking(CAM), parts=1, hours=30)
    ratio = place("ratio", {"block.compression_ratio": 11.0}, (0.02, 0.02, 0.02))
    assert plan(ranking(ratio), parts=1, refit=0.002).sequence == "A-B-A"


def test_what_no_number_of_pulls_resolves_is_said():
    day = plan(ranking(place("x", {"cam": "c"}, (0.001, 0.001, 0.001))), parts=1, noise=0.01, refit=0.01)
    assert not day.pulls.enough
    assert any("does not resolve 0.5 % with any number of pulls" in n for n in day.notes)
    assert any("less than the 0.5 %" in n for n in day.notes)


def test_repeating_the_parts_is_planned_when_it_fits_the_day():
    day = plan(ranking(SPARK), parts=1, noise=0.005, refit=0.004, resolution=0.011)
    assert day.sequence in ("A-B-A-B-A", "A-B-A-B-A-B-A")
    assert day.minutes <= 60 * DAY_HOURS
    assert plan(ranking(SPARK), parts=1, noise=0.005, refit=0.004, resolution=0.011, rounds=1).sequence == "A-B-A"


def test_crossing_curves_are_told():
    day = plan(ranking(INTAKE), parts=1, noise=0.004, refit=0.001)
    assert day.expected[0].crossing == pytest.approx((3600.0,))
    text = plan_markdown(day)
    assert "The curves cross near 3600 rpm" in text
    assert "on one side of A" in plan_markdown(plan(ranking(SPARK), parts=1, refit=0.0))


class Checker(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open, self.bad = [], []

    def handle_starttag(self, tag, attrs):
        if tag not in ("meta",):
            self.open.append(tag)
        self.bad += [v for k, v in attrs if k in ("src", "href")]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def test_the_sheet_holds_all_that_the_day_needs():
    limit = Limit("driveline_torque", "brake torque into the driveline", 500.0, 640.0, False, True)
    day = plan(ranking(dataclasses.replace(INTAKE, name="<intake> & co", limits=(limit,)), SPARK), refit=0.001)
    text = plan_markdown(day, "us")
    for must in ("station pressure", "lambda", "oil and coolant", "carbon monoxide", "lb-ft", "80 % band",
                 "wrench min", "472 lb-ft", "Warm up until two pulls agree", "prove the clearance",
                 "planning estimate", "hours"):
        assert must in text, must
    assert text.count("\n| ") > day.total_pulls
    page, checker = day_sheet(day).html(), Checker()
    checker.feed(page)
    assert checker.open == []
    assert checker.bad == []
    assert "&lt;intake&gt; &amp; co" in page
    assert "<intake>" not in page
    document = plan_document(day)
    assert document["total_pulls"] == day.total_pulls
    assert [s["part"] for s in document["stops"]] == day.sequence.split("-")


def test_what_cannot_be_planned_is_refused():
    with pytest.raises(InputError, match=r"'none' is not a candidate of A list; there are: intake"):
        plan(ranking(INTAKE), names=["none"])
    broken = dataclasses.replace(INTAKE, limits=(Limit("hood_height", "height", 0.2, 0.1, False, False),))
    with pytest.raises(InputError, match="0 candidates to put on the dyno"):
        plan(ranking(broken))
    assert any("breaks a limit of the shortlist: height" in n for n in plan(ranking(broken), names=["intake"],
                                                                           refit=0.0).notes)
