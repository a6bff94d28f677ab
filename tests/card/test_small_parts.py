"""Doctests, line index, throttle, starters, compression, day, derived numbers."""

import doctest
import importlib
import itertools
import math
import re
import tomllib

import pytest

from pullcast import sources, units
from pullcast.card import bench, read_engine, read_engine_text
from pullcast.card.checks import checks
from pullcast.card.classes import CLASSES
from pullcast.card.derived import derived
from pullcast.card.starter import starter
from pullcast.card.throttle import plate_area, plate_fraction, rated_area
from pullcast.errors import InputError
from pullcast.sheets.lines import find_line, line_index


@pytest.mark.parametrize("name", ["units", "sources", "card.bench", "card.throttle", "card.derived",
    "card.weather_fuel"])
def test_doctests(name):
    result = doctest.testmod(importlib.import_module(f"pullcast.{name}"))
    assert result.attempted > 0
    assert result.failed == 0


def test_line_index():
    text = ('a = 1\n[t]\nb.c = "x = [ {"\nd = """\ne = 5\n"""\nf = [\n  1,\n]\n[[p]]\nn = 1\n[p.q]\nr = 2\n[[p]]\n'
            'n = {m = 1}\n'
            '"odd key" = 3 # [x]\n')
    tomllib.loads(text)
    index = line_index(text)
    want = {("a",): 1, ("t",): 2, ("t", "b", "c"): 3, ("t", "d"): 4, ("t", "f"): 7, ("p", 0): 10, ("p", 0, "n"): 11,
            ("p", 0, "q", "r"): 13, ("p", 1): 14, ("p", 1, "n", "m"): 15, ("p", 1, "odd key"): 16}
    assert {k: index.get(k) for k in want} == want
    assert ("t", "e") not in index
    assert find_line(index, ("p", 1, "n", "none")) == 15
    assert find_line(index, ("zzz",)) is None


def test_plate_opens_steadily_to_what_the_shaft_leaves():
    shares = [plate_fraction(0.05, 0.008, 5.0, a) for a in range(91)]
    assert shares[:6] == [0.0] * 6
    assert all(b >= a for a, b in itertools.pairwise(shares))
    chord = 1 - 2 / math.pi * (0.16 * math.sqrt(1 - 0.16**2) + math.asin(0.16))  # circle less a strip
    assert shares[-1] == pytest.approx(chord)
    assert plate_area(0.05, 0.0, 0.0, 90.0) == pytest.approx(math.pi / 4 * 0.05**2)


def test_bench_ideal_and_rating_agree():
    drop = 20.39 * units.WATER_INCH
    flow = units.to_si("750 cfm", "volume flow")
    assert rated_area(flow, drop) == pytest.approx(flow / bench.ideal_velocity(drop), rel=1e-12)
    assert 0.0471947443 / bench.ideal_velocity(28 * units.WATER_INCH) * 1e6 == pytest.approx(459.10,
        abs=0.02)  # 100 CFM
    assert 0.0471947443 / bench.limit_velocity(28 * units.WATER_INCH) * 1e6 == pytest.approx(441.85, abs=0.02)


def leaves(table):
    return sum(leaves(v) if isinstance(v, dict) else 1 for v in table.values())


@pytest.mark.parametrize("name", CLASSES)
def test_starter_reads_without_a_finding(name):
    text = starter(name)
    assert [f for f in checks(read_engine_text(text, "/", "starter")) if f.level != "note"] == []
    assert leaves(tomllib.loads(text)) - len(("name", "class", "source")) <= 15


@pytest.mark.parametrize("name", CLASSES)
def test_every_commented_key_of_a_starter_is_valid(name):
    text = re.sub(r"(?m)^# (?=[a-z_0-9]+ = |\[[a-z]+\]$)", "", starter(name))
    assert leaves(tomllib.loads(text)) > leaves(tomllib.loads(starter(name))) + 20
    read_engine_text(text, "/", "starter")


def test_starter_of_no_class():
    with pytest.raises(InputError, match="Did you mean car_four_4v"):
        starter("car_four")


def test_source_records():
    assert str(sources.cite("harrington_bolt_1970")) == "Harrington & Bolt 1970, SAE 700082 (from memory)"
    with pytest.raises(InputError, match="no source 'x'"):
        sources.cite("x")


def test_ratio_from_volumes(configs):
    b = read_engine(configs / "engines" / "club_four.toml").block
    gasket, deck = math.pi / 4 * 8.6**2 * 0.08, math.pi / 4 * 8.5**2 * 0.02
    clearance = 46.0 - 2.0 + gasket + deck
    assert b.compression_ratio == pytest.approx(1 + b.swept_volume * 1e6 / clearance, rel=1e-12)


DAY = 'name = "x"\nclass = "twin"\n[block]\nbore = "90 mm"\nstroke = "90 mm"\n[day]\n'


def test_station_pressure_from_barometer_and_altitude():
    day = read_engine_text(DAY + 'sea_level_pressure = "1013.25 hPa"\naltitude = "300 m"\n', "/").day
    assert day.pressure == pytest.approx(97773, abs=2)
    with pytest.raises(InputError, match="needs the altitude"):
        read_engine_text(DAY + 'sea_level_pressure = "1013.25 hPa"\n', "/")


def test_derived_numbers_by_hand(configs):
    found = {d.name: d for d in derived(read_engine(configs / "engines" / "hillclimb_v8.toml"))}
    assert found["displacement"].value == pytest.approx(8 * math.pi / 4 * 4.04**2 * 3.5 * 0.0254**3)
    assert found["mean piston speed at the limit"].value == pytest.approx(2 * 3.5 * 0.0254 * 6500 / 60)
    assert found["overlap at 0.15 mm (0.006 in) tappet lift"].value == pytest.approx((268 + 276) / 2 - 2 * 111)
    assert found["advance"].value == pytest.approx(4.0)
    assert found["intake events at 1.27 mm (0.050 in) tappet lift"].value == "1 BTDC to 35 ABDC"
    assert found["intake tract from the valve"].value == pytest.approx((5.3 + 5.1) * 0.0254)
    assert found["primary / exhaust port area"].value == pytest.approx(math.pi / 4 * 1.652**2 / 1.72)
    for d in found.values():
        if d.unit_quantity:
            assert math.isfinite(units.from_si(d.value, d.unit_quantity, "us"))


def test_engelman_number_of_the_literature():
    """c 1125 ft/s, A 2.5 in2, L 12 in, V 43.75 in3, ratio 10 give 5417 rpm (Engelman 1973, from memory)."""
    speed = 162 / 2.1 * 1125 * math.sqrt(2.5 / (12 * 43.75)) * math.sqrt(9 / 11)
    assert speed == pytest.approx(5417, abs=1)
