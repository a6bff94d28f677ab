"""Sessions judged from their cards and files: the demo day, peaks only, bad returns, exclusions, unknown bases."""

import math
from pathlib import Path

import numpy as np
import pytest

from pullcast.answers.judge import judge
from pullcast.answers.session_curves import band_mean, common_grid, smooth
from pullcast.errors import InputError
from pullcast.pulls.measured import Measured
from pullcast.pulls.session import Rules, Run

SESSIONS = Path(__file__).parents[2] / "configs" / "sessions"
RPM = np.arange(2400.0, 6101.0, 20.0)

HEAD = """\
title = "made up"
source = "invented"
[session]
displacement = "5.0 L"
recorded = "{recorded}"
[judge]
band = ["2500 rpm", "6000 rpm"]
metric = "{metric}"
{judge}
"""


def torque(rpm):
    return 430.0 - 60.0 * ((rpm - 4300.0) / 1800.0) ** 2


@pytest.fixture
def day(tmp_path):
    """Writes a session of one file per run; ``factors`` scale the torque of each run, ``shape`` acts on part B."""
    def write(order="AAABBBAAA", factors=None, shape=lambda n: 1.0, noise=0.004, seed=1, extra=None, **fill):
        rng = np.random.default_rng(seed)
        text = HEAD.format(**{"recorded": "observed", "metric": "torque", "judge": ""} | fill)
        for i, part in enumerate(order):
            value = torque(RPM) * (shape(RPM) if part == "B" else 1.0) * (factors[i] if factors else 1.0)
            value = value * (1 + noise * rng.normal()) + rng.normal(0, 1.0, RPM.size)
            lines = [f"{n:.0f},{t:.2f}" for n, t in zip(RPM, value, strict=True)]
            (tmp_path / f"{i}.csv").write_text("\n".join(["RPM,Torque Nm", *lines]))
            text += f'[[run]]\npart = "{part}"\nfile = "{i}.csv"\n' + ((extra or {}).get(i, "")) + "\n"
        card = tmp_path / "s.toml"
        card.write_text(text)
        return card
    return write


def test_the_demo_day():
    judged = judge(SESSIONS / "intake_day.toml")
    d = judged.differences[0]
    assert judged.return_good
    assert d.resolved
    assert d.verdict == "resolved gain"
    assert d.effect.percent == pytest.approx(2.7, abs=0.15)
    assert d.effect.low < 3.40 < d.effect.high  # what the model gave at the hidden values the pulls were made with
    assert d.largest_gain.rpm > 5800
    assert d.largest_loss.rpm < 4600
    (low, high), = d.curve.ranges(-1)
    assert (low, high) == pytest.approx((2600, 4600), abs=150)
    assert d.curve.ranges(1)[-1][1] > 5800
    excluded = [r.excluded for r in judged.rows if r.excluded]
    assert excluded == ["throttle stop had slipped, seen by eye straight after"]
    assert len(judged.rows) == 13
    assert len(judged.used) == 12
    assert judged.rows[6].corrected == pytest.approx(0.87 * judged.rows[5].corrected, rel=0.005)
    assert all(r.observed < r.corrected for r in judged.rows)
    notes = [n for r in judged.rows for n in r.notes]
    assert "blips: 1 row left out (line 121)" in notes
    assert "missing cells: 1 row left out (line 61)" in notes
    assert "resolved gain" in repr(judged)


def test_peaks_only_case_of_the_trade():
    """5.7 L: 479 hp, 463 lb-ft against 421 hp, 409 lb-ft (common practice, no source)."""
    judged = judge(SESSIONS / "peaks_only.toml")
    power, peak_torque = judged.differences
    assert judged.return_good
    assert judged.returns[0].stated
    assert power.verdict == peak_torque.verdict == "resolved loss"
    assert power.effect.percent == pytest.approx(-12.0, abs=0.5)
    assert peak_torque.effect.percent == pytest.approx(-12.0, abs=0.5)
    assert peak_torque.perspective.bmep / 1e5 == pytest.approx(-1.6, abs=0.05)
    assert power.perspective.bmep is None
    assert any("drift is not removed" in w for w in judged.warnings)


def test_drift_alone_is_no_difference(day):
    drifting = [1.0 - 0.005 * i for i in range(9)]
    judged = judge(day(factors=drifting, noise=0.0015), plan=False)
    d = judged.differences[0]
    assert not d.resolved
    assert abs(d.effect.percent) < 0.5


def test_gain_low_and_loss_high_are_found_where_they_are(day):
    judged = judge(day(shape=lambda n: 1.0 - 0.06 * np.clip((n - 4500) / 1500, 0, 1), judge='refit = "0.2 %"'))
    d = judged.differences[0]
    assert d.resolved
    assert d.effect.percent < 0
    assert d.largest_loss.rpm == pytest.approx(6000, abs=150)
    assert d.largest_loss.effect.percent == pytest.approx(-6.0, abs=1.0)
    assert d.largest_loss.effect.high < 0
    (low, high), = d.curve.ranges(-1)
    assert low == pytest.approx(4700, abs=400)
    assert high > 5900
    bmep = d.effect.absolute * 4 * math.pi / 5.0e-3
    assert d.perspective.bmep == pytest.approx(bmep, rel=0.02)


def test_a_bad_return_voids(day):
    bad = [1.0] * 6 + [0.94] * 3
    judged = judge(day(factors=bad, shape=lambda n: 0.93))
    d = judged.differences[0]
    assert judged.return_good is False
    assert not d.resolved
    assert d.verdict == "void: the return to the baseline is bad"
    assert "BAD" in repr(judged.returns[0])
    assert d.more is None


def test_unresolved_says_how_many_more(day):
    judged = judge(day(shape=lambda n: 1.006, order="AABBAA", judge='refit = "0.05 %"', noise=0.006, seed=4))
    d = judged.differences[0]
    assert d.verdict == "not resolved"
    assert d.more.enough
    assert d.more_pulls == d.more.total - 6 > 0


def test_identical_parts_with_many_pulls_are_no_difference(day):
    judged = judge(day(order="AAAABBBBAAAABBBBAAAA", noise=0.001, judge='refit = "0.1 %"'))
    assert judged.differences[0].verdict == "no difference: less than 1.0 % either way"


def test_power_metric_and_two_candidates(day):
    card = day(order="AAABBBAAACCCAAA", shape=lambda n: 1.05, metric="power", judge='refit = "0.2 %"')
    judged = judge(card, plan=False)
    b, c = judged.differences
    assert (b.part, c.part) == ("B", "C")
    assert b.verdict == "resolved gain"
    assert not c.resolved
    assert b.effect.unit == "W"
    assert b.perspective.per_litre_unit == "kW/L"
    assert len(judged.returns) == 2


def test_unknown_basis_gives_ratios_only(day):
    judged = judge(day(recorded="unknown", shape=lambda n: 0.95), plan=False)
    d = judged.differences[0]
    assert d.effect.absolute is None
    assert d.largest_loss.effect.absolute is None
    assert d.perspective.bmep is None
    assert d.effect.percent == pytest.approx(-5.0, abs=0.6)
    assert any("only ratios within the session" in w for w in judged.warnings)


def test_conditions_that_changed_are_pointed_at(day):
    extra = dict.fromkeys((0, 1, 2, 6, 7, 8), 'spark = "32 deg"\n') | dict.fromkeys((3, 4, 5), 'spark = "28 deg"\n')
    judged = judge(day(extra=extra, factors=[0.97, 0.97, 1.0] + [1.0] * 6), plan=False)
    assert any("spark differs between the parts by 4 deg; say so if each part was tuned anew" in w
               for w in judged.warnings)
    assert any("was the engine warm?" in w for w in judged.warnings)


def test_a_short_pull_is_named(day, tmp_path):
    card = day()
    lines = (tmp_path / "4.csv").read_text().splitlines()
    (tmp_path / "4.csv").write_text("\n".join(lines[:100]))
    with pytest.raises(InputError, match=r"run 5 covers 2400 to 4360 rpm, not the band 2500 to 6000 rpm"):
        judge(card)
    text = card.read_text().replace('file = "4.csv"', 'file = "4.csv"\nexclude = "stopped early"')
    card.write_text(text)
    assert judge(card, plan=False).used == (1, 2, 3, 4, 6, 7, 8, 9)


def test_nothing_to_compare(day):
    with pytest.raises(InputError, match="the parts left are A; a comparison needs the baseline 'A' and another"):
        judge(day(order="AAA"))


def test_smoothing_keeps_a_slope_and_tells_gaps():
    rng = np.random.default_rng(0)
    n = np.sort(rng.uniform(2000, 5000, 300))
    grid = np.arange(2100.0, 4901.0, 100.0)
    assert smooth(n, 0.1 * n, grid, 200.0) == pytest.approx(0.1 * grid, abs=1e-6)
    sparse = smooth(np.array([2000.0, 2500.0, 4000.0]), np.array([1.0, 2.0, 3.0]), np.array([2250.0, 3000.0]), 100.0)
    assert sparse[0] == pytest.approx(1.5)
    assert np.isnan(sparse[1])


def test_band_and_grid_errors():
    grid = np.arange(2000.0, 3001.0, 100.0)
    assert band_mean(grid, grid, (2200.0, 2600.0)) == pytest.approx(2400.0)
    with pytest.raises(InputError, match="holds fewer than two bins"):
        band_mean(grid, grid, (2210.0, 2290.0))
    pulls = [Measured(Run(i, "A", 1), None, r, None, r, None, ()) for i, r in enumerate((grid, grid + 2000.0))]
    with pytest.raises(InputError, match="share no speed range"):
        common_grid(pulls, Rules())
