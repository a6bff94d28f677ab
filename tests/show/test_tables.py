import io

import pytest
from rich.console import Console

from pullcast.show.tables import curve_view


def printed(view, width=80):
    console = Console(file=io.StringIO(), width=width, highlight=False)
    console.print(view)
    return console.file.getvalue()


@pytest.mark.parametrize("units", ["si", "us"])
def test_tables_fit_eighty_columns_uncut(sample_curve, units):
    text = printed(curve_view(sample_curve(speeds=(1500, 4000, 12000)), units))
    assert "…" not in text
    assert max(map(len, text.splitlines())) <= 80


def test_numbers_and_units(sample_curve):
    curve = sample_curve()
    text = printed(curve_view(curve, "us"))
    assert f"{curve.dataset['torque'].values[0] / 1.3558179483:.1f}" in text
    assert "lb-ft" in text
    assert "hp" in text
    assert "1.1800 kg/m3" in text
    assert "mass closes to 1e-13 and energy to 1e-09" in text
    assert "A planning estimate" in text


def test_cylinders_are_reduced_to_highest_or_mean(sample_curve):
    curve = sample_curve(speeds=(3000,))
    curve.dataset["knock_integral"].values[0] = [0.5, 0.6, 0.99, 0.5]
    curve.dataset["residual_fraction"].values[0] = [0.02, 0.04, 0.06, 0.08]
    text = printed(curve_view(curve))
    assert "0.99" in text
    assert " 5.0 " in text


def test_points_that_did_not_converge_are_marked(sample_curve):
    text = printed(curve_view(sample_curve(failed=(1,))))
    assert "3000*" in text
    assert "* 3000 rpm: broke down at 131.5 deg crank, in primary 3" in text
    assert "nan" not in text
    assert "–" in text


def test_columns_without_numbers_are_left_out(sample_curve):
    curve = sample_curve()
    assert "inj duty" in printed(curve_view(curve, full=True))
    curve.dataset["injector_duty"].values[:] = float("nan")
    assert "inj duty" not in printed(curve_view(curve, full=True))


def test_the_correction_is_explained(sample_curve):
    text = printed(curve_view(sample_curve().corrected(1.0123, "j1349", "J1349: the formula")))
    assert "corrected to J1349 (factor 1.0123)" in text
    assert "J1349: the formula" in text


def test_a_spark_that_would_knock_is_said(sample_curve):
    curve = sample_curve()
    curve.dataset["knock_integral"].values[:] = 0.5
    assert "would knock" not in printed(curve_view(curve))
    curve.dataset["knock_integral"].values[0, 1] = 1.3
    text = " ".join(printed(curve_view(curve)).split())
    assert "the integral passes 1 at" in text
    assert "the engine would knock there" in text
