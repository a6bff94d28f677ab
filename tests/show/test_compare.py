"""Tables and pictures of comparisons and calibrations: what they say, and that what is drawn is what was found."""

from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

import model_days
from pullcast.answers.calibration import Calibration, Facts, Found, UsedPull
from pullcast.answers.compare import compare
from pullcast.answers.ledger import entry_of
from pullcast.answers.ledger_score import score_ledger
from pullcast.answers.spread import Spread
from pullcast.answers.unknowns import Prior
from pullcast.show import calibration_plots, calibration_tables, compare_plots, compare_tables
from pullcast.show.look import save_figure

RPM = np.arange(2200.0, 5601.0, 200.0)


def torque(gain=0.0):
    return (1 + gain) * (44.0 - 4.0 * ((RPM - 3900.0) / 1500.0) ** 2)


@pytest.fixture
def compared(tmp_path):
    card = model_days.write_day(tmp_path, {"A": (RPM, torque()), "B": (RPM, torque(0.04)), "C": (RPM, torque(-0.03))},
                                "AAABBBCCCAAA", noise=0.002)
    spread = Spread(("walls.factor",), RPM, np.full((RPM.size, 1), 0.02))
    return compare(card, {k: spread.attach(model_days.curve(RPM, torque(g))) for k, g in
                          (("A", 0.01), ("B", 0.03), ("C", 0.0))})


@pytest.fixture
def made():
    def found(key, value, sd, prior, prior_sd, bound=""):
        p = Prior(key, prior, prior_sd, prior - 3 * prior_sd, prior + 3 * prior_sd, "test")
        return Found(p, value, sd, value - 1.96 * sd, value + 1.96 * sd, bound)

    speeds = np.array([2500.0, 3500.0, 4500.0])
    return Calibration(
        "test single", Facts(0.086, 0.086, 1, "chen_flynn", "hohenberg", "wiebe", "h"),
        (found("friction.factor", 1.12, 0.03, 1.0, 0.1), found("burn.duration_10_90", 30.0, 1.9, 24.0, 2.0, "high")),
        np.array([[1.0, -0.8], [-0.8, 1.0]]), speeds, np.array([40.0, 44.0, 41.0]), np.array([42.0, 46.0, 43.0]),
        np.array([40.1, 43.9, 41.0]), {"own": 0.001, "level": 0.011, "model": 0.015}, 3.0, 0.4, "j1349",
        (UsedPull("day", 1, "A", "ab" * 32),), "wave", "0.1.0", "2026-05-02T12:00:00+00:00", True, ("mind this",))


def text_of(view, width=100):
    console = Console(width=width, record=True, force_terminal=False)
    with console.capture() as got:
        console.print(view)
    return got.get()


def test_the_page_says_errors_differences_and_order(compared):
    text = text_of(compare_tables.comparison_view(compared))
    for word in ("forecast not sealed", "B - A", "C - A", "right", "order of 3 parts: Kendall tau +1.00",
                 "the best part was foretold", "not sealed before the pulls", "planning estimate"):
        assert word in text
    refused = replace(compared, parts=(replace(compared.parts[0], refused="fitted"), *compared.parts[1:]))
    assert "not scored, A, mean torque 2400 to 5400 rpm: fitted" in text_of(compare_tables.comparison_view(refused))
    assert max(map(len, text_of(compare_tables.comparison_view(compared), 80).splitlines())) <= 80


def test_pictures_show_what_was_found(compared, tmp_path):
    figure = compare_plots.compare_figure(compared)
    overlay, error, difference = figure.axes
    drawn = [line.get_ydata() for line in overlay.lines if len(line.get_ydata()) > 2]
    assert any(len(d) == compared.parts[0].curve.rpm.size and np.allclose(d, compared.parts[0].curve.predicted)
               for d in drawn)
    assert any(np.array_equal(line.get_ydata(), compared.parts[1].curve.percent) for line in error.lines)
    assert any(np.array_equal(line.get_ydata(), compared.differences[0].predicted) for line in difference.lines)
    assert difference.get_xlabel() == "engine speed, rpm"
    save_figure(figure, tmp_path / "c.png")
    scatter = compare_plots.compare_figure(replace(compared, parts=tuple(replace(p, curve=None) for p in
                                                                        compared.parts),
                                                   differences=tuple(replace(d, rpm=None) for d in
                                                                     compared.differences)))
    assert scatter.axes[0].get_xlabel() == "measured difference, %"
    save_figure(scatter, tmp_path / "s.png")


def test_the_ledger_as_words_and_picture(compared, tmp_path):
    entries = [entry_of(compared), entry_of(compared)]
    score = score_ledger(entries)
    assert "sign of resolved differences foretold: 4 of 4" in text_of(compare_tables.ledger_view(score))
    assert compare_tables.ledger_document(score)["band_error"]["count"] == 6
    assert compare_tables.ledger_document(score_ledger([]))["sign_agreement"]["share"] is None
    figure = compare_plots.ledger_figure(entries)
    assert len(figure.axes) == 2
    save_figure(figure, tmp_path / "l.png")


def test_a_calibration_as_words_and_picture(made, tmp_path):
    text = " ".join(text_of(calibration_tables.calibration_view(made)).split())
    assert "on its high bound" in text
    assert "learnt" in text
    assert "never to score" in text
    assert "note: mind this" in text
    document = calibration_tables.calibration_document(made)
    assert document["unknowns"][1]["unit"] == "deg"
    assert document["pulls"][0]["sha256"] == "ab" * 32
    figure = calibration_plots.calibration_figure(made, "us")
    assert figure.axes[0].get_ylabel() == "torque, lb-ft"
    save_figure(figure, tmp_path / "k.png")
    assert made.alike == (("friction.factor", "burn.duration_10_90", -0.8),)


def test_they_render_themselves(compared, made):
    text = compared._repr_html_()
    assert "forecast not sealed" in text
    assert f"{compared.parts[1].percent.error:+.2f}" in text
    assert "friction" in made._repr_html_()
    assert "on its high bound" in made._repr_html_()


def test_a_comparison_a_calibration_and_a_record_are_reported(compared, made):
    from pullcast.show.report import report
    from pullcast.show.report.of_record import Record

    told = report(compared, made, Record("dyno.jsonl", (entry_of(compared),)))
    text = told.html()
    for must in ("order of 3 parts", "1.12", "not sealed", "Ledger of 1 comparison", "ab" * 32, "mind this"):
        assert must in text, must
