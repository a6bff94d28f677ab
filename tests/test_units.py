import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast import units
from pullcast.errors import InputError


@pytest.mark.parametrize(("text", "kind", "value"), [
    ("4 in", "length", 0.1016), ("86.0 mm", "length", 0.086), ("2.05 in2", "area", 2.05 * 0.0254**2),
    ("58 cc", "volume", 58e-6), ("350 in3", "displacement", 350 * 0.0254**3), ("68 F", "temperature", 293.15),
    ("20 °C", "temperature", 293.15), ("1.5 inHg", "pressure", 5079.5835), ("28 inH2O", "pressure", 6974.48948),
    ("14.5 psi", "pressure", 99973.98), ("10.5:1", "fraction", 10.5), ("40 %", "fraction", 0.4), (0.87, "fraction",
                                                                                                  0.87),
    ("1 lb-ft", "torque", 1.3558179483314004), ("1 hp", "power", 745.6998715822702), ("100 cfm", "volume flow",
                                                                                      0.0471947443),
    ("300 g/kWh", "bsfc", 300e-3 / 3.6e6), ("0.5 lb/hp-h", "bsfc", 0.5 * 0.45359237 / (745.6998715822702 * 3600)),
    ("-5 deg", "angle", -5.0), ("6500 rpm", "rotational speed", 6500.0), ("1 kg m2", "inertia", 1.0),
    ("2 yard", "length", 1.8288), ("3 slug", "mass", 43.78171), ("\N{MINUS SIGN}2 mm", "length", -0.002),
])
def test_reads(text, kind, value):
    assert units.to_si(text, kind) == pytest.approx(value, rel=2e-6)


@pytest.mark.parametrize(("text", "kind", "words"), [
    ("86 kg", "length", '"86 kg" is a mass; a length fits: mm, cm, in'),
    ("86", "length", '"86" has no unit; a length fits'), (86, "length", "86 has no unit"),
    ("86 foo", "length", "unit 'foo' is not known"), ("nan mm", "length", "does not start with a number"),
    ("1e999 mm", "length", "not a finite number"), (float("nan"), "fraction", "not a finite number"),
    (True, "fraction", "True is not a value"), ("", "length", "does not start with a number"),
    ("3 parsec", "mass", "is a length; a mass fits"), ("12 V", "length", "is a quantity of another kind"),
    ("1 mm", "colour", "no quantity 'colour'"), ("3 __import__('os')", "length", "is not known"),
])
def test_refuses(text, kind, words):
    with pytest.raises(InputError) as e:
        units.to_si(text, kind)
    assert words in str(e.value)


@pytest.mark.parametrize(("text", "inches"), [("5 1/2 in", 5.5), ("5-1/2 in", 5.5), ("7/8 in", 0.875),
                                            ("-1 1/4in", -1.25), ("1 15/16 in", 1.9375)])
def test_fractions_of_an_inch(text, inches):
    assert units.to_si(text, "length") == pytest.approx(inches * 0.0254)


@pytest.mark.parametrize("text", ["5 3/2 in", "1/0 in", "5/16/2 in", "1 1/2 1/2 in", "1/2/ in"])
def test_what_is_no_fraction_is_refused(text):
    with pytest.raises(InputError, match="is not known"):
        units.to_si(text, "length")


def test_a_bar_in_a_unit_is_no_fraction():
    assert units.to_si("6500 1/min", "rotational speed") == 6500.0


def test_table_agrees_with_pint():
    registry = units._registry()
    names = {"inch": "inch", "in": "inch", "thou": "thou", "cc": "cm**3", "psi": "psi", "mbar": "mbar",
             "hp": "horsepower",
             "PS": "metric_horsepower", "cfm": "foot**3/minute", "lb/h": "pound/hour", "mph": "mile/hour",
             "oz": "ounce",
             "lb ft2": "pound*foot**2", "lb-ft": "pound_force*foot", "inHg": "inch_Hg",
             "lb/hp-h": "pound/horsepower/hour", "atm": "atm", "lbf/in": "pound_force/inch"}
    for ours, theirs in names.items():
        kind, factor, _ = units._TABLE[ours]
        there = registry.Quantity(1.0, theirs).to(units.QUANTITIES[kind].internal).magnitude
        assert factor == pytest.approx(there, rel=3e-6), ours


def test_every_display_unit_goes_back():
    for name in units.QUANTITIES:
        for system in ("si", "us"):
            value = units.from_si(300.0, name, system)
            label = units.unit_label(name, system)
            back = value if label == "-" else units.to_si(f"{value!r} {label}", name)
            assert back == pytest.approx(300.0, rel=1e-12), (name, system)


@given(st.floats(1e-6, 1e6), st.sampled_from(["mm", "cm", "in", "ft", "m"]))
def test_scale_is_linear(number, unit):
    assert units.to_si(f"{number!r} {unit}", "length") == pytest.approx(number * units.to_si(f"1 {unit}", "length"),
                                                                        rel=1e-12)


@pytest.mark.parametrize("value", ["0.1 0.2 0.3 in", "0.1, 0.2, 0.3 in", ["0.1 in", "0.2 in", "7.62 mm"],
                                   {"unit": "in", "values": [0.1, 0.2, 0.3]}])
def test_series(value):
    assert units.series_to_si(value, "length") == pytest.approx((0.00254, 0.00508, 0.00762))


@pytest.mark.parametrize(("value", "words"), [
    ("1 2 3", "has no unit"), ("1 2 3 kg", "is a mass"), (3, "is not a series"),
    ("mm", "does not start with a number")])
def test_series_refuses(value, words):
    with pytest.raises(InputError, match=words):
        units.series_to_si(value, "length")


def test_temperature_difference_has_no_offset():
    assert units.to_si("9 F", "temperature difference") == pytest.approx(5.0)
    assert units.from_si(5.0, "temperature difference", "us") == pytest.approx(9.0)


def test_pint_is_loaded_only_for_uncommon_units():
    code = ("import sys; from pullcast.units import to_si; to_si('4 in', 'length'); a = 'pint' in sys.modules; "
            "to_si('2 yard', 'length'); print(a, 'pint' in sys.modules)")
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.split() == ["False", "True"]
