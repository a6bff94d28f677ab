import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullcast.cli.options import parse_cell, parse_speeds
from pullcast.cli.outputs import targets
from pullcast.errors import InputError


@pytest.mark.parametrize(("text", "speeds"), [
    ("1500:3000:500", [1500, 2000, 2500, 3000]),
    ("1500:2900:500", [1500, 2000, 2500]),
    ("2000", [2000]),
    ("4000,2000, 3000", [2000, 3000, 4000]),
    ("2000 3000;3000", [2000, 3000]),
])
def test_speeds(text, speeds):
    assert parse_speeds(text) == speeds


@given(st.integers(500, 5000), st.integers(1, 400), st.integers(0, 60))
def test_a_range_meets_its_last_speed(first, step, count):
    speeds = parse_speeds(f"{first}:{first + count * step}:{step}")
    assert len(speeds) == count + 1
    assert speeds[-1] == first + count * step


@pytest.mark.parametrize(("text", "what"), [
    ("0", "0 is not above zero"), ("-100", "-100 is not above zero"), ("nan", "nan is not above zero"),
    ("1000,inf", "inf is not above zero"), ("fast", "'fast' is not a number"), ("", "'' is not a number"),
    ("1000:2000", "a range needs first:last:step"), ("3000:1000:500", "the last speed is below the first"),
    ("1000:2000:0", "0 is not above zero"), ("1000:9000:0.001", "8000001 speeds are too many, at most 500"),
    ("1000:2000:100:5", "a range needs first:last:step"),
])
def test_wrong_speeds_say_what_fits(text, what):
    with pytest.raises(InputError) as caught:
        parse_speeds(text)
    assert what in str(caught.value)
    assert "1500:6500:500" in str(caught.value)


def test_cell():
    assert parse_cell("25 mm") == pytest.approx(0.025)
    assert parse_cell("1 in") == pytest.approx(0.0254)
    for text, what in (("25", "has no unit"), ("25 kg", "is a mass"), ("0.1 mm", "cells of 1 to 200 mm"),
                       ("1 m", "cells of 1 to 200 mm")):
        with pytest.raises(InputError, match=f"--cell.*{what}"):
            parse_cell(text)


def test_targets(tmp_path):
    card = tmp_path / "v8.toml"
    out = tmp_path / "out"
    assert [p.name for p in targets([out], card, False)] == ["v8.nc", "v8.csv", "v8.png"]
    assert [p.name for p in targets([out], card, True)][-1] == "v8_cycle.png"
    assert not out.exists()
    assert targets([tmp_path / "a.svg", tmp_path / "a.svg"], card, False) == [tmp_path / "a.svg"]


def test_wrong_targets(tmp_path):
    with pytest.raises(InputError, match=r"a folder, or a file ending in .*, not \.xlsx"):
        targets([tmp_path / "a.xlsx"], tmp_path / "v8.toml", False)
    with pytest.raises(InputError, match="there is no folder"):
        targets([tmp_path / "none" / "a.nc"], tmp_path / "v8.toml", False)
    (tmp_path / "plain").write_text("")
    with pytest.raises(InputError, match="is a file without a known ending"):
        targets([tmp_path / "plain"], tmp_path / "v8.toml", False)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_unwritable_folder(tmp_path):
    tmp_path.chmod(0o500)
    with pytest.raises(InputError, match="cannot be written to"):
        targets([tmp_path / "out"], tmp_path / "v8.toml", False)
