"""Session cards: read into SI, every fault listed at once with its line, the mapping kept once."""

import pytest

from pullcast.air import humidity_from_dew_point, station_pressure
from pullcast.errors import CardError, InputError
from pullcast.pulls.mapping import Column, Mapping
from pullcast.pulls.session_card import read_session
from pullcast.pulls.session_columns import remember_mapping

GOOD = """\
title = "demo"
source = "invented"

[session]
displacement = "2.0 L"
basis = "j1349"

[judge]
band = ["2500 rpm", "6000 rpm"]
window = "150 rpm"
refit = "0.4 %"

[parts]
A = "short"
B = "long"

[weather]
altitude = "300 m"
sea_level_pressure = "1015 hPa"
temperature = "68 degF"
dew_point = "12 degC"

[[run]]
part = "A"
file = "a.csv"

[[run]]
part = "B"
file = "b.csv"
weather = { temperature = "24 degC" }
lambda = 0.88

[[run]]
part = "B"
file = "c.csv"
refitted = true
exclude = "misfire heard"

[[run]]
part = "A"
file = "d.csv"
leave_out = { lines = [12, 13], reason = "cable touched" }
"""


@pytest.fixture
def card(tmp_path):
    def write(text):
        path = tmp_path / "day.toml"
        path.write_text(text, encoding="utf-8")
        return path
    return write


def problems(path):
    with pytest.raises(CardError) as caught:
        read_session(path)
    return [str(p) for p in caught.value.problems]


def test_a_good_card_reads_into_si(card):
    s = read_session(card(GOOD))
    assert s.sequence == "A-B-B-A"
    assert [r.fit for r in s.runs] == [1, 2, 3, 4]
    assert s.rules.band == (2500.0, 6000.0)
    assert s.rules.refit == pytest.approx(0.004)
    assert s.displacement == pytest.approx(2e-3)
    air = s.runs[0].weather
    assert air.pressure == pytest.approx(station_pressure(101500.0, 300.0))
    assert air.temperature == pytest.approx(293.15)
    assert air.humidity == pytest.approx(humidity_from_dew_point(293.15, 285.15))
    assert s.runs[1].weather.temperature == pytest.approx(297.15)
    assert s.runs[1].weather.pressure == air.pressure
    assert s.runs[1].state == {"lambda": 0.88}
    assert s.runs[2].excluded == "misfire heard"
    assert s.runs[3].leave_out == (12, 13)
    assert "A-B-B-A, 4 pulls, 1 excluded, recorded observed, basis j1349" in repr(s)


def test_all_faults_at_once_with_lines(card):
    bad = GOOD.replace('basis = "j1349"', 'basis = "j1394"').replace('window = "150 rpm"', "window = 150") \
        .replace("refitted", "refited").replace('"misfire heard"', '""') \
        .replace('part = "A"\nfile = "d', 'part = "C"\nfile = "d')
    got = "\n".join(problems(card(bad)))
    assert "day.toml:6: session.basis: 'j1394' is not known. Did you mean 'j1349'?" in got
    assert "day.toml:10: judge.window: 150 has no unit" in got
    assert "run.3.refited: is not a key of a session card. Did you mean 'refitted'?" in got
    assert "run.3.exclude: is empty. An exclusion needs its reason, in words." in got
    assert "run.4.part: 'C' is not one of the [parts]. Known: A, B." in got
    assert len(got.splitlines()) == 5


FAULTS = [
    ('file = "a.csv"', 'file = "/etc/a.csv"', "does not lie beside the card"),
    ('file = "a.csv"', 'file = "../../a.csv"', "does not lie beside the card"),
    ('file = "a.csv"', "", "has neither a file nor peaks"),
    ('file = "a.csv"', 'file = "a.csv"\npeak_power = "100 kW"', "has both a file and peaks"),
    ('dew_point = "12 degC"', "", "does not say how moist the air is. Give one of humidity"),
    ('dew_point = "12 degC"', 'dew_point = "12 degC"\nhumidity = "40 %"', "says the moisture 2 times"),
    ('dew_point = "12 degC"', 'dew_point = "25 degC"', "which is which"),
    ('altitude = "300 m"', "", "needs the station pressure and the temperature"),
    ('band = ["2500 rpm", "6000 rpm"]', 'band = ["6000 rpm", "2500 rpm"]', "is not below"),
    ('band = ["2500 rpm", "6000 rpm"]', "band = 3000", "is not a pair"),
    ("lines = [12, 13], reason", "lines = [12, 13], why", "needs lines and a reason"),
    ('refit = "0.4 %"', 'refit = "40 %"', "is outside 0 to 0.2"),
    ("[session]", '[session]\nbaseline = "Z"', "no run has the part 'Z'"),
]


@pytest.mark.parametrize(("old", "new", "text"), FAULTS)
def test_faults_are_named(card, old, new, text):
    assert old in GOOD
    assert any(text in p for p in problems(card(GOOD.replace(old, new))))


def test_no_weather_at_all_for_a_basis(card):
    start, end = GOOD.index("[weather]"), GOOD.index("[[run]]")
    bare = (GOOD[:start] + GOOD[end:]).replace('weather = { temperature = "24 degC" }\n', "")
    got = problems(card(bare))
    assert "has no weather, which basis 'j1349' needs" in got[0]
    assert read_session(card(bare.replace('"j1349"', '"observed"'))).runs[0].weather is None


def test_broken_toml_missing_file_and_folder(card, tmp_path):
    assert "day.toml:2: not valid TOML" in problems(card('title = "a"\nband = 200 rpm\n'))[0]
    assert "no such file" in problems(tmp_path / "none.toml")[0]
    assert "is a folder" in problems(tmp_path)[0]
    assert "no runs are listed" in "\n".join(problems(card('title = "a"\n')))


def test_the_mapping_is_kept_once_and_read_back(card):
    path = card(GOOD)
    mapping = Mapping({"rpm": Column("n \"1\"", "rpm"), "torque": Column(3, "lb-ft")}, "semicolon", ",")
    remember_mapping(path, mapping)
    assert path.read_text(encoding="utf-8").startswith(GOOD.rstrip())
    assert read_session(path).mapping == mapping
    with pytest.raises(InputError, match=r"already holds \[columns\]"):
        remember_mapping(path, mapping)
    assert [p.name for p in path.parent.iterdir()] == ["day.toml"]


def test_a_mapping_names_known_channels_only(card):
    text = GOOD + '\n[columns]\nrmp = "RPM"\ntorque = { column = "T", units = "Nm" }\n'
    got = "\n".join(problems(card(text)))
    assert "columns.rmp: is not a key of a session card. Did you mean 'rpm'?" in got
    assert "columns.torque.units: is not a key of a session card. Did you mean 'unit'?" in got
