"""Twenty-odd invented pull files as people hand them over: read right, or refused with the line and the reason."""

import hashlib
import math

import numpy as np
import pytest

from pullcast.errors import InputError
from pullcast.pulls.mapping import Column, Mapping
from pullcast.pulls.reading import guess_mapping, read_pull

LBFT, HP, PS = 1.3558179483314, 745.6998715823, 735.49875
RPM = np.arange(2500.0, 6001.0, 50.0)


def torque(rpm):
    """The invented truth in N m: a smooth hump about 4300 rpm."""
    return 430.0 - 60.0 * ((np.asarray(rpm) - 4300.0) / 1800.0) ** 2


def power(rpm):
    return torque(rpm) * np.asarray(rpm) * math.pi / 30.0


def rows(*columns, sep=",", fmt="{:.2f}"):
    return [sep.join(fmt.format(v) for v in row) for row in zip(*columns, strict=True)]


@pytest.fixture
def store(tmp_path):
    """Write a file; whatever a test does with it, its bytes are the same afterwards and nothing lies beside it."""
    kept = {}

    def write(lines, name="pull.csv", encoding="utf-8", end="\n"):
        path = tmp_path / name
        path.write_bytes(end.join(lines).encode(encoding))
        kept[path] = hashlib.sha256(path.read_bytes()).hexdigest()
        return path

    yield write
    assert {p: hashlib.sha256(p.read_bytes()).hexdigest() for p in kept} == kept
    assert not kept or {p for p in tmp_path.iterdir() if p.is_file()} == set(kept)


def comma(lines):
    return [s.replace(".", ",") for s in lines]


def plain():
    return ["RPM,Torque (Nm)", *rows(RPM, torque(RPM))]


GOOD = {
    "plain SI": (plain(), {}),
    "tabs, US units, CRLF": (["RPM\tTq lbft\tHP", *rows(RPM, torque(RPM) / LBFT, power(RPM) / HP, sep="\t")],
                             {"end": "\r\n"}),
    "semicolons and decimal commas": (["Drehzahl;Drehmoment Nm;Leistung PS",
                                       *comma(rows(RPM, torque(RPM), power(RPM) / PS, sep=";"))], {}),
    "preamble, two header rows, unit row": (
        ["Kestrel Hill Climb Club, bay 2", "date: 12 May", "", "Engine,Brake,Air",
         "Speed,Torque,Temp", "(1/min),(N.m),(C)", *rows(RPM, torque(RPM), 0 * RPM + 21.5)], {}),
    "UTF-16 with mark": (plain(), {"encoding": "utf-16"}),
    "UTF-16 without mark": (plain(), {"encoding": "utf-16-le"}),
    "UTF-8 with mark": (plain(), {"encoding": "utf-8-sig"}),
    "Western code page": (["RPM;Torque Nm;Oil Temp °C", *comma(rows(RPM, torque(RPM), 0 * RPM + 92.0, sep=";"))],
                          {"encoding": "cp1252"}),
    "units told by physics alone": (["rpm,torque,power", *rows(RPM, torque(RPM) / LBFT, power(RPM) / HP)], {}),
    "power only": (["Engine Speed,Power kW", *rows(RPM, power(RPM) / 1e3)], {}),
    "krpm": (["RPM x1000,Torque Nm", *rows(RPM / 1e3, torque(RPM), fmt="{:.3f}")], {}),
    "units inside the cells": (["Speed (rpm),Torque", *[f"{n:.0f} rpm,{t:.1f} Nm" for n, t in
                                                        zip(RPM, torque(RPM), strict=True)]], {}),
    "thousands marks in quotes": (["RPM,Torque Nm", *[f'"{n:,.0f}",{t:.1f}' for n, t in
                                                      zip(RPM, torque(RPM), strict=True)]], {}),
    "blanks as columns": (["rpm   Nm", *rows(RPM, torque(RPM), sep="   ")], {}),
    "bars": (["RPM | Tq Nm | Lambda", *rows(RPM, torque(RPM), 0 * RPM + 0.87, sep=" | ")], {}),
    "corrected beside observed": (["RPM,Corr Torque Nm,Obs Torque Nm", *rows(RPM, 1.03 * torque(RPM), torque(RPM))],
                                  {}),
    "clock times and words in other columns": (
        ["Time,RPM,Torque Nm,Remark", *[f"10:{i // 60:02d}:{i % 60:02d},{n:.0f},{t:.1f},ok" for i, (n, t) in
                                        enumerate(zip(RPM, torque(RPM), strict=True))]], {}),
    "trailing delimiters and blank lines": (
        ["RPM,Torque Nm,", *[s + "," for s in rows(RPM, torque(RPM))], "", ""], {}),
}


@pytest.mark.parametrize("name", GOOD)
def test_read_right(store, name):
    lines, how = GOOD[name]
    path = store(lines, **how)
    before = hashlib.sha256(path.read_bytes()).hexdigest()
    pull = read_pull(path)
    assert pull.rpm.size == RPM.size
    assert pull.rpm == pytest.approx(RPM, abs=1.0)
    assert pull.torque == pytest.approx(torque(RPM), rel=2e-3)
    assert pull.sha256 == before == hashlib.sha256(path.read_bytes()).hexdigest()


def test_extra_channels_come_in_si(store):
    lines = ["RPM,Tq lbft,Baro inHg,Air Temp F,RH %,AFR,Oil T C,TPS",
             *rows(RPM, torque(RPM) / LBFT, *(0 * RPM + v for v in (29.1, 77.0, 45.0, 12.6, 90.0, 99.0)))]
    got = read_pull(store(lines)).channels
    assert got["station_pressure"][0] == pytest.approx(29.1 * 3386.389)
    assert got["intake_temperature"][0] == pytest.approx(298.15)
    assert got["humidity"][0] == pytest.approx(0.45)
    assert got["air_fuel_ratio"][0] == pytest.approx(12.6)
    assert "oil_temperature" in got


def test_missing_cells_are_left_out_and_told(store):
    lines = plain()
    for i, gap in ((5, ""), (9, "n/a"), (20, "---")):
        lines[i] = f"{RPM[i - 1]:.0f},{gap}"
    pull = read_pull(store(lines))
    assert pull.rpm.size == RPM.size - 3
    assert any("3 rows left out (lines 6, 10, 21)" in n for n in pull.notes)


def test_blips_are_left_out_and_told(store):
    lines = plain()
    lines[30] = f"{RPM[29]:.0f},9999.0"
    lines[41] = f"{RPM[40] + 1900:.0f},{torque(RPM[40]):.1f}"
    pull = read_pull(store(lines))
    assert pull.torque.max() < 431.0
    assert any("blips: 2 rows left out (lines 31, 42)" in n for n in pull.notes)


def test_a_real_cliff_is_no_blip(store):
    value = torque(RPM) - np.where(RPM > 5500.0, 80.0, 0.0)
    pull = read_pull(store(["RPM,Nm", *rows(RPM, value)]))
    assert pull.rpm.size == RPM.size


def test_duplicated_speeds_are_averaged(store):
    n = np.repeat(RPM, 2)
    t = torque(n) + np.tile([2.0, -2.0], RPM.size)
    pull = read_pull(store(["RPM,Nm", *rows(n, t)]), kind="sweep")
    assert pull.torque == pytest.approx(torque(RPM), abs=0.02)
    assert any("samples at a repeated speed averaged: 71" in n for n in pull.notes)


def test_reversed_sweep(store):
    pull = read_pull(store(["RPM,Nm", *rows(RPM[::-1], torque(RPM)[::-1])]))
    assert pull.rpm == pytest.approx(RPM)
    assert any("from high to low" in n for n in pull.notes)


def test_sweep_that_turns_round_keeps_the_pull(store):
    n = np.concatenate([RPM, RPM[::-2]])
    t = np.concatenate([torque(RPM), 0 * RPM[::-2] - 35.0])
    pull = read_pull(store(["RPM,Nm", *rows(n, t)]))
    assert pull.torque.min() > 300.0
    assert any("turns round at line" in n for n in pull.notes)


def test_steady_points_are_told_from_a_sweep(store):
    rng = np.random.default_rng(3)
    n = np.repeat(np.arange(2500.0, 6001.0, 500.0), 12) + rng.normal(0, 3, 96)
    pull = read_pull(store(["RPM,Nm", *rows(n, torque(n) + rng.normal(0, 1, 96))]))
    assert pull.kind == "steady"
    assert pull.rpm == pytest.approx(np.arange(2500.0, 6001.0, 500.0), abs=5)
    assert pull.torque == pytest.approx(torque(pull.rpm), abs=2.0)


def test_clock_gives_the_sweep_rate(store):
    t = (RPM - RPM[0]) / 300.0
    pull = read_pull(store(["Time (s),RPM,Nm", *rows(t, RPM, torque(RPM), fmt="{:.4f}")]))
    assert pull.acceleration == pytest.approx(300.0 + 0 * RPM, rel=1e-3)


BAD = {
    "empty": ([""], "the file is empty"),
    "headings only": (["RPM,Torque Nm"], "no rows with two or more numbers"),
    "one row": (["RPM,Torque Nm", "4000,400"], "only 1 different speed left"),
    "letter in a number": ([*plain()[:8], "2850,42O.5", *plain()[9:]], r"pull\.csv:9: '42O\.5' in column 'Torque"),
    "a word in a torque cell": (
        [*plain()[:8], "2850,trip", *plain()[9:]], r"pull\.csv:9: column 'Torque.*holds text"),
    "comma twice over": (["RPM,Torque Nm", *[s.replace(".", ",") for s in rows(RPM, torque(RPM), fmt="{:.1f}")]],
                         r":1: the headings name 2 columns but the rows below have 4: decimal commas"),
    "no unit for torque": (["RPM,Torque", *rows(RPM, torque(RPM))], "torque but in which unit"),
    "units that contradict": (["RPM,Torque Nm,Power kW", *rows(RPM, torque(RPM) / LBFT, power(RPM) / 1e3)],
                              "contradict each other.*lbft with kW"),
    "no speed": (["Torque Nm,Lambda", *rows(torque(RPM), 0 * RPM + 0.9)], "no column is named like engine speed"),
    "no headings": (rows(RPM, torque(RPM)), "no column is named like engine speed"),
    "too many gaps": (["RPM,Torque Nm", *[f"{n:.0f},{'' if i % 2 else 400}" for i, n in enumerate(RPM)]],
                      "too many to mend"),
    "spoilt log": (["RPM,Torque Nm", *[f"{n:.0f},{9000 if i % 7 == 0 else 400}" for i, n in enumerate(RPM)]],
                   "too spoilt"),
    "a shorter log with a long row": ([*plain()[:5], "2700,400,12,13", *plain()[6:]], r":6: 4 cells where .* have 2"),
    "speed out of reason": (["RPM,Torque Nm", *rows(RPM / 50, torque(RPM))], "300 to 25000 is expected"),
    "two pulls below each other": (["RPM,Torque Nm", *rows(RPM, torque(RPM)), *rows(RPM + 5, torque(RPM))],
                                   ":73: speed jumps from 6000 to 2505 rpm .* two pulls in one file"),
    "two pulls side by side": (["RPM,Nm,RPM,Nm", *rows(RPM, torque(RPM), RPM, torque(RPM))],
                               "columns 1 and 3 are all named 'RPM': several pulls side by side"),
    "prose": (["dear all,", "the pull went well", "see you on Sunday"], "no rows with two or more numbers"),
}


@pytest.mark.parametrize("name", BAD)
def test_refused_with_a_reason(store, name):
    lines, text = BAD[name]
    with pytest.raises(InputError, match=text):
        read_pull(store(lines))


def test_binary_folder_and_missing(store, tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(bytes(range(256)) * 8)
    with pytest.raises(InputError, match="no text file"):
        read_pull(path)
    with pytest.raises(InputError, match="is a folder"):
        read_pull(tmp_path)
    with pytest.raises(InputError, match=r"no such file\. Beside it: log\.csv"):
        read_pull(tmp_path / "lag.csv")


def test_a_kept_mapping_reads_what_the_guess_refuses(store):
    path = store(rows(RPM, torque(RPM) / LBFT))
    mapping = Mapping({"rpm": Column(1, "rpm"), "torque": Column(2, "lb-ft")})
    assert read_pull(path, mapping).torque == pytest.approx(torque(RPM), rel=1e-3)
    named = store(["n1,moment", *rows(RPM, torque(RPM))], "b.csv")
    wrong = Mapping({"rpm": Column("n1", "rpm"), "torque": Column("momemt", "Nm")})
    with pytest.raises(InputError, match=r"no column 'momemt'\. Did you mean 'moment'\?"):
        read_pull(named, wrong)


def test_confidence_is_stated(store):
    sure = guess_mapping(store(plain()))
    assert sure.confidence > 0.9
    assert "confidence 0.9" in repr(sure)
    weak = store(["n,Nm", *rows(RPM, torque(RPM))], "weak.csv")
    assert guess_mapping(weak).confidence < 0.8
    with pytest.raises(InputError, match=r"that is below 0\.8.*\[columns\] of the session card"):
        read_pull(weak)
    assert read_pull(weak, take_guess=True).torque == pytest.approx(torque(RPM), rel=1e-3)


def test_lines_left_out_by_the_card(store):
    pull = read_pull(store([*plain()[:8], "2850,42O.5", *plain()[9:]]), leave_out=(9,))
    assert pull.rpm.size == RPM.size - 1
