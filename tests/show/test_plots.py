import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.errors import InputError, StoreError
from pullcast.results.variables import variable
from pullcast.show import look, plots
from pullcast.show.cycle_plots import FIRST, cycle_figure, unrolled


def texts(figure):
    return [t.get_text() for ax in figure.axes for t in ax.texts] + [t.get_text() for t in figure.texts]


@pytest.mark.parametrize(("units", "torque", "power"), [("si", "N m", "kW"), ("us", "lb-ft", "hp")])
def test_curve_figure_says_what_it_shows(sample_curve, units, torque, power):
    curve = sample_curve()
    figure = plots.curve_figure(curve, units)
    labels = [ax.get_ylabel() for ax in figure.axes]
    assert f"torque, {torque}" in labels
    assert f"power, {power}" in labels
    peak = float(variable("torque").convert(curve.peak_torque.value, units))
    assert f"{peak:.0f} {torque} at {curve.peak_torque.rpm:.0f}" in texts(figure)
    assert any("observed at" in t for t in texts(figure))
    assert any("kg/m3" in t for t in texts(figure))


def test_lines_are_the_numbers(sample_curve):
    curve = sample_curve()
    figure = plots.curve_figure(curve, "us")
    line = figure.axes[0].get_lines()[0]
    np.testing.assert_allclose(line.get_ydata(), curve.dataset["torque"].values / 1.3558179483, rtol=1e-9)
    np.testing.assert_allclose(line.get_xdata(), curve.speeds)


def test_points_that_did_not_converge_are_left_out_and_counted(sample_curve):
    curve = sample_curve(failed=(1,))
    curve.dataset["torque"].values[1] = 999.0
    figure = plots.curve_figure(curve)
    assert np.isnan(figure.axes[0].get_lines()[0].get_ydata()[1])
    assert any("Left out: 1 of 5 points, not converged" in t for t in texts(figure))


@pytest.mark.parametrize("failed", [(0, 1, 2, 3, 4), (0, 1, 2, 3)])
def test_hardly_anything_to_draw(sample_curve, failed, tmp_path):
    assert look.save_figure(plots.curve_figure(sample_curve(failed=failed)), tmp_path / "a.png").stat().st_size > 0


def test_both_axes_share_their_grid(sample_curve):
    figure = plots.curve_figure(sample_curve())
    left, right = (ax for ax in figure.axes if ax.get_ylabel().startswith(("torque", "power")))
    assert len(left.get_yticks()) == len(right.get_yticks())
    assert left.get_ylim()[0] == right.get_ylim()[0] == 0.0


@given(st.lists(st.floats(1e-3, 1e6), min_size=1, max_size=3))
def test_common_steps_reach_every_top(tops):
    steps, count = look.common_steps(tops)
    assert 5 <= count <= 9
    for step, top in zip(steps, tops, strict=True):
        assert top <= step * count * 1.00001
        assert step * count <= 2.0 * top


def test_a_corrected_picture_says_what_is_observed(sample_curve):
    figure = plots.curve_figure(sample_curve().corrected(1.02, "std"))
    assert "BMEP corrected, the others observed" in texts(figure)


@pytest.mark.parametrize(("kind", "magic"), [(".png", b"\x89PNG"), (".svg", b"<?xml"), (".pdf", b"%PDF")])
def test_saving(sample_curve, tmp_path, kind, magic):
    path = look.save_figure(plots.curve_figure(sample_curve()), tmp_path / f"a{kind}")
    assert path.read_bytes().startswith(magic)
    assert [p.name for p in tmp_path.iterdir()] == [f"a{kind}"]


def test_saving_refuses(sample_curve, tmp_path):
    figure = plots.curve_figure(sample_curve())
    with pytest.raises(InputError, match=r"saved as \.png, \.svg, \.pdf, not \.jpg"):
        look.save_figure(figure, tmp_path / "a.jpg")
    with pytest.raises(StoreError, match="cannot be written"):
        look.save_figure(figure, tmp_path / "none" / "a.png")


def test_axes_can_be_given(sample_curve):
    from matplotlib.figure import Figure

    ax = Figure().subplots()
    assert plots.volumetric_efficiency(sample_curve(), ax) is ax
    assert ax.get_ylabel() == "volumetric\nefficiency, %"


def test_cycle_figure(sample_curve):
    figure = cycle_figure(sample_curve(traces=True, failed=(2,)), 4000, cylinder=3, units="us")
    assert any("cylinder 3 at 3000 rpm" in t or "cylinder 3 at 5000 rpm" in t for t in texts(figure))
    assert figure.axes[0].get_ylabel() == "valve lift, in"


def test_a_cycle_is_drawn_from_firing_to_firing(sample_curve):
    values = np.arange(720.0)
    angle, shown = unrolled(values, variable("intake_port_mach"), "si")
    assert (angle[0], angle[-1]) == (FIRST, FIRST + 720)
    assert shown[[0, 359, 360, -1]].tolist() == [360.0, 719.0, 0.0, 360.0]


def test_cycle_figure_refuses(sample_curve):
    with pytest.raises(InputError, match="holds no traces: predict with traces=True"):
        cycle_figure(sample_curve(), 4000)
    with pytest.raises(InputError, match="no cylinder 9: this engine has 1 to 4"):
        cycle_figure(sample_curve(traces=True), 4000, cylinder=9)
    with pytest.raises(InputError, match="no speed of this curve converged"):
        cycle_figure(sample_curve(traces=True, failed=(0, 1, 2, 3, 4)), 4000)
